"""Tables to arrays: the laps of a question as a cube, the sessions in their order."""

import hashlib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl

from lapdelta.effect.arrays import (
    IN_LAP,
    INVALID,
    NO_TIME,
    OUT_LAP,
    PIT_LAP,
    REPEAT,
    Floats,
    Ints,
    LapCube,
    number_runs,
)
from lapdelta.effect.day import Day
from lapdelta.effect.design import Design
from lapdelta.effect.steps import OtherSteps

_MARK_REASONS = (("invalid", INVALID), ("in", IN_LAP), ("pit", PIT_LAP), ("out", OUT_LAP))


@dataclass(frozen=True)
class Order:
    """Sessions in the order of the day.

    Attributes:
        basis: clock, labels or file: what the order was taken from.
        time: hours if by clock, else the session's place.
        position: place among all sessions of our kart in the event.
    """

    sessions: tuple[str, ...]
    basis: str
    time: tuple[float, ...]
    position: tuple[int, ...]


def sector_count(laps: pl.DataFrame) -> int:
    """Most sectors that any lap has."""
    longest = laps["sector_times_s"].list.len().max() if "sector_times_s" in laps.columns else None
    return int(longest) if isinstance(longest, int) else 0


def order_sessions(laps: pl.DataFrame, kart: str, used: Sequence[str]) -> Order:
    """Order by the mean clock of our laps if all have one, else by the labels' number, else as listed."""
    mine = laps.filter((pl.col("kart") == kart) | pl.col("session").is_in(used))
    first_seen = mine["session"].unique(maintain_order=True).to_list()
    hours = _mean_hours(mine, kart)
    sessions, basis = _sorted(list(used), first_seen, hours)
    everything, basis_of_all = _sorted(first_seen, first_seen, hours)
    place = everything if basis_of_all == basis else sessions
    position = tuple(place.index(session) for session in sessions)
    time = (
        tuple(hours[session] for session in sessions)
        if basis == "clock"
        else tuple(float(p) for p in position)
    )
    return Order(tuple(sessions), basis, time, position)


def _mean_hours(mine: pl.DataFrame, kart: str) -> dict[str, float]:
    """Mean time of our laps by session, h (of all karts where ours has none); without clock no entry."""
    clock = pl.col("clock").cast(pl.Int64) / 3.6e12
    if mine["date"].null_count() == 0 and mine.height:
        clock = clock + 24.0 * (pl.col("date") - pl.col("date").min()).dt.total_days()
    line = ["session", "kart", "lap", "lap_time_s", "hour"]
    by_session = (
        mine.with_columns(hour=clock)
        .unique(line, maintain_order=True)  # a repeated line counts once
        .select("session", "hour", ours=pl.col("kart") == kart)
        .group_by("session")
        .agg(ours=pl.col("hour").filter(pl.col("ours")).mean(), others=pl.col("hour").mean())
    )
    rows = by_session.iter_rows()
    found = ((session, others if ours is None else ours) for session, ours, others in rows)
    return {session: hour for session, hour in found if hour is not None}


def _sorted(sessions: list[str], first_seen: list[str], hours: Mapping[str, float]) -> tuple[list[str], str]:
    if all(session in hours for session in sessions):
        return sorted(sessions, key=lambda session: (hours[session], first_seen.index(session))), "clock"
    numbers = _numbers(sessions)
    if numbers is not None:
        return sorted(sessions, key=lambda session: numbers[session]), "labels"
    return sorted(sessions, key=first_seen.index), "file"


def _numbers(labels: Sequence[str]) -> dict[str, int] | None:
    """The one number in which labels differ; None if they differ in anything else."""
    parts = [re.split(r"(\d+)", label) for label in labels]
    if len({len(part) for part in parts}) != 1:
        return None
    varying = [i for i in range(len(parts[0])) if len({part[i] for part in parts}) > 1]
    if not varying:
        return dict.fromkeys(labels, 0)
    if len(varying) != 1 or varying[0] % 2 == 0:
        return None
    return {label: int(part[varying[0]]) for label, part in zip(labels, parts, strict=True)}


def day_of(laps: pl.DataFrame, kart: str, order: Order, levels: Mapping[str, int]) -> Day:
    """Those sessions as a day, our kart first; ``levels`` by session (0 before, 1 after, 2.. others)."""
    here = laps.filter(pl.col("session").is_in(order.sessions) & pl.col("kart").is_not_null())
    seen = here["kart"].unique(maintain_order=True).to_list()
    karts = (kart, *(name for name in seen if name != kart))
    design = Design(
        np.array([levels[session] for session in order.sessions], dtype=np.int64),
        np.array(order.time, dtype=float),
        np.array(order.position, dtype=np.int64),
    )
    return Day(karts, order.sessions, cube_of(here, karts, order.sessions), design, order.basis == "clock")


def split_karts(laps: pl.DataFrame, splits: Mapping[tuple[str, str], str]) -> pl.DataFrame:
    """The laps with other karts renamed where they count as new karts; ``splits`` by (kart, session)."""
    label = pl.col("kart")
    for (kart, session), new in splits.items():
        label = (
            pl.when((pl.col("kart") == kart) & (pl.col("session") == session))
            .then(pl.lit(new))
            .otherwise(label)
        )
    return laps.with_columns(kart=label) if splits else laps


def cube_of(laps: pl.DataFrame, karts: Sequence[str], sessions: Sequence[str]) -> LapCube:
    """Laps as a padded cube karts by sessions by laps, in the table's order."""
    k = _codes(laps, "kart", karts)
    s = _codes(laps, "session", sessions)
    place, longest = _place_in_cell(k * len(sessions) + s, len(karts) * len(sessions))
    shape = (len(karts), len(sessions), longest)

    def spread(values: Floats) -> Floats:
        cube = np.full(shape, np.nan)
        cube[k, s, place] = values
        return cube

    exists = np.zeros(shape, np.bool_)
    exists[k, s, place] = True
    clock = _clock_s(laps)
    time_s, clock_s = spread(_numbers_of(laps, "lap_time_s")), spread(clock)
    position, repeat = number_runs(spread(_numbers_of(laps, "lap")), time_s, clock_s, exists)
    reason = np.zeros(shape, np.int64)
    reason[position == 1] = OUT_LAP
    reason[k, s, place] = np.maximum(reason[k, s, place], _marked(laps))
    with np.errstate(invalid="ignore"):
        reason[exists & ~(np.isfinite(time_s) & (time_s > 0))] = NO_TIME
    reason[repeat] = REPEAT
    width = sector_count(laps)
    columns = [spread(_list_item(laps, i)) for i in range(width)]
    sectors = np.stack(columns, axis=-1) if columns else np.empty((*shape, 0))
    speed, rpm = spread(_numbers_of(laps, "top_speed_kmh")), spread(_numbers_of(laps, "peak_rpm"))
    common = spread(_common_clock(laps, clock)) if np.isfinite(clock).any() else None
    return LapCube(time_s, exists, reason, position, sectors, speed, rpm, common)


def _common_clock(laps: pl.DataFrame, clock_s: Floats) -> Floats:
    """Clocks of the sessions whose laps are all from one file, s; NaN in others: two files, two clocks."""
    files = pl.col("source_file").n_unique().over("session")
    return np.where(laps.select(files == 1).to_series().to_numpy(), clock_s, np.nan)


def _codes(laps: pl.DataFrame, column: str, names: Sequence[str]) -> Ints:
    codes = laps[column].replace_strict(list(names), list(range(len(names))), return_dtype=pl.Int64)
    return codes.to_numpy().astype(np.int64)


def _place_in_cell(cell: Ints, cells: int) -> tuple[Ints, int]:
    """Place of each lap in its cell, in table order, and the size of the largest cell."""
    order = np.argsort(cell, kind="stable")
    counts = np.bincount(cell, minlength=cells)
    starts = np.concatenate([[0], np.cumsum(counts)[:-1]])
    place = np.empty(len(cell), np.int64)
    place[order] = np.arange(len(cell)) - np.repeat(starts, counts)
    return place, int(counts.max(initial=0))


def _numbers_of(laps: pl.DataFrame, column: str) -> Floats:
    return laps[column].cast(pl.Float64).fill_null(float("nan")).to_numpy().astype(float)


def _clock_s(laps: pl.DataFrame) -> Floats:
    return (laps["clock"].cast(pl.Int64) / 1e9).fill_null(float("nan")).to_numpy().astype(float)


def _list_item(laps: pl.DataFrame, index: int) -> Floats:
    item = laps["sector_times_s"].list.get(index, null_on_oob=True)
    return item.cast(pl.Float64).fill_null(float("nan")).to_numpy().astype(float)


def _marked(laps: pl.DataFrame) -> Ints:
    """Reason code of each lap that the file marks; 0 for the rest."""
    reason = np.zeros(laps.height, np.int64)
    marks = laps["marks"]
    if marks.null_count() == laps.height or not marks.list.len().max():
        return reason
    for mark, code in _MARK_REASONS:
        reason[marks.list.contains(mark).fill_null(value=False).to_numpy()] = code
    return reason


def fingerprint(day: Day, steps: OtherSteps | None = None) -> str:
    """SHA-256 over the laps of the question: labels, times, positions, sectors, speeds, clocks, order of sessions.

    Other steps of the day, where the answer rests on them, are part of it.
    """
    digest = hashlib.sha256()
    digest.update("\0".join((*day.karts, "", *day.sessions)).encode())
    cube = day.cube
    for values in (
        cube.time_s,
        cube.position,
        cube.reason,
        cube.sectors_s,
        cube.top_speed_kmh,
        cube.peak_rpm,
    ):
        digest.update(np.ascontiguousarray(values).tobytes())
    if cube.clock_s is not None:
        digest.update(np.ascontiguousarray(cube.clock_s).tobytes())  # traffic is seen by them
    digest.update(day.design.time.tobytes())
    digest.update(day.design.level.tobytes())
    if steps is not None:
        digest.update(np.ascontiguousarray(steps.difference).tobytes())
    return digest.hexdigest()
