"""Further factors beside the one asked about: what each is worth with that one held, or why it cannot be told.

A setting (a pressure, a weight) has an effect of its own on our kart: one column. The weather acts on all karts,
and what it does to all of them is taken out with the sessions; what is left is how it moves the worth of a step of
the factor asked about: its product with that factor.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from lapdelta.effect.arrays import Floats
from lapdelta.effect.distributions import t_quantile
from lapdelta.effect.season_fit import ResponseFit
from lapdelta.question.sheet import CONDITIONS
from lapdelta.seasons.days import EventDay
from lapdelta.seasons.factor import Factor, in_words

#: Weather differs mostly from day to day, as much else does: from fewer days nothing is said of it.
MIN_DAYS_FOR_WEATHER = 4


@dataclass(frozen=True)
class Further:
    """Columns of further factors: (factor, whether the product) of each, whether it varied in a day; by day."""

    kinds: tuple[tuple[Factor, bool], ...]
    varied: tuple[bool, ...]
    columns: tuple[Floats, ...]


def further_columns(days: Sequence[EventDay], also: Sequence[Factor]) -> Further:
    """Columns by day, sessions by columns."""
    kinds = [(one, _is_condition(one)) for one in also]
    if not days or not kinds:
        return Further((), (), tuple(np.zeros((len(day.x), 0)) for day in days))
    x_middle = float(np.concatenate([day.x[day.used] for day in days]).mean())
    middles = [
        float(np.concatenate([day.also[day.used, i] for day in days]).mean()) for i in range(len(also))
    ]
    place = {one.name: i for i, one in enumerate(also)}

    def columns(day: EventDay) -> Floats:
        away = day.also - np.array(middles)
        parts = [
            away[:, place[one.name]] * ((day.x - x_middle) if product else 1.0) for one, product in kinds
        ]
        return np.nan_to_num(np.stack(parts, axis=1))

    found = tuple(columns(day) for day in days)
    used = [part[day.used] for part, day in zip(found, days, strict=True)]
    varied = [
        any(len(part) and np.ptp(part[:, i]) > 0 for part in used)
        and not (product and len(days) < MIN_DAYS_FOR_WEATHER)
        for i, (_, product) in enumerate(kinds)
    ]
    found = tuple(np.where(varied, part, 0.0) for part in found)
    return Further(tuple(kinds), tuple(varied), found)


def _is_condition(factor: Factor) -> bool:
    return all(item in CONDITIONS for item in factor.items)


def further_rows(
    further: Further, fit: ResponseFit, asked: Factor, confidence: float, reference: float
) -> list[dict[str, Any]]:
    """Rows ``factor unit step moves_worth estimate standard_error low high reason``.

    A row without ``moves_worth`` is what one step more of the factor does; a row with it is what one step more of
    the factor (5 °C, say) does to the worth of one step of the factor asked about, at its ``reference`` value.
    """
    rows: list[dict[str, Any]] = []
    t = float(t_quantile(fit.dof, (1 + confidence) / 2))
    step_x = asked.x_at(reference + asked.step) - asked.x_at(reference)
    for (factor, product), varied, found in zip(further.kinds, further.varied, fit.also, strict=True):
        head: dict[str, Any] = {
            "factor": factor.name, "unit": factor.unit, "step": factor.step, "moves_worth": product,
        }  # fmt: skip
        if found is None:
            nothing = dict.fromkeys(("estimate", "standard_error", "low", "high"))
            rows.append(head | nothing | {"reason": _why(factor, product, asked, varied)})
            continue
        size = factor.step * (step_x if product else 1.0)
        estimate, error = found[0] * size, abs(found[1] * size)
        ends = {"low": estimate - t * error, "high": estimate + t * error}
        rows.append(head | {"estimate": estimate, "standard_error": error} | ends | {"reason": None})
    return rows


def _why(factor: Factor, product: bool, asked: Factor, varied: bool) -> str:
    name, other = in_words(factor.name), in_words(asked.name)
    if product:
        return f"it takes {other} varied on at least {MIN_DAYS_FOR_WEATHER} days of different {name}"
    if not varied:
        return f"{name} never varied within a day"
    return f"{name} never varied apart from {other} or the day's other changes"
