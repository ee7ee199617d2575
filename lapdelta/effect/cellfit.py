"""Generalised least squares on kart-by-session cells, for a batch of problems at once.

Design: one column for each kart, one for each session, and our kart's own columns (row 0 alone). Kart
columns are eliminated in closed form, so that what is left to solve is sessions + own columns wide.
"""

from dataclasses import dataclass

import numpy as np

from lapdelta.effect.arrays import Bools, Floats, Ints
from lapdelta.effect.scale import minimise_tau2

RANK_TOLERANCE = 1e-9


@dataclass(frozen=True)
class CellData:
    """A batch of problems: problems by karts by sessions, and own columns problems by sessions by columns.

    Cells that are not ``present`` have no weight. Values are centred by kart. A column that is zero
    throughout is not in that problem.
    """

    pace: Floats
    variance: Floats
    present: Bools
    own: Floats

    @classmethod
    def of(cls, pace: Floats, variance: Floats, own: Floats) -> "CellData":
        """From paces with NaN where missing."""
        present = np.isfinite(pace)
        count = np.maximum(present.sum(axis=2, keepdims=True), 1)
        centre = np.where(present, pace, 0.0).sum(axis=2, keepdims=True) / count
        return cls(np.where(present, pace - centre, 0.0), np.where(present, variance, 1.0), present, own)

    def take(self, rows: Ints) -> "CellData":
        """Some of the problems."""
        return CellData(self.pace[rows], self.variance[rows], self.present[rows], self.own[rows])

    @property
    def dof(self) -> Ints:
        """Cells minus columns; kart and session columns share one."""
        cells = self.present.sum(axis=(1, 2))
        karts, sessions = self.present.any(axis=2).sum(axis=1), self.present.any(axis=1).sum(axis=1)
        return cells - (karts + sessions - 1 + self.own.any(axis=1).sum(axis=1))


@dataclass(frozen=True)
class CellFit:
    """Our own columns' coefficients (problems by columns), their unscaled variance, r'Wr, log|X'WX|."""

    own: Floats
    own_variance: Floats
    residual_squares: Floats
    log_determinant: Floats


def normal_matrix(data: CellData, w: Floats) -> tuple[Floats, Floats]:
    """Normal equations with the karts eliminated, (..., S + c, S + c), and the karts' summed weights.

    ``w`` is problems by points by karts by sessions. Sessions without cells get 1 on the diagonal; adding
    the all-ones block on the present sessions fixes the level that karts and sessions share (it changes
    the determinant by a constant and no estimable coefficient).
    """
    own, S = data.own[:, None], data.own.shape[1]
    total = np.maximum(w.sum(axis=-1), 1e-300)
    share = w / total[..., None]
    size = S + own.shape[-1]
    matrix = np.zeros((*w.shape[:-2], size, size))
    there = data.present.any(axis=1)[:, None].astype(float)
    matrix[..., :S, :S] = there[..., :, None] * there[..., None, :] - np.swapaxes(w, -1, -2) @ share
    matrix[..., range(S), range(S)] += w.sum(axis=-2) + (1 - there)
    away = own - share[..., :1, :] @ own
    corner = w[..., 0, :, None] * away
    matrix[..., :S, S:] = corner
    matrix[..., S:, :S] = np.swapaxes(corner, -1, -2)
    matrix[..., S:, S:] = np.swapaxes(corner, -1, -2) @ own
    matrix[..., range(S, size), range(S, size)] += ~own.any(axis=-2)
    return matrix, total


def fit(data: CellData, tau2: Floats) -> CellFit:
    """Fit all problems at all points; ``tau2`` is problems by points, as are the result's leading axes."""
    w = np.where(data.present[:, None], 1 / (data.variance[:, None] + tau2[..., None, None]), 0.0)
    return fit_weighted(data, w)


def fit_weighted(data: CellData, w: Floats) -> CellFit:
    """Fit with given weights, problems by points by karts by sessions (0 where no cell is)."""
    S = data.own.shape[1]
    matrix, total = normal_matrix(data, w)
    y = data.pace[:, None]
    mean = (w * y).sum(axis=-1) / total
    away = w * (y - mean[..., None])
    mine = (away[..., 0, None, :] @ data.own[:, None])[..., 0, :]
    right = np.concatenate([away.sum(axis=-2), mine], axis=-1)
    solution = np.linalg.solve(matrix, right[..., None])[..., 0]
    squares = (away * (y - mean[..., None])).sum(axis=(-1, -2)) - (right * solution).sum(axis=-1)
    inverse = np.linalg.inv(matrix)[..., range(S, matrix.shape[-1]), range(S, matrix.shape[-1])]
    karts = np.log(np.where(data.present.any(axis=2)[:, None], total, 1.0)).sum(axis=-1)
    log_determinant = np.linalg.slogdet(matrix)[1] + karts
    return CellFit(solution[..., S:], inverse, np.maximum(squares, 0.0), log_determinant)


def estimable(data: CellData) -> Bools:
    """Problems whose own columns can be told apart from karts and sessions."""
    matrix, _ = normal_matrix(data, data.present[:, None].astype(float))
    values = np.linalg.eigvalsh(matrix[:, 0])
    return values[:, 0] > RANK_TOLERANCE * np.maximum(values[:, -1], 1.0)


def reml_cells(data: CellData, history: tuple[float, float, Floats] | None = None) -> Floats:
    """tau^2 of each problem by restricted maximum likelihood; history (nu0, s2, m) with m by problem."""
    noise = np.where(data.present, data.variance, 0.0)

    def criterion(tau2: Floats) -> Floats:
        result = fit(data, tau2)
        spread = np.log(np.where(data.present[:, None], data.variance[:, None] + tau2[..., None, None], 1.0))
        value = (spread.sum(axis=(-1, -2)) + result.log_determinant + result.residual_squares) / 2
        if history is None:
            return value
        nu0, s2, m = history
        inside = m[:, None] + tau2
        return value + nu0 / 2 * (np.log(inside) + s2 / inside)

    scale = noise.sum(axis=(1, 2)) / np.maximum(data.present.sum(axis=(1, 2)), 1)
    return minimise_tau2(criterion, scale)
