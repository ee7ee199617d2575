"""What a test will be able to see, before the day is spent on it.

SE^2 = (tau^2 + c sigma^2 / n) (1/m_A + 1/m_B) VIF (1 + 1/K): tau the sd of what a session does to our
kart alone, sigma the scatter of clean laps, n the laps of a session without the out lap, c what the way
of taking the pace costs, m_A and m_B sessions on each setting, K other karts. VIF counts where the
analysis has an own trend (interleaved orders of four sessions or more). The smallest effect is the one
that a two-sided t-test finds with the power asked (noncentral t; Cohen 1988, chapter 2, from memory).
"""

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np

from lapdelta.effect.arrays import Floats
from lapdelta.effect.design import OWN_TREND_SESSIONS
from lapdelta.effect.distributions import t_quantile
from lapdelta.effect.randomisation import is_interleaved_order, order_inflation, swaps_in
from lapdelta.errors import QuestionError

PaceKind = Literal["laps", "clocks", "sectors", "sectors and clocks"]
#: c of the formula, by what the pace of a session is taken from (measured by simulation with traffic).
LAP_FACTORS: dict[PaceKind, float] = {"laps": 2.8, "clocks": 2.25, "sectors": 2.1, "sectors and clocks": 1.7}
#: c for top speed and peak rpm: the middle half of the laps.
MIDDLE_HALF_FACTOR = 1.3
#: Other karts that a contrast needs, and own sessions that an analysis alone needs.
FEWEST_KARTS_INTERLEAVED, FEWEST_KARTS_BLOCKED, FEWEST_SESSIONS_ALONE = 2, 3, 5
#: More days than this is no plan.
MOST_DAYS = 60


@dataclass(frozen=True)
class Noise:
    """What blurs a session's pace, in the measure's unit.

    Attributes:
        session_sd: tau, what a session does to one kart alone (pressures, mood).
        lap_sd: sigma, scatter of clean laps about their session.
        lap_factor: c, what the way of taking the pace costs.
        source: where the numbers are from, in words.
        dof: degrees of freedom it rests on; 0 where it was stated or assumed.
        laps: usable laps of a session that it was taken from; 0 likewise.
    """

    session_sd: float
    lap_sd: float
    lap_factor: float
    source: str
    dof: float = 0.0
    laps: float = 0.0

    def __post_init__(self) -> None:
        """Raise QuestionError for a number that cannot be."""
        for name in ("session_sd", "lap_sd", "lap_factor"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value >= 0):
                raise QuestionError(f"{value!r} cannot be.", "Give a number of 0 or more.", name)
        if self.session_sd == 0 and self.lap_sd == 0:
            raise QuestionError("A day without any noise cannot be.", "Give session_sd or lap_sd.", "lap_sd")

    def session_variance(self, laps: int) -> float:
        """Variance of a session's pace from ``laps`` laps without the out lap."""
        return self.session_sd**2 + self.lap_share_variance(laps)

    def lap_share_variance(self, laps: int) -> float:
        """The part of it that more laps would shrink."""
        return self.lap_factor * self.lap_sd**2 / laps


def noise_from_paces(paces: Floats, lap_sd: float, laps: float, lap_factor: float) -> Noise:
    """Noise from a day's own karts: what kart and session terms leave over.

    Args:
        paces: karts by sessions, NaN where missing; karts on which nothing was changed.
        lap_sd: scatter of their clean laps.
        laps: laps a session that the paces rest on.
        lap_factor: c, to split what is left into a session part and a lap part.

    Raises:
        QuestionError: too few cells to estimate from.
    """
    left, dof = _two_way_residuals(paces)
    if dof < 1:
        raise QuestionError(
            "These sessions have too few other karts to plan from.",
            "Give at least two sessions with two other karts, or state session_sd and lap_sd.",
            "laps",
        )
    variance = float(left @ left) / dof
    source = f"taken from the day's own karts (worth {dof} comparisons of sessions)"
    return split_noise(variance, lap_sd, laps, lap_factor, source, float(dof))


def split_noise(
    variance: float, lap_sd: float, laps: float, lap_factor: float, source: str, dof: float
) -> Noise:
    """A session's variance as a session part and a lap part, which is at most the whole."""
    lap_part = min(lap_factor * lap_sd**2 / laps, variance)
    factor = lap_part * laps / lap_sd**2 if lap_sd > 0 else lap_factor
    return Noise(math.sqrt(max(0.0, variance - lap_part)), lap_sd, factor, source, dof, laps)


def _two_way_residuals(paces: Floats) -> tuple[Floats, int]:
    """Residuals of present cells on kart + session, and their degrees of freedom."""
    kart, session = np.nonzero(np.isfinite(paces))
    if kart.size == 0:
        return np.zeros(0), 0
    X = np.concatenate([np.eye(paces.shape[0])[kart], np.eye(paces.shape[1])[session]], axis=1)
    y: Floats = paces[kart, session] - np.mean(paces[kart, session])
    left: Floats = y - X @ (np.linalg.pinv(X) @ y)
    return left, int(y.size - np.linalg.matrix_rank(X))


@dataclass(frozen=True)
class Option:
    """One order of sessions and what it could see.

    Attributes:
        order: A = the setting before, B = after, one letter a session.
        sessions: how many.
        swaps: how often the kart is changed over.
        interleaved: separates the change from a trend of our own kart.
        inflation: VIF; None where it is infinite.
        standard_error, dof, smallest_effect: None where the order cannot give an interval.
        days: days of this order until the margin would be seen; None beyond reason.
        settles: the smallest effect is at most the margin.
        reason: why there are no numbers; empty if there are.
    """

    order: str
    sessions: int
    swaps: int
    interleaved: bool
    inflation: float | None
    standard_error: float | None
    dof: float | None
    smallest_effect: float | None
    days: int | None
    settles: bool
    reason: str


@dataclass(frozen=True)
class Setting:
    """What is common to all orders of a plan: noise, laps without the out lap, karts, level and power.

    ``history_dof`` is what our kart's other days add to the degrees of freedom of the answer, once.
    """

    noise: Noise
    laps: int
    other_karts: int
    confidence: float
    power: float
    track_sd: float | None = None
    history_dof: float = 0.0


def smallest_effect(
    standard_error: float, dof: float, confidence: float = 0.95, power: float = 0.80
) -> float:
    """Effect that a two-sided t-test at ``confidence`` finds with ``power``, in the unit of the error.

    Solves P(noncentral t_dof(effect / SE) > t) = power.
    """
    return standard_error * _seen_ratio(dof, confidence, power)


@lru_cache(maxsize=1024)
def _seen_ratio(dof: float, confidence: float, power: float) -> float:
    """The effect in standard errors, by halving: to 1e-10."""
    # here, not above: answers do without scipy, and importing it takes longer than they do
    from scipy.special import nctdtr

    critical = t_quantile(dof, 0.5 + confidence / 2.0)
    # the ratio stands near critical + z_power; a factor of three above it is beyond any solution
    low, high = 0.0, 3.0 * critical + 6.0
    while high - low > 1e-10:
        middle = (low + high) / 2.0
        missed = float(nctdtr(dof, middle, critical)) > 1.0 - power
        low, high = (middle, high) if missed else (low, middle)
    return (low + high) / 2.0


def order_error(order: str, setting: Setting) -> tuple[float, float] | str:
    """(standard error, df) of an order on one day, or why it has none."""
    sessions, before = len(order), order.count("A")
    if before in (0, sessions):
        return "It needs sessions on both settings."
    size = 1.0 / before + 1.0 / (sessions - before)
    inflation, karts = order_inflation(order), setting.other_karts
    variance = setting.noise.session_variance(setting.laps)
    if not is_interleaved_order(order):
        if karts < FEWEST_KARTS_BLOCKED:
            return "One block after the other needs at least three other karts."
        return math.sqrt(variance * size * (1.0 + 1.0 / karts)), karts - 1.0
    if karts >= FEWEST_KARTS_INTERLEAVED:
        trend = sessions >= OWN_TREND_SESSIONS
        dof = (karts + 1) * sessions - karts - sessions - 1 - trend
        factor = inflation if trend else 1.0
        return math.sqrt(variance * size * factor * (1.0 + 1.0 / karts)), float(dof)
    if sessions < FEWEST_SESSIONS_ALONE:
        return "Without other karts it needs at least five sessions."
    if setting.track_sd is None:
        return "Without other karts the track's own ups and downs decide; state track_sd to plan for it."
    return math.sqrt((variance + setting.track_sd**2) * size * inflation), sessions - 3.0


def days_until(margin: float, standard_error: float, dof: float, setting: Setting) -> int | None:
    """Days of the same order (equal-weight mean) until ``margin`` is seen; None beyond 60.

    ``dof`` is that of one day; the history is the same on all days and counts once.
    """

    def seen(days: int) -> bool:
        error, all_dof = standard_error / math.sqrt(days), dof * days + _history_dof(setting)
        return smallest_effect(error, all_dof, setting.confidence, setting.power) <= margin

    if not seen(MOST_DAYS):
        return None
    low, high = 0, MOST_DAYS  # seen at high, not at low
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if seen(middle) else (middle, high)
    return high


def _history_dof(setting: Setting) -> float:
    """What other days add; nothing where there are no other karts to hold the day against."""
    return setting.history_dof if setting.other_karts >= FEWEST_KARTS_INTERLEAVED else 0.0


def option(order: str, setting: Setting, margin: float) -> Option:
    """What one order could see on one day."""
    inflation = order_inflation(order)
    swaps = swaps_in(order)
    shown = inflation if math.isfinite(inflation) else None
    interleaved = is_interleaved_order(order)
    error = order_error(order, setting)
    if isinstance(error, str):
        return Option(order, len(order), swaps, interleaved, shown, None, None, None, None, False, error)
    se, dof = error[0], error[1] + _history_dof(setting)
    effect = smallest_effect(se, dof, setting.confidence, setting.power)
    days = days_until(margin, *error, setting)
    return Option(order, len(order), swaps, interleaved, shown, se, dof, effect, days, effect <= margin, "")
