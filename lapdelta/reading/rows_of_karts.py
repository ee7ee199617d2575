"""Without a header: rows that begin with a kart and go on with its laps."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

from lapdelta.reading.clock import looks_timed
from lapdelta.reading.columns import any_unit
from lapdelta.reading.refusals import NO_HEADER, Refusal
from lapdelta.reading.structure import Row, Table
from lapdelta.reading.titles import kart_in
from lapdelta.reading.vocabulary import heading, is_no_time

#: Fewer times in a row could be the sectors of one lap.
_FEWEST_LAPS = 4
_NAMED = re.compile(r"([^:=]*[^\W\d_][^:=]*)[:=]\s*(\d.*)")


def rows_of_karts(table: Table, answers: Mapping[str, str]) -> Table | Refusal | None:
    """The table with a header of its own where each row is a kart's; None where the rows are something else.

    Refused where the rows are named but not after karts, or could hold the sectors of one lap each.
    """
    if table.header or any(key.startswith("column:") for key in answers) or len(table.rows) < 2:
        return None
    rows = [_apart(row.record.cells) for row in table.rows]
    if not all(_is_one(cells) for cells in rows):
        return None
    karts = [_kart(cells[0]) for cells in rows]
    most = max(sum(1 for cell in cells[1:] if cell) for cells in rows)
    if not all(karts) or len(set(karts)) < len(karts) or most < _FEWEST_LAPS:
        return NO_HEADER
    width = max(len(cells) for cells in rows)
    named = [
        Row(replace(row.record, cells=(f"Kart {kart}", *cells[1:])), row.context)
        for row, kart, cells in zip(table.rows, karts, rows, strict=True)
    ]
    return Table(("", *(f"Lap {lap}" for lap in range(1, width))), rows=named)


def _apart(cells: Sequence[str]) -> tuple[str, ...]:
    """The cells, a first one such as ``Kart 7: 52.1`` as two."""
    named = _NAMED.fullmatch(cells[0]) if cells else None
    return (named.group(1).strip(), named.group(2), *cells[1:]) if named else tuple(cells)


def _is_one(cells: Sequence[str]) -> bool:
    """Whether a row is a name and at least two laps of about the same length."""
    if not cells or not (re.search(r"[^\W\d_]", cells[0]) or kart_in(cells[0])):
        return False
    filled = [cell for cell in cells[1:] if cell]
    if (
        heading(cells[0]).meaning is not None
        or looks_timed(cells[0])
        or len(filled) < 2
        or not all(looks_timed(c) or is_no_time(c) for c in filled)
    ):
        return False
    times = [time for cell in filled if (time := any_unit(cell)) is not None]
    return len(times) > 1 and max(times) < 2 * sorted(times)[len(times) // 2]


def _kart(name: str) -> str:
    """The kart that a name says, a word for laps before it or not; empty where it says none."""
    first, _, rest = name.partition(" ")
    found = kart_in(name) or (kart_in(rest) if heading(first).meaning == "lap" else None)
    return found[0] if found else ""
