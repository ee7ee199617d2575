"""Every change of the setting, day by day, and the same change of several days put together."""

from collections.abc import Sequence
from dataclasses import fields, replace
from itertools import combinations
from typing import Any, TypeVar

import numpy as np

from lapdelta.effect.answer import Question, find_shift
from lapdelta.effect.arrays import Ints, LapCube
from lapdelta.effect.design import AFTER, BEFORE, Design
from lapdelta.effect.fairness import TrackState
from lapdelta.effect.measures import Measure, SectorCells
from lapdelta.effect.pace import Cells
from lapdelta.effect.season_pool import Pooled, leave_one_out, pool
from lapdelta.effect.shift import Shift
from lapdelta.effect.verdict import judge
from lapdelta.seasons.days import EventDay, other_settings
from lapdelta.seasons.factor import Factor
from lapdelta.seasons.response import Asked

_T = TypeVar("_T", LapCube, Cells, SectorCells)


def day_shifts(days: Sequence[EventDay], asked: Asked) -> list[dict[str, Any]]:
    """One row a day and pair of values run on it: the shift as ``compare`` finds it from that day alone."""
    return [row for day in days for row in _of_day(day, asked)]


def _of_day(day: EventDay, asked: Asked) -> list[dict[str, Any]]:
    values = [asked.factor.on_step(float(x)) if np.isfinite(x) else None for x in day.x]
    wet = [reason.startswith("track state: ") and "neighbours" not in reason for reason in day.reasons]
    usable = [None if out else value for value, out in zip(values, wet, strict=True)]
    order = list(dict.fromkeys(value for value in usable if value is not None))
    return [_row(day, usable, old, new, asked) for old, new in combinations(order, 2)]


def _row(day: EventDay, values: list[float | None], old: float, new: float, asked: Asked) -> dict[str, Any]:
    factor = asked.factor
    before, after = ([v == value for v in values] for value in (old, new))
    sessions = {side: _names(day, chosen) for side, chosen in (("before", before), ("after", after))}
    shift, bundle = _shift(day, values, (old, new), asked.measure, factor)
    judged = judge(shift, asked.measure, asked.margin, asked.confidence)
    told = shift.told
    return {
        "event": day.event,
        "track": day.track,
        "from": old,
        "to": new,
        **sessions,
        "estimate": shift.estimate if told else None,
        "standard_error": shift.standard_error if told else None,
        "low": judged.low,
        "high": judged.high,
        "dof": shift.dof if told else None,
        "verdict": judged.verdict,
        "reason": shift.reason or None,
        "route": shift.route,
        "bundle": bundle,
    }


def _names(day: EventDay, chosen: list[bool]) -> list[str]:
    return [session for session, use in zip(day.day.sessions, chosen, strict=True) if use]


def _shift(
    day: EventDay, values: list[float | None], pair: tuple[float, float], measure: Measure, factor: Factor
) -> tuple[Shift, bool]:
    """The day's own shift; sessions with other values or other settings are further levels."""
    levels, bundle = _levels(day, values, pair, factor)
    here = np.flatnonzero(levels >= 0)
    design = day.day.design
    part = replace(
        day.day,
        sessions=tuple(day.day.sessions[s] for s in here),
        design=Design(levels[here], design.time[here], design.position[here]),
        cube=_sessions(day.day.cube, here),
    )
    ready = day.prepared
    prepared = replace(ready, cells=_sessions(ready.cells, here), state=_state(ready.state, here))
    if ready.sector is not None:
        sector = replace(_sessions(ready.sector, here), lap=_sessions(ready.sector.lap, here))
        prepared = replace(prepared, sector=sector)
    question = Question(measure, measure.margin, 0.95, (), ())
    return find_shift(part, prepared, question), bundle


def _sessions(table: _T, here: Ints) -> _T:
    """Some sessions of a dataclass of arrays karts by sessions (by anything more)."""
    arrays = {item.name: getattr(table, item.name) for item in fields(table)}
    return replace(table, **{
        name: value[:, here] for name, value in arrays.items() if isinstance(value, np.ndarray)
    })  # fmt: skip


def _state(state: TrackState, here: Ints) -> TrackState:
    return TrackState(state.terms[here], state.left_out[here], state.doubtful[here])


def _levels(
    day: EventDay, values: list[float | None], pair: tuple[float, float], factor: Factor
) -> tuple[Ints, bool]:
    """0 before, 1 after, 2.. for further setups, -1 for sessions of which nothing is known.

    A session with the value asked about but other settings than the day's usual is a further setup,
    unless one of the two values ran with such settings only: then the answer is about the bundle.
    """
    known = np.array([value is not None for value in values])
    private = np.greater(other_settings(day.entries, day.day.sessions, known, factor).sum(axis=1), 0)
    level = np.full(len(values), -1, dtype=np.int64)
    numbers = {pair[0]: BEFORE, pair[1]: AFTER}
    for value in values:
        if value is not None:
            numbers.setdefault(value, len(numbers))
    for s, value in enumerate(values):
        if value is not None:
            level[s] = numbers[value]
    sides = [(level == side) & ~private for side in (BEFORE, AFTER)]
    if all(side.any() for side in sides):
        level[private & (level <= AFTER) & (level >= 0)] = len(numbers)
        return level, False
    return level, bool((private & (level >= 0) & (level <= AFTER)).any())


def pooled_changes(rows: Sequence[dict[str, Any]], asked: Asked) -> list[dict[str, Any]]:
    """Days of the same circuit and the same two values together; turned round where a day went the other way."""
    groups: dict[tuple[str, float, float], list[dict[str, Any]]] = {}
    for row in rows:
        key = (row["track"], row["from"], row["to"])
        turned = (row["track"], row["to"], row["from"])
        groups.setdefault(turned if turned in groups else key, []).append(row)
    return [_change(key, group, asked) for key, group in groups.items()]


def _change(key: tuple[str, float, float], rows: list[dict[str, Any]], asked: Asked) -> dict[str, Any]:
    told = [row for row in rows if row["estimate"] is not None and not row["bundle"]]
    values = [row["estimate"] * (1 if row["from"] == key[1] else -1) for row in told]
    errors, dofs = [row["standard_error"] for row in told], [row["dof"] for row in told]
    head: dict[str, Any] = {
        "track": key[0],
        "from": key[1],
        "to": key[2],
        "events": [row["event"] for row in told],
    }
    head["events_not_used"] = [row["event"] for row in rows if row not in told]
    if not told:
        return head | {"pooled": None, "leave_one_out": [], "verdict": "cannot be told"}
    pooled = pool(values, errors, dofs)
    without = leave_one_out(values, errors, dofs)
    return head | {
        "pooled": _pooled_row(pooled, asked),
        "verdict": _verdict(pooled, asked),
        "leave_one_out": [
            {"event": row["event"]} | _pooled_row(one, asked) for row, one in zip(told, without, strict=False)
        ],
    }


def _pooled_row(pooled: Pooled, asked: Asked) -> dict[str, Any]:
    low, high = pooled.interval(asked.confidence)
    return {
        "estimate": pooled.estimate,
        "standard_error": pooled.standard_error,
        "low": low,
        "high": high,
        "dof": pooled.dof,
        "days": pooled.days,
        "agreement_q": pooled.q,
        "agreement_dof": pooled.q_dof,
        "agreement_p": pooled.q_p,
        "between_days_sd": pooled.between_sd,
    }


def _verdict(pooled: Pooled, asked: Asked) -> str:
    shift = Shift("season", "", pooled.estimate, pooled.standard_error, pooled.dof)
    return judge(shift, asked.measure, asked.margin, asked.confidence).verdict
