"""Which session ran which setup, when, and how much an own trend would blur the comparison."""

from dataclasses import dataclass

import numpy as np

from lapdelta.effect.arrays import Bools, Floats, Ints

BEFORE, AFTER = 0, 1
#: Interleaved orders need three sessions and a variance inflation of at most 2.
INTERLEAVED_SESSIONS = 3
INTERLEAVED_VIF = 2.0
OWN_TREND_SESSIONS = 4


@dataclass(frozen=True)
class Design:
    """Sessions of a question in their order.

    Attributes:
        level: 0 = before, 1 = after, 2.. = further setups of ours on the day.
        time: hours of the day (or session numbers, where there is no clock), mean over our laps.
        position: place of the session among all our sessions of the event, from 0.
    """

    level: Ints
    time: Floats
    position: Ints

    def own_columns(self, present: Bools, trend: bool) -> Floats:
        """Sessions by columns of our kart alone: B, one for each further level, and the own trend.

        Columns without a session, and the trend where it is not asked for, are zero throughout.
        """
        further = range(AFTER + 1, int(self.level.max(initial=AFTER)) + 1)
        columns = [self.level == AFTER, *(self.level == level for level in further)]
        time = self.time - self.time.mean()
        columns.append(trend * time / max(float(np.abs(time).max()), 1e-12))
        return np.stack([np.where(present, column, 0.0) for column in columns], axis=1)

    def compared(self, present: Bools) -> Bools:
        """Sessions of ours with a usable cell that ran the setup before or the one after."""
        return present & (self.level <= AFTER)


def variance_inflation(after: Floats, time: Floats) -> float:
    """VIF = 1/(1 - r^2), r the correlation of setup and time of day; infinite when they coincide."""
    a, t = after - after.mean(), time - time.mean()
    spread = float((a @ a) * (t @ t))
    if spread <= 0:
        return 1.0 if a @ a > 0 else float("inf")
    r_squared = float(a @ t) ** 2 / spread
    return 1 / (1 - r_squared) if r_squared < 1 - 1e-9 else float("inf")


def is_interleaved(design: Design, present: Bools) -> bool:
    """Whether the order lets the model separate the change from a trend of our own kart."""
    used = design.compared(present)
    if used.sum() < INTERLEAVED_SESSIONS:
        return False
    inflation = variance_inflation((design.level[used] == AFTER).astype(float), design.time[used])
    return inflation <= INTERLEAVED_VIF


def has_own_trend(design: Design, present: Bools) -> bool:
    """Whether an own trend gets a column: four compared sessions or more."""
    return int(design.compared(present).sum()) >= OWN_TREND_SESSIONS
