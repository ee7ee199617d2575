"""How well a kart repeats itself from one session to the next with nothing changed.

From neighbour differences net of the other karts' same difference: for a kart with session variance
s^2 = tau^2 + v and n other karts, Var(difference) = 2 s^2 (1 + 1/n).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from lapdelta.effect.arrays import Bools, Floats
from lapdelta.effect.distributions import chi2_exceeded, f_above
from lapdelta.effect.history import MIN_OTHERS_FOR_ADJUSTED, chain_count

#: Of two days that differ nobody can say which is the odd one.
MIN_DAYS_TO_COMPARE = 3


@dataclass(frozen=True)
class Steps:
    """Neighbour differences of one kart on one day.

    Attributes:
        values: net of the other karts; the measure's unit.
        variances: each one's half square over 1 + 1/n: a session's variance, seen once.
        dof: what they count as, neighbours sharing sessions.
        lap_variance: mean lap-noise variance of the sessions concerned.
    """

    values: tuple[float, ...]
    variances: tuple[float, ...]
    dof: float
    lap_variance: float


@dataclass(frozen=True)
class Repeatability:
    """Scatter of one kart's (or several karts') sessions with nothing changed; the measure's unit.

    ``session_sd`` with its interval is what a session differs by, lap noise included; ``tau`` that without
    lap noise; ``lap_sd`` the scatter that lap noise gives a session's pace. ``differences`` counts, ``dof``
    is what they are worth.
    """

    session_sd: float
    low: float
    high: float
    tau: float
    lap_sd: float
    differences: int
    dof: float


def steps_of(pace: Floats, variance: Floats, kart: int, unchanged: Bools) -> Steps:
    """Neighbour differences of row ``kart`` where nothing was changed on it; shapes karts by sessions, S - 1."""
    step = np.diff(pace, axis=1)
    rest = np.delete(step, kart, axis=0)
    seen = np.isfinite(rest)
    n = seen.sum(axis=0)
    use = np.isfinite(step[kart]) & unchanged & (n >= MIN_OTHERS_FOR_ADJUSTED)
    common = np.where(seen, rest, 0.0).sum(axis=0) / np.maximum(n, 1)
    values = (step[kart] - common)[use]
    variances = values**2 / 2 / (1 + 1 / n[use])
    runs = [len(list(group)) for same, group in groupby(use.tolist()) if same]
    here = np.zeros(pace.shape[1], np.bool_)
    here[:-1] |= use
    here[1:] |= use
    noise = float(variance[kart, here].mean()) if here.any() else 0.0
    return Steps(tuple(values.tolist()), tuple(variances.tolist()), sum(map(chain_count, runs)), noise)


def repeatability(steps: Sequence[Steps], confidence: float) -> Repeatability | None:
    """Pooled over days (and karts); None without a single difference."""
    used = [day for day in steps if day.values]
    values = [value for day in used for value in day.variances]
    if not values:
        return None
    dof = sum(day.dof for day in used)
    variance = float(np.mean(values))
    noise = float(np.average([day.lap_variance for day in used], weights=[len(day.values) for day in used]))
    tail = (1 - confidence) / 2
    low = variance * dof / float(chi2_exceeded(dof, tail))
    high = variance * dof / float(chi2_exceeded(dof, 1 - tail))
    return Repeatability(
        session_sd=float(np.sqrt(variance)),
        low=float(np.sqrt(low)),
        high=float(np.sqrt(high)),
        tau=float(np.sqrt(max(variance - noise, 0.0))),
        lap_sd=float(np.sqrt(noise)),
        differences=len(values),
        dof=dof,
    )


def more_erratic_p(ours: Repeatability, others: Repeatability) -> float:
    """p-value (one-sided F) that our sessions scatter no more than the other karts'."""
    return float(f_above(ours.dof, others.dof, (ours.session_sd / max(others.session_sd, 1e-300)) ** 2))


@dataclass(frozen=True)
class OddDay:
    """A day whose scatter contradicts that of the other days.

    ``p`` is two-sided (F), times the number of days it was picked from (Bonferroni).
    """

    day: int
    session_sd: float
    rest_sd: float
    p: float


def odd_days(days: Sequence[Sequence[Steps]], confidence: float) -> list[OddDay]:
    """Days that scatter unlike the rest beyond chance, the oddest first; ``days`` hold the steps of one day each.

    The oddest day is taken out before the next one is looked for: it would make every other day look odd. Karts
    whose laps scatter more are expected to scatter more: each is held against its own expectation.
    """
    left = [i for i, day in enumerate(days) if any(step.values for step in day)]
    found: list[OddDay] = []
    while len(left) >= MIN_DAYS_TO_COMPARE:
        told = [odd for i in left if (odd := _against_rest(i, left, days, confidence)) is not None]
        oddest = min(told, key=lambda odd: odd.p, default=None)
        if oddest is None or oddest.p >= 1 - confidence:
            break
        found.append(oddest)
        left.remove(oddest.day)
    return found


def _against_rest(
    i: int, days: Sequence[int], steps: Sequence[Sequence[Steps]], confidence: float
) -> OddDay | None:
    here = repeatability(steps[i], confidence)
    rest = repeatability([step for j in days if j != i for step in steps[j]], confidence)
    if here is None or rest is None or rest.session_sd <= 0:
        return None
    ratio = _against_expected(steps[i], rest.tau**2) / _against_expected(
        [step for j in days if j != i for step in steps[j]], rest.tau**2
    )
    p = float(f_above(here.dof, rest.dof, ratio))
    return OddDay(i, here.session_sd, rest.session_sd, min(1.0, 2 * min(p, 1 - p) * len(days)))


def _against_expected(steps: Sequence[Steps], tau2: float) -> float:
    """Mean of the variances, each over what its kart's lap noise lets expect."""
    parts = [value / max(tau2 + step.lap_variance, 1e-12) for step in steps for value in step.variances]
    return float(np.mean(parts))
