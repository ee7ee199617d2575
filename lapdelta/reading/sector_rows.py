"""Rows with names under a column a lap: sectors, where another row is their sum in every lap."""

import re
from collections.abc import Sequence
from dataclasses import replace

from lapdelta.reading.formats import LAP_RANGE_S, SECTOR_RANGE_S, to_seconds
from lapdelta.reading.numbers import decimals
from lapdelta.reading.titles import kart_in
from lapdelta.reading.vocabulary import Heading, heading

#: What rounding adds at the most for each time, in units of its last digit.
_ROUNDING = 0.6
#: Times are printed to 0.001 s at the most that counts here.
_MOST_DECIMALS = 3
#: More sectors than any circuit has.
MOST_SECTORS = 12
_UNITS = ("s", "ms")
Cells = Sequence[str]


def lap_columns(header: Cells) -> list[int]:
    """Places of the columns that hold one lap each."""
    return [at for at, cell in enumerate(header) if heading(cell).meaning == "lap_n"]


def says_sector(header: Cells) -> bool:
    """Whether the first column is said to name sectors."""
    return bool(header) and heading(header[0]).meaning == "sector"


def names_of_rows(
    header: Cells, rows: Sequence[Cells], blocks: Sequence[object], sure: bool
) -> list[Heading]:
    """What each row measures: by the word in its first cell, else as a sector of the lap time below that it adds up to.

    ``blocks``: for each row what the titles above say of it; rows of several blocks have nothing to do with each other.
    ``sure``: the first column names sectors, so that their sum is the lap time whatever it is called.
    """
    names = [heading(cells[0]) if cells else Heading(None) for cells in rows]
    start = 0
    for at, name in enumerate(names):
        if at and blocks[at] != blocks[at - 1]:
            start = at
        if name.meaning not in ("lap", "lap_time") and not sure:
            continue
        parts = [place for place in range(start, at) if names[place].meaning in (None, "sector")]
        if count := sectors_above(header, [rows[place] for place in parts], rows[at]):
            names[at] = replace(name, meaning="lap_time")
            for number, place in enumerate(parts[-count:], 1):
                names[place] = replace(names[place], meaning=f"sector_{number}", number=number)
            start = at + 1
    return names


def sectors_above(header: Cells, above: Sequence[Cells], cells: Cells) -> int:
    """How many of the last rows above add up to these cells in every lap, to the last digit; 0 where none do.

    Rows of karts, drivers or sessions are no sectors.
    """
    columns = lap_columns(header)
    if len(columns) < 2 or heading(header[0]).meaning in ("kart", "driver", "session", "number"):
        return 0
    for count in range(2, min(len(above), MOST_SECTORS) + 1):
        parts = above[-count:]
        if not says_sector(header) and any(_names_kart(row[0]) for row in parts):
            return 0
        if any(_add_up(columns, parts, cells, unit) for unit in _UNITS):
            return count
    return 0


def _names_kart(text: str) -> bool:
    return bool(kart_in(text) or re.fullmatch(r"#?\d{1,4}[A-Za-z]?", text.strip()))


def _add_up(columns: Sequence[int], parts: Sequence[Cells], cells: Cells, unit: str) -> bool:
    """Whether all parts are sectors and make up the cells wherever all of them are filled, in two laps at the least."""
    laps = 0
    for at in columns:
        texts = [row[at] if at < len(row) else "" for row in (*parts, cells)]
        if not any(texts):
            continue
        *own, total = (to_seconds(text, unit) for text in texts)
        times = [time for time in own if time is not None]
        if total is None or len(times) < len(own) or not LAP_RANGE_S[0] <= total <= LAP_RANGE_S[1]:
            continue
        finest = (
            min(_MOST_DECIMALS, *(decimals(text) or 0 for text in texts)) if unit == "s" else _MOST_DECIMALS
        )
        slack = _ROUNDING * 10.0**-finest * len(texts)
        if min(times) < SECTOR_RANGE_S[0] or abs(sum(times) - total) > slack or finest == 0:
            return False
        laps += 1
    return laps > 1
