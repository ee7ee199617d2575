"""How much sessions and laps scatter on a day, from the karts on which nothing was changed."""

from collections.abc import Sequence

import numpy as np
import polars as pl

from lapdelta.effect.arrays import Bools, Floats
from lapdelta.effect.day import Day, Prepared, prepare
from lapdelta.effect.measures import Measure, find_measure
from lapdelta.effect.power import LAP_FACTORS, MIDDLE_HALF_FACTOR, Noise, noise_from_paces
from lapdelta.errors import QuestionError
from lapdelta.question.arrays import day_of, order_sessions, sector_count
from lapdelta.question.asked import with_all_columns


def noise_of_the_day(
    laps: pl.DataFrame,
    kart: str | None,
    sessions: Sequence[str] | None,
    event: str | None,
    lap_factor: float,
) -> tuple[dict[str, Noise], int]:
    """Noise of every measure the day has, by name, and how many other karts there are to compare with.

    Args:
        laps: tables.LAPS or EVENT_LAPS.
        kart: ours, left out and used to find comparable karts; None takes all karts as they are.
        sessions: labels to learn from; None takes all.
        event: needed where ``laps`` holds several.
        lap_factor: c of the pace that is planned with, where the laps hold nothing sharper; paces from sectors or
            clocks are split with the c of their own, and the next such day will have them too.

    Raises:
        QuestionError: an unknown event, session or kart, or too little to learn from.
    """
    table = _chosen(with_all_columns(laps), sessions, event)
    known = table["kart"].drop_nulls().unique(maintain_order=True).to_list()
    if not known or (kart is not None and kart not in known):
        raise QuestionError(
            f"There is no kart {kart} in these laps." if known else "There are no laps to learn from.",
            f"The karts are {', '.join(map(str, known[:12]))}." if known else "Import a timing file first.",
            "kart",
        )
    reference = known[0] if kart is None else kart
    labels = table["session"].drop_nulls().unique(maintain_order=True).to_list()
    day = day_of(table, reference, order_sessions(table, reference, labels), dict.fromkeys(labels, 0))
    names = ["lap_time", *(f"sector_{n + 1}" for n in range(sector_count(table))), "top_speed", "peak_rpm"]
    found: dict[str, Noise] = {}
    karts = 0
    for name in names:
        measure = find_measure(name, sector_count(table))
        if measure is None:
            continue
        ready = prepare(day, measure)
        rows = ready.comparable.copy() if kart is not None else np.ones(len(day.karts), np.bool_)
        rows[0] = kart is None
        paces = np.where(~ready.state.left_out[None, :], ready.cells.pace, np.nan)[rows]
        if name == "lap_time":
            karts = int(np.isfinite(paces).any(axis=1).sum()) - (kart is None)
            found[name] = _noise(measure, day, ready, paces, rows, lap_factor)
        elif np.isfinite(paces).any(axis=1).sum() >= 2 and (not measure.sector or ready.sector is not None):
            found[name] = _noise(measure, day, ready, paces, rows, lap_factor)
    return found, karts


def _chosen(laps: pl.DataFrame, sessions: Sequence[str] | None, event: str | None) -> pl.DataFrame:
    """Laps of the event and the sessions asked for."""
    if "event" in laps.columns:
        events = laps["event"].drop_nulls().unique(maintain_order=True).to_list()
        if event is None and len(events) > 1:
            raise QuestionError("These laps are of several events.", "Name the event to learn from.", "event")
        if event is not None:
            if event not in events:
                known = ", ".join(events[:12])
                raise QuestionError(f"There is no event {event}.", f"The events are {known}.", "event")
            laps = laps.filter(pl.col("event") == event)
    if sessions is None:
        return laps
    known = laps["session"].drop_nulls().unique(maintain_order=True).to_list()
    for session in sessions:
        if session not in known:
            there = ", ".join(known[:12])
            raise QuestionError(f"There is no session {session}.", f"The sessions are {there}.", "sessions")
    return laps.filter(pl.col("session").is_in(list(sessions)))


def _noise(
    measure: Measure, day: Day, ready: Prepared, paces: Floats, rows: Bools, lap_factor: float
) -> Noise:
    """Split of the scatter of paces; laps count without the out lap, slow ones included."""
    usable = day.cube.usable.sum(axis=-1)[rows][np.isfinite(paces)]
    if measure.unit != "s":
        information = (ready.cells.variance * ready.cells.laps)[rows]
        lap_sd = float(np.sqrt(np.nanmean(information) / MIDDLE_HALF_FACTOR))
        return noise_from_paces(paces, lap_sd, _laps(usable), MIDDLE_HALF_FACTOR)
    values = day.cube.sectors_s[..., measure.sector - 1] if measure.sector else ready.screened.time_s
    factor = lap_factor if ready.sharp is None else LAP_FACTORS[ready.sharp.source]
    return noise_from_paces(paces, _scatter(values[rows], ready.screened.kept[rows]), _laps(usable), factor)


def _laps(usable: np.ndarray) -> float:
    return float(usable.mean()) if usable.size else 1.0


def _scatter(values: Floats, kept: Bools) -> float:
    """Root mean square of kept laps about the mean of their cell, s."""
    used = kept & np.isfinite(values)
    count = used.sum(axis=-1, keepdims=True)
    filled = np.where(used, values, 0.0)
    away = np.where(used, values - filled.sum(axis=-1, keepdims=True) / np.maximum(count, 1), 0.0)
    dof = int(used.sum() - (count > 0).sum())
    return float(np.sqrt((away**2).sum() / dof)) if dof > 0 else 0.0
