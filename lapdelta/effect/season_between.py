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
    each, spread, logs = given(information / q, use, omegas)
    logs = logs - (omegas / max(omega_scale, 1e-300)) ** 2 / 2
    p = np.exp(logs - logs.max())
    p[[0, -1]] /= 2  # trapezoidal rule: the ends stand for half a step
    p /= p.sum()
    beta = p @ each
    away = each - beta
    covariance = np.einsum("g,gij->ij", p, spread) + np.einsum("g,gi,gj->ij", p, away, away)
    return Averaged(np.asarray(beta, float), np.asarray(covariance, float), float(p @ omegas))


def given(information: Floats, use: list[int], omegas: Floats) -> tuple[Floats, Floats, Floats]:
    """Coefficients, covariance and restricted log-likelihood for every omega (deviations by Schur complement)."""
    first = use[0]
    row, own = information[:, first, :], information[:, first, first]
    squared = np.asarray(omegas, float)[:, None] ** 2
    shrunk = squared / (1 + squared * own)
    total = information.sum(axis=0) - np.einsum("gd,di,dj->gij", shrunk, row, row)
    normal, right = total[:, use][:, :, use], total[:, use, -1]
    covariance = np.asarray(np.linalg.inv(normal), float)
    beta = np.einsum("gij,gj->gi", covariance, right)
    rest = total[:, -1, -1] - (beta * right).sum(axis=-1)
    logs = np.log1p(squared * own).sum(axis=-1) + np.asarray(np.linalg.slogdet(normal)[1], float)
    return np.asarray(beta, float), covariance, np.asarray(-(rest + logs) / 2, float)
