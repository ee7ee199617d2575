"""The same change on several days: one answer from the days' own answers.

Equal weights on purpose: a day's standard error is itself uncertain, and weighting by it favours the days
that happened to scatter little.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from lapdelta.effect.arrays import Floats
from lapdelta.effect.distributions import chi2_above, t_quantile
from lapdelta.effect.scale import paule_mandel_tau2


@dataclass(frozen=True)
class Pooled:
    """Mean shift over days, measure's unit.

    ``q``, ``q_dof``, ``q_p`` is Cochran's test that the days agree, ``between_sd`` the standard deviation of
    the true shifts from day to day (Paule-Mandel); None with one day.
    """

    estimate: float
    standard_error: float
    dof: float
    days: int
    q: float | None
    q_dof: int
    q_p: float | None
    between_sd: float | None

    def interval(self, confidence: float) -> tuple[float, float]:
        """Two-sided t interval."""
        half = float(t_quantile(self.dof, (1 + confidence) / 2)) * self.standard_error
        return self.estimate - half, self.estimate + half


def pool(estimates: Sequence[float], errors: Sequence[float], dofs: Sequence[float]) -> Pooled:
    """Equal-weight mean; SE = sqrt(sum SE_d^2)/D, df = (sum SE_d^2)^2 / sum(SE_d^4/df_d).

    The degrees of freedom are Satterthwaite's (1946, Biometrics Bulletin 2:110, eq. 17; from memory).

    Raises:
        ValueError: no day, or standard errors or df that are not above 0.
    """
    y, se, df = (np.asarray(values, float) for values in (estimates, errors, dofs))
    if not len(y) or (se <= 0).any() or (df <= 0).any():
        raise ValueError("every day needs a standard error and degrees of freedom above 0")
    variance = se**2
    total = float(variance.sum())
    agreement = _agreement(y, variance)
    return Pooled(
        estimate=float(y.mean()),
        standard_error=float(np.sqrt(total)) / len(y),
        dof=total**2 / float((variance**2 / df).sum()),
        days=len(y),
        q=agreement[0],
        q_dof=len(y) - 1,
        q_p=agreement[1],
        between_sd=agreement[2],
    )


def _agreement(y: Floats, variance: Floats) -> tuple[float | None, float | None, float | None]:
    """Cochran's Q with its chi-squared p-value, and the standard deviation between days."""
    if len(y) < 2:
        return None, None, None
    w = 1 / variance
    mean = float((w * y).sum() / w.sum())
    q = float((w * (y - mean) ** 2).sum())
    ones = np.ones((1, len(y)))
    tau2 = paule_mandel_tau2(y[None], ones, variance[None], ones)
    return q, float(chi2_above(len(y) - 1, q)), float(np.sqrt(tau2[0]))


def leave_one_out(estimates: Sequence[float], errors: Sequence[float], dofs: Sequence[float]) -> list[Pooled]:
    """The pooled answer without each day in turn; empty with one day."""
    if len(estimates) < 2:
        return []
    keep = [[j for j in range(len(estimates)) if j != i] for i in range(len(estimates))]
    return [pool([estimates[j] for j in k], [errors[j] for j in k], [dofs[j] for j in k]) for k in keep]
