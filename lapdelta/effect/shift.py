"""A shift with its uncertainty: estimate, standard error, df; or the reason why nothing can be told."""

from dataclasses import dataclass

import numpy as np

from lapdelta.effect.distributions import t_below, t_quantile


@dataclass(frozen=True)
class Shift:
    """What one route found. Numbers in the measure's unit, after minus before.

    Attributes:
        route: interleaved, blocked, alone with trend, alone with history, alone single case, none.
        reason: why nothing can be told; empty if something can.
        tau2: variance of a session, once lap noise is off; NaN where the route has none.
        lap_noise_share: share of a cell's variance that more laps would lower; NaN where unknown.
        others: other karts compared with.
        steps_used: whether the other karts' other steps of the day say how far chance goes.
        steps_left_out: whether they were left out because this step scatters more.
    """

    route: str
    reason: str = ""
    estimate: float = float("nan")
    standard_error: float = float("nan")
    dof: float = 0.0
    tau2: float = float("nan")
    lap_noise_share: float = float("nan")
    others: int = 0
    history_used: bool = False
    history_left_out: bool = False
    steps_used: bool = False
    steps_left_out: bool = False

    @property
    def told(self) -> bool:
        """Whether the shift may be reported."""
        return not self.reason

    def interval(self, confidence: float) -> tuple[float, float]:
        """Two-sided t interval."""
        half = float(t_quantile(self.dof, (1 + confidence) / 2)) * self.standard_error
        return self.estimate - half, self.estimate + half

    @property
    def p_value(self) -> float:
        """Two-sided; never exactly 0: the smallest positive number at least."""
        if self.standard_error <= 0:
            return 1.0 if self.estimate == 0 else float(np.finfo(float).tiny)
        p = 2 * float(t_below(self.dof, -abs(self.estimate) / self.standard_error))
        return max(p, float(np.finfo(float).tiny))

    def chance_below(self, limit: float) -> float:
        """P(shift < limit) under a flat prior."""
        if self.standard_error <= 0:
            return float(self.estimate < limit)
        return float(t_below(self.dof, (limit - self.estimate) / self.standard_error))


def told_nothing(reason: str, route: str = "none") -> Shift:
    """A shift that cannot be told, with the reason."""
    return Shift(route=route, reason=reason)
