"""The events of a season as days: laps screened, what was fitted, and what cannot be used, with its reason."""

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

import numpy as np
import polars as pl

from lapdelta.effect.arrays import Bools, Floats
from lapdelta.effect.day import Day, Prepared, prepare
from lapdelta.effect.measures import Measure
from lapdelta.effect.season_cells import DayCells
from lapdelta.question.arrays import day_of, order_sessions
from lapdelta.question.sheet import Entry, entries_of, same_settings
from lapdelta.seasons.factor import Factor, in_words

#: What counts as an ordinary track; other states are compared only among themselves.
DRY = "dry"
#: Why a day says nothing of a sector that its file does not have.
SECTORS_MISSING = "sectors missing"
_LAP = Measure("lap_time", "s", 0.1, -1)


@dataclass(frozen=True)
class EventDay:
    """One event.

    Attributes:
        track: key of the circuit: name, layout and direction as far as written down.
        entries: what was fitted to our kart, by session.
        x: the factor by session; NaN where it was not written down.
        reasons: by session why our cell is not used; empty where it is.
        also: further factors, sessions by factors; NaN where not written down.
    """

    event: str
    track: str
    date: date | None
    day: Day
    prepared: Prepared
    entries: dict[str, Entry]
    x: Floats
    reasons: tuple[str, ...]
    also: Floats

    @property
    def pace(self) -> Floats:
        """Cells that may be compared, karts by sessions; NaN elsewhere."""
        return np.where(self.prepared.used, self.prepared.cells.pace, np.nan)

    @property
    def used(self) -> Bools:
        """Our sessions that say something about the response."""
        return np.array([not reason for reason in self.reasons], np.bool_)

    @property
    def our_pace_s(self) -> float:
        """Median of our clean lap over the sessions used, s; NaN without any."""
        pace = self.prepared.lap.pace[0]
        here = pace[self.used & np.isfinite(pace)] if self.used.any() else pace[np.isfinite(pace)]
        return float(np.median(here)) if len(here) else float("nan")

    def cells(self, factor: Factor, also: Sequence[Factor] = (), columns: Floats | None = None) -> DayCells:
        """The day for the fit; sessions that cannot be used are missing for our kart.

        ``also`` are factors that are no other settings of the day, ``columns`` (by session) what stands for them.
        """
        pace = self.pace
        pace[0, ~self.used] = np.nan
        x = np.where(self.used, np.nan_to_num(self.x), 0.0)
        private = other_settings(self.entries, self.day.sessions, self.used, factor, also)
        further = np.zeros((len(x), 0)) if columns is None else np.where(self.used[:, None], columns, 0.0)
        return DayCells(pace, self.prepared.cells.variance, x, private, self.day.design.time, further)

    def left_out(self) -> list[dict[str, Any]]:
        """Rows event, session, reason, laps for our sessions that are not used."""
        laps = self.day.cube.usable[0].sum(axis=-1)
        return [
            {"event": self.event, "session": session, "reason": reason, "laps": int(count)}
            for session, reason, count in zip(self.day.sessions, self.reasons, laps, strict=True)
            if reason
        ]


def other_settings(
    entries: dict[str, Entry],
    sessions: tuple[str, ...],
    used: Bools,
    factor: Factor,
    also: Sequence[Factor] = (),
) -> Floats:
    """Sessions by columns: 1 where our kart ran another setting than on most sessions of the day."""
    factors = (factor, *also)
    kinds: list[Entry] = []
    kind_of = np.full(len(sessions), -1)
    for s, session in enumerate(sessions):
        if not used[s]:
            continue
        entry = {
            item: v
            for item, v in entries.get(session, {}).items()
            if all(one.is_other(item) for one in factors)
        }
        known = next((i for i, kind in enumerate(kinds) if same_settings(kind, entry)), None)
        if known is None:
            kinds.append(entry)
            known = len(kinds) - 1
        kind_of[s] = known
    if len(kinds) < 2:
        return np.zeros((len(sessions), 0))
    most = int(np.argmax(np.bincount(kind_of[kind_of >= 0], minlength=len(kinds))))
    return np.stack([(kind_of == kind).astype(float) for kind in range(len(kinds)) if kind != most], axis=1)


def event_days(
    laps: pl.DataFrame,
    kart: str,
    setups: pl.DataFrame,
    tracks: dict[str, tuple[str, date | None]],
    measure: Measure,
    factor: Factor,
    executor: Executor | None,
    also: Sequence[Factor] = (),
) -> list[EventDay]:
    """All events in which our kart ran, by date; screening goes to the executor where one is given."""
    days: list[tuple[str, Day]] = []
    for key, here in laps.group_by("event", maintain_order=True):
        sessions = here.filter(pl.col("kart") == kart)["session"].unique(maintain_order=True).to_list()
        if sessions:
            order = order_sessions(here, kart, sessions)
            days.append((str(key[0]), day_of(here, kart, order, dict.fromkeys(sessions, 0))))
    work = [day for _, day in days], [measure] * len(days)
    prepared: list[Prepared] = list(executor.map(_prepare, *work) if executor else map(_prepare, *work))
    found: list[EventDay] = []
    for (event, day), ready in zip(days, prepared, strict=True):
        entries = entries_of(setups, event).get(kart, {})
        track, when = tracks.get(event, ("", None))
        values = _values(day, entries, factor)
        further = (
            np.stack([_values(day, entries, one) for one in also], axis=1)
            if also
            else np.zeros((len(values), 0))
        )
        told = [(factor.name, values), *((one.name, further[:, i]) for i, one in enumerate(also))]
        missing = bool(measure.sector) and not np.isfinite(ready.cells.pace).any()
        reasons = (SECTORS_MISSING,) * len(values) if missing else _reasons(day, ready, entries, told)
        found.append(EventDay(event, track, when, day, ready, entries, values, reasons, further))
    return sorted(found, key=lambda item: (item.date or date.max, item.event))


def _values(day: Day, entries: dict[str, Entry], factor: Factor) -> Floats:
    """The factor by session; NaN where it was not written down."""
    x = [factor.x_of(entries.get(session)) for session in day.sessions]
    return np.array([np.nan if value is None else value for value in x])


def _prepare(day: Day, measure: Measure) -> Prepared:
    """The day's paces; none where the measure is a sector that the day does not have."""
    if measure.sector <= day.cube.sectors_s.shape[-1]:
        ready = prepare(day, measure)
        if not measure.sector or ready.sector is not None:
            return ready
    ready = prepare(day, _LAP)
    return replace(ready, cells=replace(ready.cells, pace=np.full_like(ready.cells.pace, np.nan)))


def _reasons(
    day: Day, ready: Prepared, entries: dict[str, Entry], told: Sequence[tuple[str, Floats]]
) -> tuple[str, ...]:
    """Why each session of ours cannot be used; empty where it can."""
    pace, others = ready.cells.pace, np.isfinite(np.where(ready.used, ready.cells.pace, np.nan)[1:])
    found: list[str] = []
    for s, session in enumerate(day.sessions):
        state = str(entries.get(session, {}).get("track_state") or DRY).strip().casefold()
        if state != DRY:
            reason = f"track state: {state}"
        elif ready.state.left_out[s]:
            reason = "track state: more than 2 % off its neighbours"
        elif missing := [name for name, x in told if not np.isfinite(x[s])]:
            reason = f"{in_words(missing[0])} not written down"
        elif not np.isfinite(pace[0, s]):
            reason = "fewer than three usable laps"
        elif not others[:, s].any():
            reason = "no other kart to compare with"
        else:
            reason = ""
        found.append(reason)
    return tuple(found)
