"""Columns that add up to the lap time: its sectors where they are numbered, asked about where they only have names."""

import csv
import io
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

from lapdelta.reading.clock import looks_timed
from lapdelta.reading.columns import Column, any_unit, share, showing, texts_of
from lapdelta.reading.formats import LAP_RANGE_S, to_seconds
from lapdelta.reading.model import Question
from lapdelta.reading.numbers import decimals
from lapdelta.reading.recipe import NO_SECTORS, SECTOR_COLUMNS
from lapdelta.reading.structure import Table

#: Rows from the top by which it is judged whether columns with names are sectors.
JUDGED_ROWS = 100
#: Rows in which all times can be read, at the least, and the share of them in which they have to add up.
_FEWEST_ROWS, _MOST = 3, 0.9
#: The same where it is asked: to the last digit, even some rows are no chance, and the others may be misprints.
_FEWEST_TO_ASK, _MOST_TO_ASK = 2, 0.6
#: What rounding adds at the most for each time, in units of its last digit.
_ROUNDING = 0.6
#: Times are printed to 0.001 s at the most that counts here.
_MOST_DECIMALS = 3


def numbered_parts(table: Table, columns: list[Column]) -> list[Column]:
    """Unknown columns such as T1, T2, T3 that add up to the lap time are its sectors."""
    lap = next((column.index for column in columns if column.meaning == "lap_time"), None)
    if not table.header or lap is None or _has_sectors(columns):
        return columns
    unknown = [c.index for c in columns if c.meaning is None and not c.answered]
    parts = [at for at in unknown if share(texts_of(table, at), looks_timed) >= 0.8]
    numbered = [re.fullmatch(r"(.*?\D)(\d{1,2})", columns[at].header.strip()) for at in parts]
    found = [(match.group(1), int(match.group(2))) for match in numbered if match]
    if len(parts) < 2 or found != [
        (found[0][0] if found else "", number) for number in range(1, len(parts) + 1)
    ]:
        return columns
    if not adds_up([row.record.cells for row in table.rows], lap, parts):
        return columns
    return _as_sectors(columns, parts, "adds up to the lap time")


def columns_said(answers: Mapping[str, str]) -> list[str]:
    """Headers of the columns that an answer says are the sectors, in order; empty where none does."""
    said = answers.get(SECTOR_COLUMNS, NO_SECTORS)
    return [] if said == NO_SECTORS else [name.strip() for name in next(csv.reader([said], delimiter="|"))]


def said_parts(columns: list[Column], answers: Mapping[str, str]) -> list[Column]:
    """The columns that an answer names are the sectors, in its order; a table that lacks one of them is as before."""
    named = columns_said(answers)
    places = {column.header: column.index for column in columns}
    if not all(name in places for name in named):
        return columns
    parts = [places[name] for name in named]
    settled = _as_sectors(columns, parts, "as you said")
    return [replace(column, answered=True) if column.index in parts else column for column in settled]


def ask_parts(table: Table, columns: list[Column], answers: Mapping[str, str]) -> list[Question]:
    """Whether columns with names, which add up to the lap time to their last digit, are its sectors.

    One of them could be the difference to another by chance or on purpose, so they are never taken for sectors unasked.
    Where some columns say a sector and others only have names, it is asked about all of them.
    """
    lap = next((column for column in columns if column.meaning == "lap_time"), None)
    if not table.header or table.unknown or lap is None or SECTOR_COLUMNS in answers:
        return []
    judged = Table(table.header, rows=table.rows[:JUDGED_ROWS])
    known = {column.index for column in columns if (column.meaning or "").startswith("sector_")}
    free = [column for column in columns if column.meaning is None or column.index in known]
    timed = [
        column
        for column in free
        if not column.answered and share(texts_of(judged, column.index), looks_timed) >= 0.8
    ]
    for count in range(len(timed), max(1, len(known)), -1):
        for start in range(len(timed) - count + 1):
            parts = timed[start : start + count]
            places = [part.index for part in parts]
            if known <= set(places) and _to_the_digit(judged, lap.index, places):
                return [_question(judged, parts)]
    return []


def _question(table: Table, parts: Sequence[Column]) -> Question:
    listed = ", ".join(repr(part.header) for part in parts)
    text = f"The columns {listed} add up to the lap time; are they the sectors of the lap, in this order?"
    shown = showing(text, *((part, texts_of(table, part.index)) for part in parts[:3]))
    line = io.StringIO()
    csv.writer(line, delimiter="|", lineterminator="").writerow([part.header for part in parts])
    return Question(SECTOR_COLUMNS, shown, (line.getvalue(), NO_SECTORS))


def _has_sectors(columns: Sequence[Column]) -> bool:
    return any((column.meaning or "").startswith("sector") for column in columns)


def _as_sectors(columns: list[Column], parts: Sequence[int], note: str) -> list[Column]:
    settled = list(columns)
    for number, at in enumerate(parts, 1):
        settled[at] = replace(settled[at], meaning=f"sector_{number}", note=note)
    return settled


def adds_up(rows: list[tuple[str, ...]], total: int, parts: list[int]) -> bool:
    """Whether the times of these columns add up to that of another in nearly all rows."""
    hits = checked = 0
    for cells in rows:
        if max(total, *parts) >= len(cells):
            continue
        lap = any_unit(cells[total])
        own = [to_seconds(cells[at], "s") for at in parts]
        if lap is None or None in own:
            continue
        checked += 1
        hits += abs(sum(value for value in own if value is not None) - lap) < 0.002 * len(parts)
    return checked >= _FEWEST_ROWS and hits >= _MOST * checked


def _to_the_digit(table: Table, total: int, parts: Sequence[int]) -> bool:
    """Whether the times add up as far as they are printed, in one unit for all; whole seconds prove nothing."""
    rows = [row.record.cells for row in table.rows if max(total, *parts) < len(row.record.cells)]
    for unit in ("s", "ms", "day"):
        places = [_decimals(cells[at] for cells in rows) for at in (total, *parts)]
        finest = _MOST_DECIMALS if unit != "s" else min(places)
        slack = _ROUNDING * 10.0**-finest * (len(parts) + 1)
        missed = [
            abs(sum(own) - lap)
            for lap, *own in _readable(rows, (total, *parts), unit)
            if LAP_RANGE_S[0] <= lap <= LAP_RANGE_S[1]
        ]
        near = sum(1 for miss in missed if miss <= slack)
        if finest > 0 and near >= max(_FEWEST_TO_ASK, _MOST_TO_ASK * len(missed)):
            return True
    return False


def _decimals(texts: Iterable[str]) -> int:
    """The most decimals of a column, three at the most: a last zero may have been dropped."""
    return min(_MOST_DECIMALS, max((decimals(text) or 0 for text in texts if text), default=0))


def _readable(rows: Sequence[tuple[str, ...]], places: Sequence[int], unit: str) -> Iterator[list[float]]:
    """The times at these places of each row in which all of them can be read, in s."""
    for cells in rows:
        found = [to_seconds(cells[at], unit) for at in places]
        known = [value for value in found if value is not None]
        if len(known) == len(places):
            yield known
