"""Repeatability on other days, from neighbouring sessions in which nothing was changed: ours and the others'."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import polars as pl

from lapdelta.effect.arrays import Bools, Floats
from lapdelta.effect.day import Day, Prepared, prepare
from lapdelta.effect.measures import Measure, find_measure
from lapdelta.effect.power import LAP_FACTORS, MIDDLE_HALF_FACTOR, Noise, split_noise
from lapdelta.effect.season_repeat import Repeatability, Steps, repeatability, steps_of
from lapdelta.question.arrays import day_of, order_sessions, sector_count
from lapdelta.question.asked import with_all_columns
from lapdelta.question.sheet import Entry, entries_of, same_settings

DRY = "dry"


@dataclass(frozen=True)
class OtherDays:
    """What other days tell.

    Attributes:
        events: of which any neighbours without a change could be used.
        ours, others: noise; None where nothing tells.
        our_scatter, their_scatter: the same as repeatabilities, with intervals.
    """

    events: tuple[str, ...]
    ours: Noise | None
    others: Noise | None
    our_scatter: Repeatability | None
    their_scatter: Repeatability | None

    def to_dict(self) -> dict[str, Any]:
        """Plain values: ``events``, ``ours`` and ``others`` as repeatabilities or None."""
        mine, theirs = self.our_scatter, self.their_scatter
        return {
            "events": list(self.events),
            "ours": asdict(mine) if mine else None,
            "others": asdict(theirs) if theirs else None,
        }


@dataclass(frozen=True)
class _Found:
    """Neighbours of some karts of one day, and how their laps scatter: square sum, df, usable laps of a session."""

    steps: tuple[Steps, ...]
    lap_squares: float
    lap_dof: float
    laps: float
    factor: float


def other_days(
    laps: pl.DataFrame,
    kart: str | None,
    setups: pl.DataFrame | None,
    measure_name: str,
    event: str | None = None,
    confidence: float = 0.95,
) -> OtherDays:
    """Repeatability from all neighbours without a change, wet sessions left out.

    Args:
        laps: tables.EVENT_LAPS (without ``event`` every date is a day of its own).
        kart: ours, under one number on all days; None counts all karts as others.
        setups: the setup sheet; of our kart only neighbours with the same entry count.
        measure_name: as for ``plan_test``.
        event: the day that is planned, left out here.
        confidence: of the intervals.
    """
    table = with_all_columns(laps)
    if "event" not in table.columns:
        table = table.with_columns(event=pl.col("date").cast(pl.String).fill_null("all laps"))
    if event is not None:
        table = table.filter(pl.col("event") != event)
    measure = find_measure(measure_name, sector_count(table) or 1)
    if measure is None:
        return OtherDays((), None, None, None, None)  # the other days do not have what the day has
    mine: list[_Found] = []
    theirs: list[_Found] = []
    used: list[str] = []
    for key, here in table.group_by("event", maintain_order=True):
        found = _of_day(here, str(key[0]), kart, setups, measure)
        if found is None:
            continue
        used.append(str(key[0]))
        mine.append(found[0])
        theirs.append(found[1])
    ours, others = _scatter(mine, confidence), _scatter(theirs, confidence)
    return OtherDays(tuple(used), _noise(mine, ours), _noise(theirs, others), ours, others)


def _of_day(
    laps: pl.DataFrame, event: str, kart: str | None, setups: pl.DataFrame | None, measure: Measure
) -> tuple[_Found, _Found] | None:
    """(our kart, the other karts); None where no neighbours without a change can be used."""
    known = laps["kart"].drop_nulls().unique(maintain_order=True).to_list()
    present = kart in known
    reference = kart if kart is not None and present else _busiest(laps)
    if reference is None or measure.sector > sector_count(laps):
        return None
    labels = laps["session"].drop_nulls().unique(maintain_order=True).to_list()
    day = day_of(laps, reference, order_sessions(laps, reference, labels), dict.fromkeys(labels, 0))
    ready = prepare(day, measure)
    if measure.sector and ready.sector is None:
        return None
    entries = entries_of(setups, event) if setups is not None else None
    dry = _dry(day.sessions, entries)
    pace: Floats = np.where(ready.used & dry[None, :], ready.cells.pace, np.nan)
    lap_part, spread, factor = _lap_parts(day, ready, measure)
    found: list[_Found] = []
    rows = [[0], [*range(1, len(day.karts))]] if present else [[], [*range(len(day.karts))]]
    for chosen in rows:
        steps = [
            steps_of(
                pace, lap_part, row, _unchanged(day.karts[row], day.sessions, entries, row == 0 and present)
            )
            for row in chosen
        ]
        found.append(_counted(day, steps, chosen, pace, spread, factor))
    return (found[0], found[1]) if any(one.steps for one in found) else None


def _busiest(laps: pl.DataFrame) -> str | None:
    """The kart with most sessions, to hold the others against."""
    seen = laps.drop_nulls("kart").group_by("kart", maintain_order=True).agg(pl.col("session").n_unique())
    if seen.is_empty():
        return None
    return seen.sort("session", descending=True, maintain_order=True)["kart"][0]


def _dry(sessions: Sequence[str], entries: dict[str, dict[str, Entry]] | None) -> Bools:
    """Sessions that no entry calls anything but dry."""
    states = [
        {
            str(kart.get(session, {}).get("track_state") or DRY).strip().casefold()
            for kart in (entries or {}).values()
        }
        for session in sessions
    ]
    return np.array([state <= {DRY} for state in states], np.bool_)


def _unchanged(
    kart: str, sessions: Sequence[str], entries: dict[str, dict[str, Entry]] | None, ours: bool
) -> Bools:
    """By pair of neighbours: of our kart the sheet must say so, another of which nothing is written counts."""
    mine = (entries or {}).get(kart)
    unknown = entries is None or not (ours or mine is not None)

    def same(one: str, other: str) -> bool:
        if mine is None:
            return unknown
        return one in mine and other in mine and same_settings(mine[one], mine[other])

    return np.array([same(one, other) for one, other in pairwise(sessions)], np.bool_)


def _lap_parts(day: Day, ready: Prepared, measure: Measure) -> tuple[Floats, tuple[Floats, Floats], float]:
    """(lap-noise variance of every cell, (squares, df) of clean laps by cell, c)."""
    count = np.maximum(day.cube.usable.sum(axis=-1), 1)
    if measure.unit != "s":
        variance = ready.cells.variance * ready.cells.laps / MIDDLE_HALF_FACTOR
        dof = np.where(np.isfinite(variance), np.maximum(ready.cells.laps - 1, 0), 0).astype(float)
        squares: Floats = np.where(np.isfinite(variance), variance, 0.0) * dof
        factor = MIDDLE_HALF_FACTOR
    else:
        values = day.cube.sectors_s[..., measure.sector - 1] if measure.sector else ready.screened.time_s
        kept = ready.screened.kept & np.isfinite(values)
        filled = np.where(kept, values, 0.0)
        n = kept.sum(axis=-1)
        middle = filled.sum(axis=-1) / np.maximum(n, 1)
        squares = (np.where(kept, values - middle[..., None], 0.0) ** 2).sum(axis=-1)
        dof = np.maximum(n - 1, 0).astype(float)
        factor = LAP_FACTORS["laps" if ready.sharp is None else ready.sharp.source]
    whole = float(squares.sum() / max(dof.sum(), 1.0))
    own = squares.sum(axis=1) / np.maximum(dof.sum(axis=1), 1.0)
    by_kart = np.where(dof.sum(axis=1) >= 1, own, whole)
    return factor * by_kart[:, None] / count, (squares, dof), factor


def _counted(
    day: Day,
    steps: Sequence[Steps],
    rows: Sequence[int],
    pace: Floats,
    spread: tuple[Floats, Floats],
    factor: float,
) -> _Found:
    told = [row for row, step in zip(rows, steps, strict=True) if step.values]
    here = np.isfinite(pace[told])
    usable = day.cube.usable.sum(axis=-1)[told][here]
    squares, dof = (part[told][here] for part in spread)
    laps = float(usable.mean()) if usable.size else 0.0
    return _Found(
        tuple(step for step in steps if step.values), float(squares.sum()), float(dof.sum()), laps, factor
    )


def _scatter(days: Sequence[_Found], confidence: float) -> Repeatability | None:
    return repeatability([step for day in days for step in day.steps], confidence)


def _noise(days: Sequence[_Found], scatter: Repeatability | None) -> Noise | None:
    """The scatter split into a session part and a lap part, at the usual number of laps of these days."""
    told = [day for day in days if day.steps]
    if scatter is None or scatter.session_sd <= 0:
        return None
    lap_sd = float(np.sqrt(sum(day.lap_squares for day in told) / max(sum(day.lap_dof for day in told), 1.0)))
    weights = [len(day.steps) for day in told]
    laps = float(np.average([day.laps for day in told], weights=weights))
    factor = float(np.average([day.factor for day in told], weights=weights))
    return split_noise(scatter.session_sd**2, lap_sd, laps, factor, "taken from other days", scatter.dof)
