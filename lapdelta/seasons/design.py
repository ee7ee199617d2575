"""What varied with what over a season, and which effects can therefore be told apart.

Only changes within a day count: from day to day everything else changes too. ``items`` are rows ``item,
values, sessions, days``; ``pairs`` rows ``one, other, correlation`` (on the days
on which both varied), ``events, separable`` and a ``sentence``.
"""

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from lapdelta.effect.arrays import Floats
from lapdelta.question.sheet import CONDITIONS
from lapdelta.seasons.days import EventDay

#: |correlation| within days from which two settings cannot, or can hardly, be told apart (VIF of 5: r^2 = .8).
SAME, HARDLY = 1 - 1e-9, math.sqrt(0.8)
#: Settings that are one and the same change.
_ONE = {
    "pressure_front_left_bar": "front pressure", "pressure_front_right_bar": "front pressure",
    "pressure_rear_left_bar": "rear pressure", "pressure_rear_right_bar": "rear pressure",
}  # fmt: skip


def design_table(days: Sequence[EventDay]) -> dict[str, Any]:
    """Items that varied within a day, and every pair of them."""
    columns = _columns(days)
    items = [_item_row(name, days) for name in columns]
    names = [*columns]
    pairs = [_pair(a, b, columns, days) for i, a in enumerate(names) for b in names[i + 1 :]]
    return {"items": items, "pairs": [pair for pair in pairs if pair is not None]}


def _said(item: str) -> str:
    return _ONE.get(item, item.removesuffix("_kg").removesuffix("_bar").replace("_", " "))


def _entry(day: EventDay, session: str) -> dict[str, Any]:
    entry = day.entries.get(session, {})
    return {_said(item): value for item, value in entry.items() if item not in CONDITIONS}


def _values(day: EventDay, name: str) -> list[Any]:
    return [
        _entry(day, session).get(name) if use else None
        for session, use in zip(day.day.sessions, day.used, strict=True)
    ]


def _columns(days: Sequence[EventDay]) -> dict[str, list[Floats]]:
    """By item that varied within a day: for every day its values minus their mean there, by session."""
    names = dict.fromkeys(name for day in days for s in day.day.sessions for name in _entry(day, s))
    found: dict[str, list[Floats]] = {}
    for name in names:
        blocks = [_centred(_values(day, name)) for day in days]
        if any(np.abs(block).max(initial=0.0) > 0 for block in blocks):
            found[name] = blocks
    return found


def _centred(values: list[Any]) -> Floats:
    """Numbers as they are, words as 0, 1, 2 in order of appearance; minus the day's mean; 0 where missing."""
    known = [value for value in values if value is not None]
    kinds = list(dict.fromkeys(known))
    numeric = all(isinstance(value, (int, float)) for value in known)
    numbers = [np.nan if v is None else float(v) if numeric else float(kinds.index(v)) for v in values]
    column = np.array(numbers, float)
    told = np.isfinite(column)
    middle = column[told].mean() if told.any() else 0.0
    return np.where(told, column - middle, 0.0)


def _item_row(name: str, days: Sequence[EventDay]) -> dict[str, Any]:
    by_day = {day.event: [value for value in _values(day, name) if value is not None] for day in days}
    everything = list(dict.fromkeys(value for values in by_day.values() for value in values))
    return {
        "item": name,
        "values": sorted(everything, key=lambda v: (isinstance(v, str), v)),
        "sessions": sum(map(len, by_day.values())),
        "days": [event for event, values in by_day.items() if len(set(values)) > 1],
    }


def _pair(
    one: str, other: str, columns: dict[str, list[Floats]], days: Sequence[EventDay]
) -> dict[str, Any] | None:
    """Two items; None where they never varied on the same day (then nothing confounds them)."""
    together = [
        day.event
        for day, a, b in zip(days, columns[one], columns[other], strict=True)
        if np.abs(a).max(initial=0.0) > 0 and np.abs(b).max(initial=0.0) > 0
    ]
    if not together:
        return None
    both = [i for i, day in enumerate(days) if day.event in together]
    a, b = (np.concatenate([columns[name][i] for i in both]) for name in (one, other))
    r = float(a @ b / math.sqrt(float(a @ a) * float(b @ b)))
    alone = {name: _days_alone(name, rest, columns, days) for name, rest in ((one, other), (other, one))}
    separable = abs(r) < HARDLY or all(alone.values())
    return {
        "one": one, "other": other, "correlation": r, "events": together, "separable": separable,
        "sentence": _sentence(one, other, together, alone, abs(r)),
    }  # fmt: skip


def _days_alone(
    name: str, rest: str, columns: dict[str, list[Floats]], days: Sequence[EventDay]
) -> list[str]:
    """Days on which ``name`` varied and ``rest`` did not."""
    return [
        day.event
        for day, a, b in zip(days, columns[name], columns[rest], strict=True)
        if np.abs(a).max(initial=0.0) > 0 and not np.abs(b).max(initial=0.0) > 0
    ]


def _sentence(one: str, other: str, together: list[str], alone: dict[str, list[str]], r: float) -> str:
    where = ", ".join(together)
    bound = [name for name, days in alone.items() if not days]
    if r < HARDLY or not bound:
        return f"{one} and {other} changed on the same day ({where}), but not always together: they can be told apart."
    way = "only together" if r >= SAME else "nearly always together"
    if len(bound) == 2:
        return f"{one} and {other} changed {way} ({where}): what each did cannot be told apart."
    free = other if bound[0] == one else one
    return (
        f"{bound[0]} changed only when {free} did ({where}); {free} also changed alone. "
        f"So {free} can be told, and {bound[0]} not by itself."
    )
