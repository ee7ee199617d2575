"""Generalised least squares on kart-by-session cells, for a batch of problems at once.

Design: one column for each kart, one for each session, and our kart's own columns (row 0 alone). Kart
columns are eliminated in closed form, so that what is left to solve is sessions + own columns wide.
"""

from dataclasses import dataclass

import numpy as np

from lapdelta.effect.arrays import Bools, Floats, Ints
from lapdelta.effect.scale import Search, minimise_tau2

RANK_TOLERANCE = 1e-9
SMALLEST = 1e-300  # keeps a division by an absent kart's weight finite
#: Keep the last pivot of the bordered matrix positive where the cells fit exactly.
ROUNDING, SMALLEST_SQUARES = 1e-12, 1e-12


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
    """Our own columns' coefficients (problems by columns), their unscaled variances, r'Wr by problem."""

    own: Floats
    own_variance: Floats
    residual_squares: Floats


def normal_matrix(data: CellData, w: Floats) -> tuple[Floats, Floats]:
    """Normal equations of sessions, own columns and y, the karts eliminated; and the karts' summed weights.

    ``w`` is problems by points by karts by sessions, the matrix problems by points by (S + c + 1) squared.
    Sessions without cells and absent columns get 1 on the diagonal; adding the all-ones block on the
    present sessions fixes the level that karts and sessions share (it changes the determinant by a
    constant and no estimable coefficient).
    """
    own, y, S = data.own[:, None], data.pace[:, None], data.own.shape[1]
    size = S + own.shape[-1]
    wy = w * y
    total = np.maximum(w.sum(axis=-1), SMALLEST)
    by_kart = np.zeros((*w.shape[:-1], size + 1))  # each kart's weighted sums of all columns and of y
    by_kart[..., :S], by_kart[..., size] = w, wy.sum(axis=-1)
    by_kart[..., 0, S:size] = (w[..., :1, :] @ own)[..., 0, :]
    matrix = np.swapaxes(by_kart / -total[..., None], -1, -2) @ by_kart
    there = np.any(data.present[:, None], axis=2).astype(float)
    matrix[..., :S, :S] += there[..., :, None] * there[..., None, :]
    diagonal = np.einsum("...ii->...i", matrix)
    diagonal[..., :S] += w.sum(axis=-2) + (1 - there)
    diagonal[..., S:size] += ~own.any(axis=-2)
    diagonal[..., size] += (wy * y).sum(axis=(-1, -2))
    mine = w[..., 0, :, None] * own
    across = np.swapaxes(mine, -1, -2)
    matrix[..., S:size, :S] += across
    matrix[..., :S, S:size] += mine
    matrix[..., S:size, S:size] += across @ own
    for right in (matrix[..., :size, size], matrix[..., size, :size]):
        right[..., :S] += wy.sum(axis=-2)
        right[..., S:] += (wy[..., :1, :] @ own)[..., 0, :]
    return matrix, total


def weights(data: CellData, tau2: Floats) -> Floats:
    """1/(tau^2 + v) where there is a cell, else 0: problems by points by karts by sessions."""
    return data.present[:, None] / (data.variance[:, None] + tau2[..., None, None])


def fit(data: CellData, tau2: Floats) -> CellFit:
    """Fit every problem at its tau^2 (by problem)."""
    S, size = data.own.shape[1], data.own.shape[1] + data.own.shape[2]
    matrix, _ = normal_matrix(data, weights(data, tau2[:, None]))
    normal, right = matrix[:, 0, :size, :size], matrix[:, 0, :size, size]
    inverse = np.asarray(np.linalg.inv(normal), np.float64)
    solution = (inverse @ right[..., None])[..., 0]
    squares = matrix[:, 0, size, size] - (right * solution).sum(axis=-1)
    variance = inverse[:, range(S, size), range(S, size)]
    return CellFit(solution[:, S:], variance, np.maximum(squares, 0.0))


def estimable(data: CellData) -> Bools:
    """Problems whose own columns can be told apart from karts and sessions."""
    size = data.own.shape[1] + data.own.shape[2]
    matrix, _ = normal_matrix(data, data.present[:, None].astype(float))
    values = np.asarray(np.linalg.eigvalsh(matrix[:, 0, :size, :size]), np.float64)
    return values[:, 0] > RANK_TOLERANCE * np.maximum(values[:, -1], 1.0)


def reml_cells(data: CellData, search: Search, history: tuple[float, float, Floats] | None = None) -> Floats:
    """tau^2 of each problem by restricted maximum likelihood; history (nu0, s2, m) with m by problem.

    One Cholesky factor of the bordered matrix holds both log|X'WX| and r'Wr (its last diagonal squared).
    """
    karts = np.any(data.present[:, None], axis=3)
    cells = data.present.sum(axis=(1, 2))

    def criterion(tau2: Floats) -> Floats:
        w = weights(data, tau2)
        matrix, total = normal_matrix(data, w)
        matrix[..., -1, -1] *= 1 + ROUNDING
        matrix[..., -1, -1] += SMALLEST_SQUARES
        diagonal = np.diagonal(np.linalg.cholesky(matrix), axis1=-2, axis2=-1)
        log_karts = np.log(np.where(karts, total, 1.0)).sum(axis=-1)
        log_weights = np.log(np.where(data.present[:, None], w, 1.0)).sum(axis=(-1, -2))
        log_determinant = 2 * np.log(diagonal[..., :-1]).sum(axis=-1) + log_karts
        value = (log_determinant - log_weights + diagonal[..., -1] ** 2) / 2
        if history is not None:
            nu0, s2, m = history
            inside = m[:, None] + tau2
            value = value + nu0 / 2 * (np.log(inside) + s2 / inside)
        return value

    noise = np.where(data.present, data.variance, 0.0).sum(axis=(1, 2))
    return minimise_tau2(criterion, noise / np.maximum(cells, 1), search)
