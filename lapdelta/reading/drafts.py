"""Drafts: laps as text, one a lap, and the layout of a table that they come from."""

from dataclasses import dataclass

from lapdelta.reading.columns import Column
from lapdelta.reading.dialect import Record
from lapdelta.reading.minutes import joined
from lapdelta.reading.model import Question
from lapdelta.reading.refusals import Refusal
from lapdelta.reading.structure import Table


@dataclass(frozen=True)
class Draft:
    """A lap as text: meaning -> (cell, header of its column); and what titles said of it."""

    record: Record
    cells: dict[str, tuple[str, str]]
    context: dict[str, str]
    shape_fault: str | None = None


@dataclass(frozen=True)
class Layout:
    """The drafts of one table in file order, its columns, and the questions that keep its laps waiting.

    ``parts``: rows that give no lap by themselves but belong to those of another row (a row of sectors).
    ``refusal``: why no row gives a lap.
    """

    drafts: list[Draft]
    columns: list[Column]
    questions: list[Question]
    name: str
    parts: tuple[Record, ...] = ()
    refusal: Refusal | None = None


def long_draft(table: Table, row_at: int, columns: list[Column]) -> Draft:
    """The draft of a row that holds a lap, its cells by the meanings of the columns."""
    row = table.rows[row_at]
    given = row.record.cells
    cells = {
        column.meaning: (given[column.index], column.header)
        for column in columns
        if column.meaning
        and column.index < len(given)
        and column.meaning not in ("ignore", "time", "number", "sector")
    }
    fault = _shape_fault(given, columns, bool(table.header))
    return Draft(row.record, joined(cells), dict(row.context), fault)


def _shape_fault(given: tuple[str, ...], columns: list[Column], has_header: bool) -> str | None:
    if has_header and any(given[len(columns) :]):
        return "more cells than the header"
    short = columns[len(given) :]
    if any(column.meaning in ("lap_time", "lap", "kart", "session", "number") for column in short):
        return "fewer cells than the header"
    return "short" if any(column.meaning not in (None, "ignore") for column in short) else None
