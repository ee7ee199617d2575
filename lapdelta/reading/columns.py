"""One column of a table: what it is, the cells it holds, and how a question shows it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from lapdelta.reading.formats import LAP_RANGE_S, to_seconds
from lapdelta.reading.structure import Table

#: Values of a column that a question shows, and the length of one.
_VALUES_SHOWN = 3
_LONGEST_VALUE = 24


@dataclass(frozen=True)
class Column:
    """One column: position, header as printed (made unique), meaning (None: unknown), unit, language, note.

    A column without a header goes by its place, counted from 1.
    """

    index: int
    header: str
    meaning: str | None
    unit: str | None = None
    language: str | None = None
    note: str = ""
    answered: bool = False


def showing(question: str, *columns: tuple[Column, Sequence[str]]) -> str:
    """A question with the place, the header and some values of each column that it is about."""
    told: list[str] = []
    for column, texts in columns:
        values = list(dict.fromkeys(text[:_LONGEST_VALUE] for text in texts if text))[:_VALUES_SHOWN]
        name = "without a header" if column.header == str(column.index + 1) else repr(column.header)
        holds = "; ".join(values) if values else "nothing"
        told.append(f"Column {column.index + 1}, {name}, holds {holds}.")
    return " ".join([question, *told])


def texts_of(table: Table, index: int) -> list[str]:
    """The filled cells of a column."""
    return [
        row.record.cells[index]
        for row in table.rows
        if index < len(row.record.cells) and row.record.cells[index]
    ]


def share(texts: Sequence[str], holds: Callable[[str], bool]) -> float:
    """Share of the texts that something holds for; 0 where there are none."""
    return sum(1 for text in texts if holds(text)) / len(texts) if texts else 0.0


def any_unit(text: str) -> float | None:
    """The lap time in s that a cell holds under the first unit that makes it one; None where none does."""
    for unit in ("s", "ms", "day"):
        value = to_seconds(text, unit)
        if value is not None and LAP_RANGE_S[0] <= value <= LAP_RANGE_S[1]:
            return value
    return None
