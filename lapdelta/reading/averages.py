"""Last laps that are exactly the average of the laps above them: numbered on, they pass for laps, so it is said."""

import numpy as np
import polars as pl

from lapdelta.reading.unsaid import AVERAGE, FEWEST, made_of

#: By how much an average to 0.001 s, or to fewer decimals, may be rounded or cut, and what binary fractions add, s.
_NEAR_S, _NEAR_ROUND_S = 0.0011, 0.0102
#: Notes that are shown by line; further ones are counted.
_NOTES_SHOWN = 5


def average_notes(laps: pl.DataFrame) -> list[str]:
    """A note for the last lap of each run of a kart that is the average of the run's laps above it, to its last digit.

    By chance so is about one in 800 of such laps to 0.001 s, so none is set aside for it. ``laps``: canonical laps in
    the order of the file; rows of one session and kart that follow each other with rising numbers are a run.
    """
    found = [(end, count) for end, count in _near(laps) if _is_average(laps, end, count)]
    lines = laps.get_column("source_line")
    notes = [
        f"Line {lines[end]}: its time is exactly the average of the {count} laps above; it may be no lap."
        for end, count in found[:_NOTES_SHOWN]
    ]
    if len(found) > _NOTES_SHOWN:
        notes.append(
            f"{len(found) - _NOTES_SHOWN} more times are exactly the average of the laps above them."
        )
    return notes


def _near(laps: pl.DataFrame) -> list[tuple[int, int]]:
    """Row, and number of laps above it in its run, of last laps near the average of these."""
    if laps.height <= FEWEST:
        return []
    rises = (laps.get_column("lap").diff() > 0).fill_null(False)
    starts = ~rises.to_numpy()
    first = np.flatnonzero(starts)
    end = np.append(first[1:], laps.height) - 1
    seconds = laps.get_column("lap_time_s").to_numpy()
    sums = np.cumsum(seconds)
    above = end - first
    total = sums[end] - sums[first] + seconds[first] - seconds[end]
    last = seconds[end]
    slack = np.where(np.rint(last * 1000) % 10 == 0, _NEAR_ROUND_S, _NEAR_S)
    near = (above >= FEWEST) & (np.abs(last * above - total) <= slack * above)
    return [(int(at), int(count)) for at, count in zip(end[near], above[near], strict=True)]


def _is_average(laps: pl.DataFrame, end: int, count: int) -> bool:
    run = laps.slice(end - count, count + 1)
    last = run.row(count, named=True)
    alike = all(run.get_column(name).n_unique() == 1 for name in ("session", "kart"))
    if not alike or last["lap"] is None or last["marks"]:
        return False
    return made_of(last["lap_time_s"], run.get_column("lap_time_s").to_list()[:-1]) == AVERAGE
