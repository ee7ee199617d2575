"""What other days tell of a plan's noise, put together with the day's own, unless the two contradict each other.

Scatter is pooled by degrees of freedom, as ``compare`` does it with the history of our kart. Two checks come
first: the day's karts against the karts of other days, and our kart against the others.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from lapdelta.effect.distributions import f_above
from lapdelta.effect.history import MIN_ADJUSTED
from lapdelta.effect.power import Noise

#: Level of the checks: two-sided for the days, one-sided for our kart (too quiet does no harm).
CONFLICT_LEVEL = 0.05

Conflict = Literal["", "the day", "our kart"]


@dataclass(frozen=True)
class LearnedNoise:
    """The noise to plan with.

    Attributes:
        noise: put together; its source says from what.
        conflict: "the day" where the day's karts scatter unlike other days' and only the day counts; "our kart"
            where ours scatters more than the others and its own scatter stands for it.
        history_dof: what our kart's other days will add to the answer's degrees of freedom.
    """

    noise: Noise
    conflict: Conflict
    history_dof: float


def learn(
    day: Noise | None, others: Noise | None, ours: Noise | None, differences: int, karts: int
) -> LearnedNoise | None:
    """Noise from the day's other karts, the other karts of other days, and our kart on other days.

    Args:
        day, others, ours: None where nothing tells.
        differences: how many neighbours without a change ``ours`` rests on; below three they are not used.
        karts: other karts the plan will have.
    """
    if ours is not None and differences < MIN_ADJUSTED:
        ours = None
    if day is not None and others is not None and _apart(day, others):
        return LearnedNoise(day, "the day", 0.0)
    known = [noise for noise in (day, others) if noise is not None]
    if not known:
        return None if ours is None else LearnedNoise(ours, "", 0.0)
    theirs = pooled(known)
    if ours is None:
        return LearnedNoise(theirs, "", 0.0)
    if _ratio_p(ours, theirs) < CONFLICT_LEVEL:
        return LearnedNoise(_as_it_is(ours, theirs, karts), "our kart", 0.0)
    return LearnedNoise(pooled([*known, ours]), "", ours.dof)


def pooled(parts: Sequence[Noise]) -> Noise:
    """One noise: session and lap variances weighted by degrees of freedom; the source is that of the first."""
    dof = sum(part.dof for part in parts)

    def mean(values: Sequence[float]) -> float:
        return sum(part.dof * value for part, value in zip(parts, values, strict=True)) / dof

    lap = mean([part.lap_sd**2 for part in parts])
    cost = mean([part.lap_factor * part.lap_sd**2 for part in parts])
    factor = cost / lap if lap > 0 else parts[0].lap_factor
    session = mean([part.session_sd**2 for part in parts])
    return Noise(
        math.sqrt(session), math.sqrt(lap), factor, parts[0].source, dof, mean([part.laps for part in parts])
    )


def _as_it_is(ours: Noise, theirs: Noise, karts: int) -> Noise:
    """Such that noise times (1 + 1/K) is our own variance plus the others' over K."""
    if karts < 1:
        return ours
    weight = karts / (karts + 1.0)
    parts = [replace(ours, dof=weight), replace(theirs, dof=1.0 - weight)]
    return replace(pooled(parts), dof=ours.dof)


def _apart(one: Noise, other: Noise) -> bool:
    """Whether two scatters differ by more than chance, in either direction."""
    p = _ratio_p(one, other)
    return min(p, 1.0 - p) < CONFLICT_LEVEL / 2.0


def _ratio_p(one: Noise, other: Noise) -> float:
    """p-value (F, one-sided) that ``one`` scatters no more than ``other``, sessions of the same number of laps."""
    laps = max(1, round(one.laps))
    rest = other.session_variance(laps)
    if rest <= 0:
        return 0.0
    return float(f_above(one.dof, other.dof, one.session_variance(laps) / rest))
