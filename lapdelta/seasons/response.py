"""The response of one circuit as plain rows: curve, best value, worth of a step, what to try next.

Keys of the dict a circuit:
    reference: the value that others are held against, see ``_reference``
    state: found, beyond, one side, flat, cannot be told (``side`` -1 fewer, +1 more, 0 neither)
    best, best_low, best_high: values of the factor; None where open or not known
    curve: rows value, estimate, low, high, band_low, band_high, tried, inside; against ``reference``.
        low..high holds for one value, the band for all at once (Scheffe 1953)
    worth: rows value, next, estimate, standard_error, low, high, inside: one step more from value, and from the
        reference where that lies between two steps.
        Without a curve one row only, from the lowest to the highest value tried: a step in between is not known
    candidates: rows value, tried, curve_width, best_width (after one more day over now), estimate, low, high,
        chance_better, chance_worthwhile, inside; ``teaches_most`` and ``best_chance`` are values out of them
    points: rows event, session, value, y, laps: our sessions, adjusted, on the scale of the curve
    fits: by degree the coefficients in z = (x - centre)/scale, or why there are none
    also: rows of further factors, see ``also.further_rows``
    leave_one_out: rows event, state, side, best, best_low, best_high, worth (as a row of ``worth`` from the
        reference, None if that cannot be told), turns: the answer without that day is another one
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from lapdelta.effect.arrays import Bools, Floats
from lapdelta.effect.contrast import session_terms
from lapdelta.effect.distributions import f_quantile
from lapdelta.effect.measures import Measure
from lapdelta.effect.season_cells import DayCells
from lapdelta.effect.season_fit import ResponseFit, basis, fit_response
from lapdelta.effect.season_response import (
    Best,
    Candidate,
    any_effect_p,
    best_value,
    difference,
    next_values,
)
from lapdelta.seasons.also import Further, further_columns, further_rows
from lapdelta.seasons.days import EventDay, other_settings
from lapdelta.seasons.factor import Factor
from lapdelta.seasons.next_step import next_steps
from lapdelta.seasons.tracks import Circuit

#: The curve goes so many steps beyond what was tried, with so many points a step.
BEYOND, POINTS = 2, 4
#: To be tried next: at most so many steps beyond, for further out the curve is only a belief.
NEXT = 1
#: How far the worth of a step may differ from day to day (scale of its prior), as a share of the usual margin:
#: days whose best differs by half a tooth then have intervals that hold, and equal days lose little.
DAYS_DIFFER = 0.25
#: Fewer days are not left out one by one.
MIN_DAYS_TO_LEAVE_OUT = 3
#: No curve has more points than this, however far apart the values lie.
MOST_POINTS = 400


@dataclass(frozen=True)
class Asked:
    """What is asked of every circuit."""

    measure: Measure
    factor: Factor
    margin: float
    confidence: float
    also: tuple[Factor, ...] = ()


def track_response(circuit: Circuit, asked: Asked) -> tuple[dict[str, Any], ResponseFit | None]:
    """The circuit as a dict, and the fit behind it."""
    days = [day for day in circuit.days if day.used.any()]
    row: dict[str, Any] = {
        "track": circuit.track,
        "events": [day.event for day in days],
        "sessions": sum(int(day.used.sum()) for day in days),
        "values": _values(days, asked.factor),
        "reference": None,
    }
    if not days:
        return row | _untold("no session of this circuit can be used"), None
    further = further_columns(days, asked.also)
    cells = [
        day.cells(asked.factor, asked.also, part) for day, part in zip(days, further.columns, strict=True)
    ]
    tried = sorted({float(x) for day in days for x in day.x[day.used]})
    differ = _slope_sd(tried, asked)
    fits = {degree: fit_response(cells, degree, differ) for degree in (1, 2)}
    row["fits"] = {_NAMES[degree]: _fit_row(fit) for degree, fit in fits.items()}
    fit = fits[2] if not isinstance(fits[2], str) else fits[1]
    if isinstance(fit, str):
        return row | _untold(fit), None
    x_ref = _reference(days, fit, tried, asked)
    reference = row["reference"] = asked.factor.on_step(x_ref)
    best = best_value(fit, tried, asked.confidence, asked.margin, asked.measure.verdict_sign)
    row |= _best_row(best, asked.factor) | {"reason": _reason(best, fits[2])}
    row |= _rows(fit, tried, x_ref, asked)
    row["also"] = further_rows(further, fit, asked.factor, asked.confidence, reference)
    row["leave_one_out"] = _without_each(days, cells, fit, row, asked)
    row["next"] = next_steps(row, asked.factor)
    return row | {"checks": _checks(fit), "points": _points(days, further, fit, x_ref, asked)}, fit


def _slope_sd(tried: Sequence[float], asked: Asked) -> float:
    """By how much the slope (per x) may differ from day to day: a share of the usual margin a step."""
    factor = asked.factor
    middle = factor.value_at(sum(tried) / len(tried)) if tried else 1.0
    return DAYS_DIFFER * asked.measure.margin / (factor.x_at(middle + factor.step) - factor.x_at(middle))


def _without_each(
    days: Sequence[EventDay], cells: Sequence[DayCells], fit: ResponseFit, row: dict[str, Any], asked: Asked
) -> list[dict[str, Any]]:
    """The answer without each day in turn, the session scatter as found from all of them."""
    told = [i for i, day in enumerate(cells) if np.isfinite(day.pace[0]).sum() >= 2]
    if len(told) < MIN_DAYS_TO_LEAVE_OUT:
        return []
    found: list[dict[str, Any]] = []
    for i in told:
        rest = [cell for j, cell in enumerate(cells) if j != i]
        tried = sorted({float(x) for j, day in enumerate(days) if j != i for x in day.x[day.used]})
        again = fit_response(rest, fit.degree, _slope_sd(tried, asked), fit.tau2)
        found.append({"event": days[i].event} | _one_less(again, tried, row, asked))
    return found


def _one_less(
    again: ResponseFit | str, tried: list[float], row: dict[str, Any], asked: Asked
) -> dict[str, Any]:
    if isinstance(again, str):
        nothing = dict.fromkeys(("best", "best_low", "best_high", "worth"))
        return {"state": "cannot be told", "side": 0, **nothing, "turns": row["state"] != "cannot be told"}
    best = best_value(again, tried, asked.confidence, asked.margin, asked.measure.verdict_sign)
    here = _best_row(best, asked.factor)
    turns = best.state != row["state"] or best.side != row["side"]
    if best.state == "found" and not turns:
        turns = not here["best_low"] <= row["best"] <= here["best_high"]
    reference = row["reference"]
    worth = _worth_row(again, reference, reference + asked.factor.step, asked) if again.degree > 1 else None
    kept = {key: here[key] for key in ("state", "side", "best", "best_low", "best_high")}
    return kept | {"worth": worth, "turns": turns}


def _reference(days: Sequence[EventDay], fit: ResponseFit, tried: list[float], asked: Asked) -> float:
    """x of what others are held against: the best of what was tried or, where nothing tells, the most run."""
    if any_effect_p(fit) < 1 - asked.confidence:
        value = basis(fit, np.array(tried)) @ fit.coefficients * -asked.measure.verdict_sign
        return tried[int(np.argmin(value))]
    everything = [float(x) for day in days for x in day.x[day.used]]
    return max(tried, key=everything.count)


_NAMES = {1: "linear", 2: "quadratic"}


def _values(days: Sequence[EventDay], factor: Factor) -> list[dict[str, Any]]:
    """Values tried with the number of sessions and days each."""
    seen: dict[float, list[str]] = {}
    for day in days:
        for x in day.x[day.used]:
            seen.setdefault(round(factor.on_step(float(x)), 6), []).append(day.event)
    return [{"value": v, "sessions": len(e), "days": len(set(e))} for v, e in sorted(seen.items())]


def _untold(reason: str) -> dict[str, Any]:
    empty = dict.fromkeys(("best", "best_low", "best_high", "any_effect_p", "largest_difference"))
    names = ("curve", "worth", "candidates", "points", "checks", "also", "leave_one_out", "next")
    lists: dict[str, Any] = {key: [] for key in names}
    nothing = {"teaches_most": None, "best_chance": None}
    fits: dict[str, Any] = {}
    return {"state": "cannot be told", "side": 0, "reason": reason, "fits": fits} | empty | lists | nothing


def _fit_row(fit: ResponseFit | str) -> dict[str, Any]:
    if isinstance(fit, str):
        return {"reason": fit}
    return {
        "reason": None,
        "coefficients": fit.coefficients.tolist(),
        "covariance": fit.covariance.tolist(),
        "centre": fit.centre,
        "scale": fit.scale,
        "dof": fit.dof,
        "session_sd": float(np.sqrt(fit.tau2)),
        "sessions": fit.sessions,
        "days": fit.days,
    }


def _best_row(best: Best, factor: Factor) -> dict[str, Any]:
    ends = {"best": best.x, "best_low": best.low, "best_high": best.high}
    return {
        "state": best.state,
        "side": best.side,
        "any_effect_p": best.any_p,
        "largest_difference": best.largest,
    } | {key: _reachable(x, factor) for key, x in ends.items()}


def _reachable(x: float | None, factor: Factor) -> float | None:
    """The value at x; None where the parabola puts it where no number reaches."""
    if x is None or abs(x) > 700:
        return None
    return factor.value_at(x)


def _reason(best: Best, quadratic: ResponseFit | str) -> str | None:
    """Why no best value is named, or what is missing to name one."""
    if best.state != "cannot be told":
        return None
    return quadratic if isinstance(quadratic, str) else "the scatter still hides where the best value lies"


def _rows(fit: ResponseFit, tried: list[float], x_ref: float, asked: Asked) -> dict[str, Any]:
    factor, inside = asked.factor, (min(tried), max(tried))
    low, high = (factor.value_at(x) for x in inside)
    first = math.floor(low / factor.step + 1e-6) - BEYOND
    last = math.ceil(high / factor.step - 1e-6) + BEYOND
    grid = [round(n * factor.step, 9) for n in range(first, last + 1)]
    whole = [value for value in grid if value >= factor.lowest][:MOST_POINTS]
    per_step = POINTS if len(whole) * POINTS <= MOST_POINTS else 1
    fine = [a + (b - a) * i / per_step for a, b in pairwise(whole) for i in range(per_step)]
    seen = {round(factor.value_at(x), 6) for x in tried}
    drawn = sorted({*fine, *whole[-1:], *(factor.on_step(x) for x in tried)})

    def facts(value: float) -> dict[str, Any]:
        known = round(value, 6) in seen
        within = inside[0] - 1e-9 <= factor.x_at(value) <= inside[1] + 1e-9
        return {"tried": known, "inside": within if fit.degree > 1 else known}

    reach = (NEXT + 1e-6) * factor.step
    near = [value for value in whole if low - reach <= value <= high + reach]
    reference = factor.on_step(x_ref)
    beside = [] if reference in whole else [(reference, reference + factor.step)]
    steps = sorted([*pairwise(whole), *beside])
    ends = [(factor.on_step(inside[0]), factor.on_step(inside[1]))]
    chances = next_values(
        fit, x_ref, [factor.x_at(v) for v in near], asked.margin, asked.measure.verdict_sign
    )
    candidates = [_candidate(c, factor, asked, facts(factor.value_at(c.x))) for c in chances]
    return {
        "curve": [_curve_row(fit, v, x_ref, asked) | facts(v) for v in drawn],
        "worth": [_worth_row(fit, a, b, asked) | {"inside": facts(a)["inside"] and facts(b)["inside"]}
                  for a, b in (steps if fit.degree > 1 else ends)],
        "candidates": candidates,
        "teaches_most": _teaches_most(candidates),
        "best_chance": _best_chance(candidates),
    }  # fmt: skip


def _curve_row(fit: ResponseFit, value: float, x_ref: float, asked: Asked) -> dict[str, Any]:
    found = difference(fit, x_ref, asked.factor.x_at(value))
    low, high = found.interval(asked.confidence)
    wide = (
        float(np.sqrt(fit.degree * f_quantile(fit.degree, fit.dof, asked.confidence))) * found.standard_error
    )
    return {
        "value": value, "estimate": found.estimate, "low": low, "high": high,
        "band_low": found.estimate - wide, "band_high": found.estimate + wide,
    }  # fmt: skip


def _worth_row(fit: ResponseFit, value: float, following: float, asked: Asked) -> dict[str, Any]:
    found = difference(fit, asked.factor.x_at(value), asked.factor.x_at(following))
    low, high = found.interval(asked.confidence)
    return {
        "value": value, "next": following, "estimate": found.estimate,
        "standard_error": found.standard_error, "low": low, "high": high,
    }  # fmt: skip


def _candidate(one: Candidate, factor: Factor, asked: Asked, facts: dict[str, Any]) -> dict[str, Any]:
    low, high = one.change.interval(asked.confidence)
    told = asked.measure.better != 0
    return {
        "value": factor.on_step(one.x), "curve_width": one.curve_width, "best_width": one.best_width,
        "estimate": one.change.estimate, "low": low, "high": high,
        "chance_better": one.chance_better if told else None,
        "chance_worthwhile": one.chance_worthwhile if told else None,
    } | facts  # fmt: skip


def _teaches_most(rows: list[dict[str, Any]]) -> float | None:
    """The value after which the interval of the best value (else of the whole curve) is narrowest."""
    if not rows:
        return None
    key = "best_width" if all(row["best_width"] is not None for row in rows) else "curve_width"
    return min(rows, key=lambda row: row[key])["value"]


def _best_chance(rows: list[dict[str, Any]]) -> float | None:
    """The value with the best chance of a gain over the reference."""
    told = [row for row in rows if row["chance_worthwhile"] is not None]
    return max(told, key=lambda row: row["chance_better"])["value"] if told else None


def _checks(fit: ResponseFit) -> list[dict[str, Any]]:
    """Rows name, passed (None: not possible), sentence."""
    own = None if fit.own_p is None else fit.widened != "own scatter"
    days = None if fit.days_p is None else fit.days_p >= 0.05
    return [
        {"name": "our kart scatters like the others", "passed": own, "sentence": _OWN[own]},
        {"name": "the days agree", "passed": days, "sentence": _DAYS[days]},
    ]


_OWN = {
    True: "Our sessions scatter about the curve no more than the other karts' sessions do.",
    False: "Our sessions scatter more than the other karts': the interval is made from our own scatter.",
    None: "Whether our sessions scatter more than the other karts' cannot be told.",
}
_DAYS = {
    True: "The days agree on the response as far as can be told.",
    False: "The days disagree on the response by more than chance: the interval is widened for it.",
    None: "Whether the days agree cannot be told: only one of them says anything about the curve.",
}


def _points(
    days: Sequence[EventDay], further: Further, fit: ResponseFit, x_ref: float, asked: Asked
) -> list[dict[str, Any]]:
    """Our sessions net of the other karts, of their day's level, own trend, other settings and further factors."""
    rows: list[dict[str, Any]] = []
    effects = np.array([0.0 if one is None else one[0] for one in fit.also])
    zero = basis(fit, np.array([x_ref]))[0] @ fit.coefficients
    for day, columns in zip(days, further.columns, strict=True):
        use = day.used
        adjusted = day.pace[0] - session_terms(day.pace[None, 1:])[0] - columns @ effects
        use = use & np.isfinite(adjusted)
        if use.sum() < 2:
            continue
        curve = basis(fit, day.x[use]) @ fit.coefficients - zero
        rest = adjusted[use] - curve
        y = curve + rest - _of_the_day(day, use, asked) @ rest
        laps = day.prepared.cells.laps[0][use]
        names = np.array(day.day.sessions)[use]
        rows += [
            {
                "event": day.event,
                "session": str(s),
                "value": asked.factor.on_step(float(x)),
                "y": float(v),
                "laps": int(n),
            }
            for s, x, v, n in zip(names, day.x[use], y, laps, strict=True)
        ]
    return rows


def _of_the_day(day: EventDay, use: Bools, asked: Asked) -> Floats:
    """Projection on what belongs to the day alone: level, other settings and, from four sessions, the trend."""
    private = other_settings(day.entries, day.day.sessions, use, asked.factor, asked.also)[use]
    columns = [np.ones((int(use.sum()), 1)), private]
    if use.sum() >= 4:
        columns.append((day.day.design.time[use] - day.day.design.time[use].mean())[:, None])
    X = np.concatenate(columns, axis=1)
    return X @ np.linalg.pinv(X)
