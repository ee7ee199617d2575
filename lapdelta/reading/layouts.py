"""Tables of every layout to drafts: one draft a lap, its cells still text. Add a layout by adding a function here."""

import re
from collections.abc import Mapping
from dataclasses import dataclass

from lapdelta.reading.dialect import Record
from lapdelta.reading.grouping import group_questions
from lapdelta.reading.mapping import Column, map_columns
from lapdelta.reading.model import Question
from lapdelta.reading.structure import Table, is_wide
from lapdelta.reading.titles import kart_in
from lapdelta.reading.vocabulary import heading

_CODE = re.compile(r"#?(\d{1,4}[A-Za-z]?|NA)")
_CODE_AND_NAME = re.compile(r"#?(\d{1,4}[A-Za-z]?)[\s.:–-]+([^\W\d].*)")
_NAME_AND_CODE = re.compile(r"([^\W\d].*?)\s*[(\[]#?(\d{1,4}[A-Za-z]?)[)\]]")


@dataclass(frozen=True)
class Draft:
    """A lap as text: meaning -> (cell, header of its column); and what titles said of it."""

    record: Record
    cells: dict[str, tuple[str, str]]
    context: dict[str, str]
    shape_fault: str | None = None


@dataclass(frozen=True)
class Layout:
    """The drafts of one table in file order, its columns, and the questions that keep its laps waiting."""

    drafts: list[Draft]
    columns: list[Column]
    questions: list[Question]
    name: str


def lay_out(table: Table, answers: Mapping[str, str]) -> Layout:
    """Find the layout of a table and take it apart."""
    if sum(1 for cell in table.header if heading(cell).meaning == "lap_n") >= 2:
        return _across(table, answers)
    if table.header and is_wide(table.header, [row.record for row in table.rows[:5]]):
        return _wide(table, answers)
    columns, questions = map_columns(table, answers)
    if not questions:
        questions = group_questions(table, columns, "kart" in answers)
    drafts = [_long(table, row_at, columns) for row_at in range(len(table.rows))]
    return Layout(drafts, columns, questions, "a row a lap")


def _long(table: Table, row_at: int, columns: list[Column]) -> Draft:
    row = table.rows[row_at]
    given = row.record.cells
    cells = {
        column.meaning: (given[column.index], column.header)
        for column in columns
        if column.meaning
        and column.index < len(given)
        and column.meaning not in ("ignore", "time", "number", "sector")
    }
    return Draft(row.record, cells, dict(row.context), _shape_fault(given, columns, bool(table.header)))


def _shape_fault(given: tuple[str, ...], columns: list[Column], has_header: bool) -> str | None:
    if has_header and any(given[len(columns) :]):
        return "more cells than the header"
    short = columns[len(given) :]
    if any(column.meaning in ("lap_time", "lap", "kart", "session", "number") for column in short):
        return "fewer cells than the header"
    return "short" if any(column.meaning not in (None, "ignore") for column in short) else None


def kart_of_header(header: str) -> tuple[str, str] | None:
    """(kart, driver or empty) that the header of a column a kart names; None for a bare name."""
    text = header.strip()
    if match := _CODE.fullmatch(text):
        return match.group(1), ""
    if match := _CODE_AND_NAME.fullmatch(text):
        return match.group(1), match.group(2).strip()
    if match := _NAME_AND_CODE.fullmatch(text):
        found = kart_in(match.group(1))
        return (found[0], match.group(2)) if found else (match.group(2), match.group(1).strip())
    return kart_in(text)


def _wide(table: Table, answers: Mapping[str, str]) -> Layout:
    """A column a kart: the first column counts the laps."""
    columns = [Column(0, table.header[0] or "1", "lap", language=heading(table.header[0]).language)]
    questions: list[Question] = []
    karts: dict[int, tuple[str, str]] = {}
    for at, header in enumerate(table.header[1:], 1):
        if not header:
            continue
        answer = answers.get(f"column:{header}")
        named = kart_of_header(header) or ((header, "") if answer == "kart" else None)
        if answer == "ignore":
            columns.append(Column(at, header, "ignore", note="as you said", answered=True))
        elif named is None:
            columns.append(Column(at, header, None))
            text = f"The column {header!r} holds lap times but no kart number; is that the kart's name?"
            questions.append(Question(f"column:{header}", text, ("kart", "ignore")))
        elif named[0] in [kart for kart, _ in karts.values()]:
            columns.append(Column(at, f"{header} #{at}", None))
            text = f"Two columns are for kart {named[0]!r}; what is column {at + 1}?"
            questions.append(Question(f"column:{header} #{at}", text, ("ignore",)))
        else:
            unit = heading(table.units[at]).unit if at < len(table.units) else None
            columns.append(Column(at, header, "lap_time", unit, note=f"lap times of kart {named[0]}"))
            karts[at] = named
    drafts = [
        _melt(row.record, dict(row.context), at, kart, table)
        for row in table.rows
        for at, kart in karts.items()
    ]
    return Layout(_without_gaps(drafts), columns, questions, "a column a kart")


def _melt(record: Record, context: dict[str, str], at: int, kart: tuple[str, str], table: Table) -> Draft:
    lap = record.cells[0] if record.cells else ""
    time = record.cells[at] if at < len(record.cells) else ""
    cells = {
        "lap": (lap, table.header[0] or "1"),
        "lap_time": (time, table.header[at]),
        "kart": (kart[0], table.header[at]),
    }
    if kart[1]:
        cells["driver"] = (kart[1], table.header[at])
    fault = "more cells than the header" if any(record.cells[len(table.header) :]) else None
    return Draft(record, cells, context, fault)


def _without_gaps(drafts: list[Draft]) -> list[Draft]:
    """Drafts without the blank cells of a column a kart, save where a row would have none left."""
    filled = {draft.record.line for draft in drafts if draft.cells["lap_time"][0]}
    return [draft for draft in drafts if draft.cells["lap_time"][0] or draft.record.line not in filled]


def _across(table: Table, answers: Mapping[str, str]) -> Layout:
    """A row a kart, a column a lap."""
    columns, questions = map_columns(table, answers)
    laps = {
        column.index: heading(table.header[column.index]).number
        for column in columns
        if column.meaning == "lap_n"
    }
    questions = [
        question
        for question in questions
        if question.key.startswith("column:") and "lap_time_s" not in question.options
    ]
    drafts: list[Draft] = []
    for row_at, row in enumerate(table.rows):
        base = _long(
            table,
            row_at,
            [column for column in columns if column.meaning not in ("lap_n", "lap_time", "lap")],
        )
        fault = "more cells than the header" if any(row.record.cells[len(table.header) :]) else None
        for at, number in laps.items():
            time = row.record.cells[at] if at < len(row.record.cells) else ""
            header = table.header[at]
            cells = {**base.cells, "lap": (str(number), header), "lap_time": (time, header)}
            drafts.append(Draft(row.record, cells, base.context, fault))
    return Layout(_without_gaps(drafts), columns, questions, "a row a kart")
