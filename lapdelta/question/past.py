"""The history of our kart: neighbour differences on other days, in the measure asked about."""

from collections.abc import Sequence

import numpy as np
import polars as pl

from lapdelta.effect.day import Day, prepare
from lapdelta.effect.history import Differences, History, from_days, from_numbers, neighbour_differences
from lapdelta.effect.measures import Measure
from lapdelta.errors import QuestionError
from lapdelta.question.arrays import day_of, order_sessions, sector_count
from lapdelta.question.asked import Asked
from lapdelta.question.sheet import Entry, entries_of, same_settings
from lapdelta.question.table import with_all_columns


def history_of(
    history: pl.DataFrame | Sequence[float], asked: Asked, measure: Measure, setups: pl.DataFrame | None
) -> History:
    """History from laps of other days, or from given neighbour differences in the measure's unit.

    With a setup sheet only neighbours with the same entry count; without one all do, which can only make
    the history's scale too large. For a sector only days count with as many sectors that add up to the lap.
    """
    if not isinstance(history, pl.DataFrame):
        values = [float(value) for value in history]
        if not all(np.isfinite(values)):
            raise QuestionError("The history holds a value that is not a number.", "Leave it out.", "history")
        return from_numbers(values)
    laps = with_all_columns(history)
    sectors = sector_count(asked.laps)
    days = [
        _day_differences(day, event, asked.kart, measure, sectors, setups)
        for event, day in _days(laps, asked)
    ]
    return from_days(days)


def _days(laps: pl.DataFrame, asked: Asked) -> list[tuple[str | None, pl.DataFrame]]:
    """Other days, by event where the table has events, else by date; the question's own day is left out."""
    if "event" in laps.columns:
        other = laps.filter(pl.col("event") != asked.event) if asked.event is not None else laps
        return [(str(key[0]), day) for key, day in other.group_by("event", maintain_order=True)]
    own = asked.laps["date"].drop_nulls().unique()
    other = laps.filter(~pl.col("date").is_in(own.implode())) if len(own) else laps
    return [(None, day) for _, day in other.group_by("date", maintain_order=True)]


def _day_differences(
    laps: pl.DataFrame,
    event: str | None,
    kart: str,
    measure: Measure,
    sectors: int,
    setups: pl.DataFrame | None,
) -> Differences:
    sessions = laps.filter(pl.col("kart") == kart)["session"].unique(maintain_order=True).to_list()
    if len(sessions) < 2:
        return Differences()
    order = order_sessions(laps, kart, sessions)
    day: Day = day_of(laps, kart, order, dict.fromkeys(sessions, 0))
    if measure.sector and day.cube.sectors_s.shape[-1] != sectors:
        return Differences()  # another cut of the lap: its sector of that number is another piece of road
    prepared = prepare(day, measure)
    if measure.sector and prepared.sector is None:
        return Differences()
    pace = np.where(prepared.used, prepared.cells.pace, np.nan)
    entries = entries_of(setups, event).get(kart, {}) if setups is not None else None
    pairs = zip(order.sessions, order.sessions[1:], strict=False)
    same = np.array([_unchanged(entries, one, other) for one, other in pairs], dtype=np.bool_)
    return neighbour_differences(pace, same)


def _unchanged(entries: dict[str, Entry] | None, one: str, other: str) -> bool:
    if entries is None:
        return True
    return one in entries and other in entries and same_settings(entries[one], entries[other])
