"""Tables of every layout to drafts: one draft a lap, its cells still text. Add a layout by adding a function here."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import replace

from lapdelta.reading.columns import Column, showing, texts_of
from lapdelta.reading.dialect import Record
from lapdelta.reading.drafts import Draft, Layout, long_draft
from lapdelta.reading.grouping import group_questions
from lapdelta.reading.mapping import map_columns
from lapdelta.reading.model import Question
from lapdelta.reading.refusals import NOT_TOLD_APART, SECTORS_ONLY, Refusal
from lapdelta.reading.row_kinds import is_beside_karts, is_summary_row, is_wide, names_karts_only
from lapdelta.reading.rows_of_karts import rows_of_karts
from lapdelta.reading.sector_lines import row_a_sector
from lapdelta.reading.sector_rows import names_of_rows, says_sector
from lapdelta.reading.side_by_side import parts_of
from lapdelta.reading.structure import DOUBT, Row, Table
from lapdelta.reading.titles import kart_in, numbers_a_session, session_in
from lapdelta.reading.unsaid import SUM
from lapdelta.reading.vocabulary import Heading, heading

#: Name of a layout.
_BESIDE = "tables side by side"
_MEASURE = re.compile(r"lap_time|sector_\d+|top_speed|peak_rpm|clock")
_CODE = re.compile(r"#?(\d{1,4}[A-Za-z]?|NA)")
_CODE_AND_NAME = re.compile(r"#?(\d{1,4}[A-Za-z]?)[\s.:–-]+([^\W\d].*)")
#: A session in German, a corner in English.
_TURN = re.compile(r"turn\b", re.IGNORECASE)
_NAME_AND_CODE = re.compile(r"([^\W\d].*?)\s*[(\[]#?(\d{1,4}[A-Za-z]?)[)\]]")


def lay_out(table: Table, answers: Mapping[str, str], has_kart: bool) -> Layout:
    """Find the layout of a table and take it apart; ``has_kart``: an answer or the file's name says the kart."""
    parts = parts_of(table)
    if isinstance(parts, Refusal):
        return Layout([], map_columns(table, answers)[0], [], _BESIDE, refusal=parts)
    if parts:
        return _beside(parts, answers, has_kart)
    if sum(1 for cell in table.header if heading(cell).meaning == "lap_n") >= 2:
        return _measures(table, answers) or _across(table, answers)
    if table.header and names_karts_only(table.header):
        return _without_lap_numbers(table, answers, has_kart)
    wide = table.header and is_wide(table.header, [row.record for row in table.rows[:5]])
    if wide and not _is_lap_time(table, answers, has_kart):
        return _wide(table, answers, has_kart)
    columns, questions = map_columns(table, answers)
    karts = None if any(column.meaning == "lap_time" for column in columns) else rows_of_karts(table, answers)
    if isinstance(karts, Refusal):
        return Layout([], columns, [], "a row a kart", refusal=karts)
    if karts:
        return _across(karts, answers)
    if layout := row_a_sector(table, columns, answers):
        return layout
    if not questions:
        questions = group_questions(table, columns, has_kart)
    drafts = [long_draft(table, row_at, columns) for row_at in range(len(table.rows))]
    return Layout(drafts, columns, questions, "a row a lap")


def _is_lap_time(table: Table, answers: Mapping[str, str], has_kart: bool) -> bool:
    """Whether the only column behind the laps names no kart but is the lap time: so answered, or the kart is told."""
    named = _named_columns(table)
    header = next(iter(named.values()), "")
    if len(named) != 1 or kart_of_header(header) or session_in(header):
        return False
    told = has_kart or all(any(key == "kart" for key, _ in row.context) for row in table.rows)
    answer = answers.get(f"column:{header}")
    return answer == "lap_time_s" or (told and answer != "kart")


def _without_lap_numbers(table: Table, answers: Mapping[str, str], has_kart: bool) -> Layout:
    """A column a kart and none that counts the laps: each row below a header is the next lap."""
    rows: list[Row] = []
    for row in table.rows:
        lap = 1 if not rows or rows[-1].context != row.context else int(rows[-1].record.cells[0]) + 1
        rows.append(replace(row, record=replace(row.record, cells=(str(lap), *row.record.cells))))
    layout = _wide(Table(("", *table.header), rows=rows), answers, has_kart)
    columns = [replace(column, index=column.index - 1) for column in layout.columns[1:]]
    for draft in layout.drafts:
        draft.cells["lap"] = (draft.cells["lap"][0], "")  # no header: counted, not printed
    return replace(layout, columns=columns)


def _beside(parts: list[tuple[Table, list[int]]], answers: Mapping[str, str], has_kart: bool) -> Layout:
    """Tables side by side; a column with the same header in several is shown, and asked about, once."""
    columns: dict[str, Column] = {}
    questions: dict[str, Question] = {}
    drafts: list[Draft] = []
    refusal: Refusal | None = None
    for table, places in parts:
        layout = lay_out(table, answers, has_kart)
        refusal = refusal or layout.refusal
        drafts += layout.drafts
        for question in layout.questions:
            questions.setdefault(question.key, question)
        for column in layout.columns:
            columns.setdefault(column.header, replace(column, index=places[column.index]))
    drafts.sort(key=lambda draft: draft.record.line)
    return Layout(drafts, list(columns.values()), list(questions.values()), _BESIDE, refusal=refusal)


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


def _wide(table: Table, answers: Mapping[str, str], has_kart: bool) -> Layout:
    """A column a kart, or a column a session of one kart: the first column counts the laps."""
    columns = [Column(0, table.header[0] or "1", "lap", language=heading(table.header[0]).language)]
    questions: list[Question] = []
    karts: dict[int, tuple[str, str]] = {}
    sessions = _sessions_of_columns(table, answers, has_kart)
    for at, header in _named_columns(table).items():
        answer = answers.get(f"column:{header}")
        named = kart_of_header(table.header[at]) or ((header, "") if answer == "kart" else None)
        unit = heading(table.units[at]).unit if at < len(table.units) else None
        if answer == "ignore":
            columns.append(Column(at, header, "ignore", note="as you said", answered=True))
        elif at in sessions:
            columns.append(Column(at, header, "lap_time", unit, note=f"lap times of session {sessions[at]}"))
        elif named is None:
            columns.append(Column(at, header, None))
            questions.append(_what_is_beside(table, columns[-1], answers))
        elif named[0] in [kart for kart, _ in karts.values()]:
            columns.append(Column(at, header, None))
            text = f"Two columns are for kart {named[0]!r}; what is column {at + 1}?"
            questions.append(Question(f"column:{header}", text, ("ignore",)))
        else:
            columns.append(Column(at, header, "lap_time", unit, note=f"lap times of kart {named[0]}"))
            karts[at] = named
    drafts: list[Draft] = []
    for row in table.rows:
        for at, kart in (karts or dict.fromkeys(sessions, ("", ""))).items():
            drafts.append(_melt(row.record, dict(row.context), at, kart, table))
            if at in sessions:
                drafts[-1].cells["session"] = (sessions[at], table.header[at])
                del drafts[-1].cells["kart"]
    return Layout(_without_gaps(drafts), columns, questions, "a column a kart")


def _named_columns(table: Table) -> dict[int, str]:
    """Place and header of the columns behind the laps that have one; a header said again is numbered."""
    named = {at: header for at, header in enumerate(table.header) if at and header}
    return {
        at: f"{header} #{table.header[: at + 1].count(header)}" if header in table.header[1:at] else header
        for at, header in named.items()
    }


def _what_is_beside(table: Table, column: Column, answers: Mapping[str, str]) -> Question:
    """What a column beside those of the karts holds: its header names no kart for sure.

    It is no session where another column is a kart's: then each column would have to say both.
    """
    karts = any(
        kart_of_header(table.header[at]) or answers.get(f"column:{header}") == "kart"
        for at, header in _named_columns(table).items()
    )
    header, options = column.header, ("kart", "ignore")
    if is_beside_karts(table.header[column.index]):
        text = f"The column {header!r} stands among lap times and is none of a kart; leave it out?"
        options = ("ignore",)
    elif session_in(header) and not karts:
        text = f"The column {header!r} holds lap times; is that the name of a session or of a kart?"
        options = ("session", *options)
    else:
        text = f"The column {header!r} holds lap times but no kart number; is that the kart's name?"
        options = options if len(_named_columns(table)) > 1 else ("kart", "lap_time_s", "ignore")
    shown = showing(text, (column, texts_of(table, column.index)))
    return Question(f"column:{header}", shown, options)


def _sessions_of_columns(table: Table, answers: Mapping[str, str], has_kart: bool) -> dict[int, str]:
    """The session of each column where every one has its own, and no column a kart's number.

    A code such as P1 could be a kart's, too: it is a session where the kart is told, or an answer says so.
    """
    told = has_kart or any(key == "kart" for row in table.rows for key, _ in row.context)
    corners = "de" not in (heading(table.header[0]).language or "")
    found: dict[int, str] = {}
    columns = {
        at: header
        for at, header in _named_columns(table).items()
        if not is_beside_karts(table.header[at]) and answers.get(f"column:{header}") != "ignore"
    }
    for at, header in columns.items():
        label = None if kart_of_header(table.header[at]) else session_in(table.header[at])
        answer = answers.get(f"column:{header}")
        sure = (told or numbers_a_session(header)) and not (corners and _TURN.match(header))
        if answer == "session" or (label and answer is None and sure):
            found[at] = header if answer else str(label)
    return found if len(set(found.values())) == len(columns) else {}


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


def _karts_of_rows(table: Table, columns: list[Column]) -> dict[int, tuple[str, str]]:
    """Kart and driver of each row where the first column, without a known header, names a kart nearly throughout."""
    if columns[0].meaning is not None or any(column.meaning == "kart" for column in columns):
        return {}
    named = [kart_of_header(row.record.cells[0]) if row.record.cells else None for row in table.rows]
    filled = sum(1 for row in table.rows if len(row.record.filled) > 1)
    if sum(1 for found in named if found) < max(2, 0.8 * filled):
        return {}
    return {at: found or ("", "") for at, found in enumerate(named)}


def _measures(table: Table, answers: Mapping[str, str]) -> Layout | None:
    """A column a lap and a row a measure (lap time, sector 1, ...); None where the first cells name none."""
    laps = {
        at: found.number
        for at, cell in enumerate(table.header)
        if (found := heading(cell)).meaning == "lap_n"
    }
    sure = says_sector(table.header) or answers.get(f"column:{table.header[0] or '1'}") == "sector"
    rows = [row.record.cells for row in table.rows]
    names = names_of_rows(table.header, rows, [_told(row) for row in table.rows], sure)
    if not any(name.meaning == "lap_time" for name in names):
        return None
    measured = [name.meaning is not None and bool(_MEASURE.fullmatch(name.meaning)) for name in names]
    columns: dict[str, Column] = {}
    drafts: list[Draft] = []
    for start, end in _blocks(table, names):
        rows = {str(names[at].meaning): table.rows[at] for at in range(start, end) if measured[at]}
        if "lap_time" not in rows:
            continue
        for meaning, row in rows.items():
            printed = row.record.cells[0]
            found = heading(printed)
            column = Column(len(columns), printed, meaning, found.unit, found.language)
            if found.meaning != meaning:
                note = "its sectors add up to it" if meaning == "lap_time" else "adds up to the lap time"
                column = replace(column, note=note)
            columns.setdefault(meaning, column)
        own = rows["lap_time"]
        for at, number in laps.items():
            cells = {
                m: (r.record.cells[at], r.record.cells[0])
                for m, r in rows.items()
                if at < len(r.record.cells)
            }
            if cells.get("lap_time", ("", ""))[0]:
                cells["lap"] = (str(number), table.header[at])
                drafts.append(Draft(own.record, cells, dict(own.context)))
    gave = {draft.record.line for draft in drafts}
    parts = [row.record for row, is_one in zip(table.rows, measured, strict=True) if is_one]
    kept = tuple(record for record in parts if record.line not in gave)
    return Layout(drafts, list(columns.values()), [], "a row a measure", kept)


def _told(row: Row) -> list[tuple[str, str]]:
    return [pair for pair in row.context if pair[0] != DOUBT]


def _blocks(table: Table, names: list[Heading]) -> Iterator[tuple[int, int]]:
    """Stretches of rows that measure the same laps: until a title says something new, or a measure comes again."""
    start = 0
    for at in range(1, len(names) + 1):
        again = at < len(names) and any(
            names[at].meaning == names[above].meaning for above in range(start, at)
        )
        if at == len(names) or again or _told(table.rows[at]) != _told(table.rows[start]):
            yield start, at
            start = at


def _repeat_laps(table: Table, columns: list[Column]) -> bool:
    """Whether several rows stand for the same laps, and no column tells the kart, driver or session of each."""
    if any(column.meaning in ("kart", "driver", "session", "date", "clock") for column in columns):
        return False
    told = [tuple(_told(row)) for row in table.rows if len(row.record.filled) > 1]
    return len(set(told)) < len(told)


def _not_told_apart(table: Table, columns: list[Column]) -> Layout:
    """Rows for the same laps: sectors without their sum give none, else it is asked what the first column names."""
    first = columns[0]
    if first.meaning == "sector":
        return Layout([], columns, [], "a row a kart", refusal=SECTORS_ONLY)
    if first.answered:
        return Layout([], columns, [], "a row a kart", refusal=NOT_TOLD_APART)
    text = f"Several rows are for the same laps; what does the column {first.header!r} name?"
    text = showing(text, (first, texts_of(table, 0)))
    question = Question(f"column:{first.header}", text, ("kart", "driver", "session", "sector", "ignore"))
    return Layout([], columns, [question], "a row a kart")


def _across(table: Table, answers: Mapping[str, str]) -> Layout:
    """A row a kart, a column a lap."""
    columns, questions = map_columns(table, answers)
    karts = _karts_of_rows(table, columns)
    if not karts and _repeat_laps(table, columns):
        return _not_told_apart(table, columns)
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
        base = long_draft(
            table,
            row_at,
            [column for column in columns if column.meaning not in ("lap_n", "lap_time", "lap")],
        )
        if named := karts.get(row_at):
            base.cells["kart"] = (named[0], columns[0].header)
            base.cells.update({"driver": (named[1], columns[0].header)} if named[1] else {})
        fault = "more cells than the header" if any(row.record.cells[len(table.header) :]) else None
        fault = SUM if columns[0].answered and is_summary_row(row.record.cells, table.header) else fault
        for at, number in laps.items():
            time = row.record.cells[at] if at < len(row.record.cells) else ""
            header = table.header[at]
            cells = {**base.cells, "lap": (str(number), header), "lap_time": (time, header)}
            drafts.append(Draft(row.record, cells, base.context, fault))
    return Layout(_without_gaps(drafts), columns, questions, "a row a kart")
