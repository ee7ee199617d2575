"""What a fitted response says: differences, the best value with its interval, and which value to try next."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from lapdelta.effect.arrays import Bools, Floats
from lapdelta.effect.distributions import f_above, t_below, t_quantile
from lapdelta.effect.season_fit import ResponseFit, basis

State = Literal["found", "beyond", "one side", "flat", "cannot be told"]
#: Values of the factor looked at inside what was tried, to see where the slope's sign is known.
GRID = 201


@dataclass(frozen=True)
class Difference:
    """Response at one value minus that at another, measure's unit."""

    estimate: float
    standard_error: float
    dof: float

    def interval(self, confidence: float) -> tuple[float, float]:
        """Two-sided t interval."""
        half = float(t_quantile(self.dof, (1 + confidence) / 2)) * self.standard_error
        return self.estimate - half, self.estimate + half

    def chance_below(self, limit: float) -> float:
        """P(difference < limit), flat prior."""
        if self.standard_error <= 0:
            return float(self.estimate < limit)
        return float(t_below(self.dof, (limit - self.estimate) / self.standard_error))


@dataclass(frozen=True)
class FiellerSet:
    """Values of a ratio that the data do not contradict.

    ``kind``: interval (low..high), outside (up to low and from high on), everything.
    """

    kind: Literal["interval", "outside", "everything"]
    low: float = math.nan
    high: float = math.nan

    def holds(self, value: Floats) -> Bools:
        """Whether the set holds each value."""
        if self.kind == "everything":
            return np.ones(np.shape(value), np.bool_)
        inside = (value >= self.low) & (value <= self.high)
        return inside if self.kind == "interval" else (value <= self.low) | (value >= self.high)


@dataclass(frozen=True)
class Best:
    """The best value of the factor, as far as can be told.

    Attributes:
        state: found (low..high); beyond (``side`` of all that was tried); one side (only ``low`` or only
            ``high`` is known); flat (no difference worth having within what was tried); cannot be told.
        side: -1 below, +1 above, 0 neither.
        x: estimate; None unless the parabola has its best point (then also outside of what was tried).
        low, high: ends of the interval in x; None where open.
        any_p: p-value that the factor matters at all within the model.
        largest: largest difference between two tried values that is still possible.
    """

    state: State
    side: int
    x: float | None
    low: float | None
    high: float | None
    any_p: float
    largest: float


def difference(fit: ResponseFit, x_from: float, x_to: float) -> Difference:
    """Response at ``x_to`` minus at ``x_from``."""
    step = step_between(fit, x_from, x_to)
    variance = float(step @ fit.covariance @ step)
    return Difference(float(step @ fit.coefficients), math.sqrt(max(variance, 0.0)), fit.dof)


def step_between(fit: ResponseFit, x_from: float, x_to: float) -> Floats:
    """Columns at ``x_to`` minus those at ``x_from``."""
    return basis(fit, np.array([x_to]))[0] - basis(fit, np.array([x_from]))[0]


def fieller(
    numerator: float, denominator: float, v_nn: float, v_nd: float, v_dd: float, t: float
) -> FiellerSet:
    """All r with (numerator - r denominator)^2 <= t^2 Var(numerator - r denominator).

    Fieller 1954 (J. R. Stat. Soc. B 16:175), from memory: the quadratic a r^2 - 2 b r + c <= 0 with
    a = d^2 - t^2 v_dd, b = n d - t^2 v_nd, c = n^2 - t^2 v_nn.
    """
    a = denominator**2 - t * t * v_dd
    b = numerator * denominator - t * t * v_nd
    c = numerator**2 - t * t * v_nn
    inside = b * b - a * c
    if inside < 0 or a == 0:
        return FiellerSet("everything")
    root = math.sqrt(inside)
    ends = sorted(((b - root) / a, (b + root) / a))
    return FiellerSet("interval" if a > 0 else "outside", *ends)


def any_effect_p(fit: ResponseFit) -> float:
    """p-value of the F test that all coefficients are 0."""
    squares = float(fit.coefficients @ np.linalg.solve(fit.covariance, fit.coefficients))
    return float(f_above(fit.degree, fit.dof, squares / fit.degree))


def largest_difference(fit: ResponseFit, tried: Sequence[float], confidence: float) -> float:
    """Largest end of the intervals of the differences between tried values."""
    if len(tried) < 2:
        return 0.0
    at = basis(fit, np.asarray(tried, float))
    one, other = np.triu_indices(len(tried), 1)
    steps = at[other] - at[one]
    error = np.sqrt(np.maximum(np.einsum("ij,jk,ik->i", steps, fit.covariance, steps), 0.0))
    half = float(t_quantile(fit.dof, (1 + confidence) / 2)) * error
    return float((np.abs(steps @ fit.coefficients) + half).max())


def best_value(
    fit: ResponseFit, tried: Sequence[float], confidence: float, margin: float, better: int
) -> Best:
    """Where the response is best; ``better`` -1 for times, +1 for speeds.

    A best value is only claimed once the F test says that the factor matters: a search over a flat response
    would otherwise find a best value by chance more often than the confidence allows.
    """
    p = any_effect_p(fit)
    inner = largest_difference(fit, tried, 2 * confidence - 1)
    largest = largest_difference(fit, tried, confidence)
    if inner < margin:
        return Best("flat", 0, None, None, None, p, largest)
    if p >= 1 - confidence or fit.degree < 2:
        return Best("cannot be told", 0, None, None, None, p, largest)
    low, high = min(tried), max(tried)
    sense = -better  # as a loss: the best value is its lowest point
    b, c = sense * fit.coefficients
    t = float(t_quantile(fit.dof, (1 + confidence) / 2))
    v = fit.covariance
    # Slope b + 2 c z = 0 at z = -b / (2 c).
    ends = fieller(-float(b), 2 * float(c), float(v[0, 0]), -2 * float(v[0, 1]), 4 * float(v[1, 1]), t)
    z = np.linspace((low - fit.centre) / fit.scale, (high - fit.centre) / fit.scale, GRID)
    possible = ends.holds(z) if c > 0 or ends.kind != "interval" else np.zeros(GRID, np.bool_)
    x = fit.centre - float(b) / (2 * float(c)) * fit.scale if c > 0 else None
    return _state(fit, ends, possible, z, (float(b), float(c)), x, p, largest)


def _state(
    fit: ResponseFit,
    ends: FiellerSet,
    possible: Bools,
    z: Floats,
    slope: tuple[float, float],
    x: float | None,
    p: float,
    largest: float,
) -> Best:
    """Which of the cases the set of possible best values is."""
    b, c = slope
    at_ends = b + 2 * c * z[[0, -1]]
    to_x = (fit.centre, fit.scale)
    if ends.kind == "interval" and c <= 0:  # surely a hill: the best is at an end, nobody knows which
        return Best("cannot be told", 0, None, None, None, p, largest)
    if not possible.any():
        side = 1 if at_ends[1] < 0 else -1
        low, high = (None, None)
        if ends.kind == "interval":
            low, high = to_x[0] + ends.low * to_x[1], to_x[0] + ends.high * to_x[1]
        return Best("beyond", side, x, low, high, p, largest)
    if ends.kind == "interval":
        low, high = to_x[0] + ends.low * to_x[1], to_x[0] + ends.high * to_x[1]
        return Best("found", 0, x, low, high, p, largest)
    if possible.all():
        return Best("cannot be told", 0, x, None, None, p, largest)
    return _one_side(fit, possible, z, at_ends, x, p, largest)


def _one_side(
    fit: ResponseFit, possible: Bools, z: Floats, at_ends: Floats, x: float | None, p: float, largest: float
) -> Best:
    """Part of what was tried is ruled out: from the low end up (slope falling there), from the high end down."""
    low = high = None
    if not possible[0] and at_ends[0] < 0:
        low = fit.centre + float(z[int(np.argmax(possible))]) * fit.scale
    if not possible[-1] and at_ends[1] > 0:
        high = fit.centre + float(z[len(z) - 1 - int(np.argmax(possible[::-1]))]) * fit.scale
    if low is None and high is None:
        return Best("cannot be told", 0, x, None, None, p, largest)
    return Best("one side", 1 if low is not None else -1, x, low, high, p, largest)


@dataclass(frozen=True)
class Candidate:
    """One value to try next, against the reference, on one day of four sessions (old - new - new - old).

    ``curve_width`` is the mean full width of the intervals of differences from the reference over the
    values in question, after that day over before; ``chance_better`` and ``chance_worthwhile`` are of the
    value against the reference as things are known now.
    """

    x: float
    curve_width: float
    best_width: float | None
    change: Difference
    chance_better: float
    chance_worthwhile: float


#: Sessions with the old and with the new value on the day that is planned.
_PLANNED = 2


def next_values(
    fit: ResponseFit, reference: float, candidates: Sequence[float], margin: float, better: int
) -> list[Candidate]:
    """What one more day would teach, value by value, and each value's chance of a gain."""
    known = np.linalg.inv(fit.covariance)
    noise = (fit.tau2 + fit.lap_variance) * (2 / _PLANNED) * (1 + 1 / max(fit.others, 1.0))
    before = _width(fit, fit.covariance, reference, candidates)
    best_before = _best_width(fit, fit.covariance, better)
    found: list[Candidate] = []
    for x in candidates:
        if x == reference:
            continue
        step = step_between(fit, reference, x)
        after = np.asarray(np.linalg.inv(known + np.outer(step, step) / noise), float)
        best_after = _best_width(fit, after, better)
        change = difference(fit, reference, x)
        gain, worth = change.chance_below(0.0), change.chance_below(-margin)
        if better > 0:
            gain, worth = 1 - gain, 1 - change.chance_below(margin)
        ratio = best_after / best_before if best_before and best_after else None
        width = _width(fit, after, reference, candidates) / before
        found.append(Candidate(x, width, ratio, change, gain, worth))
    return found


def _width(fit: ResponseFit, covariance: Floats, reference: float, at: Sequence[float]) -> float:
    steps = basis(fit, np.asarray(at, float)) - basis(fit, np.array([reference]))
    return float(np.sqrt(np.einsum("ij,jk,ik->i", steps, covariance, steps)).mean())


def _best_width(fit: ResponseFit, covariance: Floats, better: int) -> float | None:
    """Standard error of the best value by the delta method; None without one."""
    if fit.degree < 2 or -better * fit.coefficients[1] <= 0:
        return None
    b, c = fit.coefficients
    slope = np.array([-1 / (2 * c), b / (2 * c * c)])
    return float(np.sqrt(slope @ covariance @ slope)) * fit.scale
