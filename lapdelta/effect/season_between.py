"""Days whose response is not quite the same: the worth of a step may differ from day to day.

Wind, temperature and rubber move the best gearing a little from day to day. A few days cannot tell by how much,
and taking it for nothing makes intervals too narrow (study of seasons, ``tests/simulated/season_study.py``). So
the slope has a deviation of its own every day, standard deviation omega, half-normal prior; the answer is the
mean over omega of the answers for each omega (weakly informative prior for few studies: Roever et al. 2021,
Research Synthesis Methods 12:448, from memory).
"""

from dataclasses import dataclass

import numpy as np

from lapdelta.effect.arrays import Floats

#: omega is looked at from 0 to so many prior scales, at so many points.
WIDEST, POINTS = 4.0, 41


@dataclass(frozen=True)
class Averaged:
    """Coefficients and their covariance, days differing in slope; ``omega`` is the posterior mean of the sd."""

    coefficients: Floats
    covariance: Floats
    omega: float


def averaged(information: Floats, use: list[int], q: float, omega_scale: float) -> Averaged:
    """Average over omega.

    Args:
        information: days by (c + 1) by (c + 1), shared columns and y, as ``season_cells.reduce`` gives it.
        use: shared columns in use; the first is the one whose coefficient differs by day.
        q: scale of the noise.
        omega_scale: scale of the prior, unit of that coefficient; 0 for days that are alike.
    """
    omegas = omega_scale * np.linspace(0, WIDEST, POINTS if omega_scale > 0 else 1)
    found = [_at(information / q, use, float(omega)) for omega in omegas]
    logs = np.array([log for _, _, log in found]) - (omegas / max(omega_scale, 1e-300)) ** 2 / 2
    p = np.exp(logs - logs.max())
    p /= p.sum()
    each, spread = (np.stack([one[i] for one in found]) for i in (0, 1))
    beta = p @ each
    away = each - beta
    covariance = np.einsum("g,gij->ij", p, spread) + np.einsum("g,gi,gj->ij", p, away, away)
    return Averaged(np.asarray(beta, float), np.asarray(covariance, float), float(p @ omegas))


def _at(information: Floats, use: list[int], omega: float) -> tuple[Floats, Floats, float]:
    """Coefficients, covariance and restricted log-likelihood for one omega (Schur complement of the deviations)."""
    first = use[0]
    row = information[:, first, :]
    shrunk = omega**2 / (1 + omega**2 * row[:, first])
    total = (information - row[:, :, None] * row[:, None, :] * shrunk[:, None, None]).sum(axis=0)
    normal, right = total[np.ix_(use, use)], total[use, -1]
    covariance = np.asarray(np.linalg.inv(normal), float)
    beta = covariance @ right
    rest = float(total[-1, -1] - beta @ right)
    logs = float(np.log1p(omega**2 * row[:, first]).sum()) + float(np.linalg.slogdet(normal)[1])
    return beta, covariance, -(rest + logs) / 2
