"""What our kart did from one session to the next on other days, with nothing changed.

Neighbour differences of the pace, as they are (raw) and minus what the other karts did (adjusted); they
tell how much a session of this kart wanders, which a single day with few other karts cannot.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from lapdelta.effect.arrays import Bools, Floats
from lapdelta.effect.distributions import f_quantile
from lapdelta.effect.steps import OtherSteps, chain_count

MIN_ADJUSTED = 3
MIN_RAW = 4
MIN_OTHERS_FOR_ADJUSTED = 2
CONFLICT_LEVEL = 0.95


@dataclass(frozen=True)
class Differences:
    """Neighbour differences of one day in chains: each inner tuple is one unbroken chain, measure's unit."""

    raw: tuple[tuple[float, ...], ...] = ()
    adjusted: tuple[tuple[float, ...], ...] = ()


@dataclass(frozen=True)
class History:
    """Neighbour differences of other days.

    Attributes:
        adjusted: minus the other karts' same difference, measure's unit.
        adjusted_count: what they count as, being chained (nu0).
        raw, raw_count: the same as they are, for a kart that ran alone.
        steps: what the other karts did between the other sessions of the day asked about; None where unknown.
    """

    adjusted: tuple[float, ...] = field(default=())
    adjusted_count: float = 0.0
    raw: tuple[float, ...] = field(default=())
    raw_count: float = 0.0
    steps: OtherSteps | None = None

    @property
    def usable(self) -> bool:
        """Whether there are enough adjusted differences to add to a day's own evidence."""
        return len(self.adjusted) >= MIN_ADJUSTED

    @property
    def half_mean_square(self) -> float:
        """s_a^2: half the mean square of the adjusted differences, the variance of one session."""
        return float(np.mean(np.square(self.adjusted))) / 2 if self.adjusted else 0.0

    @property
    def weight(self) -> float:
        """nu0: degrees of freedom that the history is worth; 0 if it is not usable."""
        return self.adjusted_count if self.usable else 0.0


NO_HISTORY = History()


def from_numbers(differences: Sequence[float]) -> History:
    """History from given neighbour differences, each taken as independent and both raw and adjusted."""
    values = tuple(float(value) for value in differences)
    return History(values, float(len(values)), values, float(len(values)))


def from_days(days: Sequence[Differences]) -> History:
    """History from several days; each chain counts for itself."""
    adjusted = [chain for day in days for chain in day.adjusted]
    raw = [chain for day in days for chain in day.raw]
    return History(
        tuple(value for chain in adjusted for value in chain),
        sum(chain_count(len(chain)) for chain in adjusted),
        tuple(value for chain in raw for value in chain),
        sum(chain_count(len(chain)) for chain in raw),
    )


def neighbour_differences(pace: Floats, same_setup: Bools) -> Differences:
    """Differences of one day. ``pace`` karts by sessions in order, row 0 ours; ``same_setup`` (S-1) says
    whether our setup entry of a session is that of the next.
    """
    step = np.diff(pace, axis=1)
    others = np.isfinite(step[1:])
    enough = others.sum(axis=0) >= MIN_OTHERS_FOR_ADJUSTED
    common = np.where(others, step[1:], 0.0).sum(axis=0) / np.maximum(others.sum(axis=0), 1)
    mine = np.isfinite(step[0]) & same_setup
    return Differences(_chains(step[0], mine), _chains(step[0] - common, mine & enough))


def _chains(values: Floats, use: Bools) -> tuple[tuple[float, ...], ...]:
    chains: list[list[float]] = [[]]
    for value, used in zip(values.tolist(), use.tolist(), strict=True):
        if used:
            chains[-1].append(value)
        elif chains[-1]:
            chains.append([])
    return tuple(tuple(chain) for chain in chains if chain)


def conflicts(se_without: float, dof_without: float, se_with: float, dof_with: float) -> bool:
    """Whether the day itself says the history's scale is too small: then it is left out.

    P = (SE1^2 df1 - SE0^2 df0)/(df1 - df0) is what the history alone implies; compared by an F ratio.
    """
    extra = dof_with - dof_without
    implied = (se_with**2 * dof_with - se_without**2 * dof_without) / extra
    if implied <= 0:
        return True
    return se_without**2 / implied > float(f_quantile(dof_without, extra, CONFLICT_LEVEL))
