"""The cells of several days reduced to what they say about our kart's response, day by day.

Each day is a block: its own level for every kart, its own term for every session, and columns of our kart
that belong to that day alone (other settings, own trend). These are eliminated day by day (Frisch & Waugh
1933; Schur complement), so a season costs no more than the sum of its days.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from lapdelta.effect.arrays import Bools, Floats
from lapdelta.effect.cellfit import CellData, normal_matrix, weights
from lapdelta.effect.routes import link

#: Eigenvalues below this share of the largest are directions that the day says nothing about.
NOTHING = 1e-9
#: Days with at least so many of our sessions get an own trend each; shorter ones share one.
OWN_TREND_SESSIONS = 4


@dataclass(frozen=True)
class DayCells:
    """One day.

    Attributes:
        pace: karts by sessions, row 0 ours; NaN where missing or left out.
        variance: of lap noise, same shape.
        x: the factor in every session (log ratio, say); any number where our cell is missing.
        private: sessions by columns, our kart's other settings of the day as 0/1 columns.
        time: of the sessions, hours or their places.
        also: sessions by further columns of our kart that all days share (other factors); any number where our
            cell is missing.
    """

    pace: Floats
    variance: Floats
    x: Floats
    private: Floats
    time: Floats
    also: Floats = field(default_factory=lambda: np.zeros((0, 0)))

    def further(self) -> Floats:
        """``also``, with no columns where there are none."""
        return self.also if self.also.size else np.zeros((len(self.x), 0))


@dataclass(frozen=True)
class Reduced:
    """Information about the shared columns and y, points of tau^2 by days by (c + 1) by (c + 1).

    ``log_likelihood`` points by days: what the eliminated columns add to the restricted log-likelihood.
    ``parameters`` days: columns eliminated, kart levels included.
    """

    information: Floats
    log_likelihood: Floats
    parameters: Floats


@dataclass(frozen=True)
class Stack:
    """Days padded to a batch; own columns are the private ones first, then ``shared`` columns."""

    data: CellData
    shared: int

    @property
    def cells(self) -> Floats:
        """Cells of each day."""
        return self.data.present.sum(axis=(1, 2)).astype(float)

    def without_ours(self) -> "Stack":
        """The same days without our kart."""
        present = self.data.present.copy()
        present[:, 0] = False
        own = np.zeros_like(self.data.own)
        return Stack(CellData(self.data.pace, self.data.variance, present, own), self.shared)


def standardised(x: Floats, centre: float, scale: float) -> Floats:
    """z = (x - centre) / scale, the factor as the fit sees it."""
    return np.asarray((x - centre) / scale, float)


def stack(days: Sequence[DayCells], centre: float, scale: float, degree: int) -> Stack:
    """All days as one batch; shared columns z, z^2, .., further ones, and last the trend that the short days share."""
    karts = max(len(day.pace) for day in days)
    sessions = max(day.pace.shape[1] for day in days)
    columns = max(day.private.shape[1] for day in days) + 1
    also = max(day.further().shape[1] for day in days)
    pace = np.full((len(days), karts, sessions), np.nan)
    variance = np.ones_like(pace)
    own = np.zeros((len(days), sessions, columns + degree + also + 1))
    for d, day in enumerate(days):
        k, s = day.pace.shape
        pace[d, :k, :s] = np.where(link(day.pace[None])[0][0], day.pace, np.nan)
        variance[d, :k, :s] = np.where(np.isfinite(day.variance), day.variance, 1.0)
        mine = np.isfinite(pace[d, 0, :s])
        z = standardised(np.where(mine, day.x, centre), centre, scale)
        trend = _unit(day.time, mine)
        long = mine.sum() >= OWN_TREND_SESSIONS
        parts = [_spread(day.private, mine, columns - 1), (trend * long)[:, None]]
        parts += [_centred(z**power, mine)[:, None] for power in range(1, degree + 1)]
        parts += [_centred(column, mine)[:, None] for column in day.further().T]
        own[d, :s] = np.concatenate([*parts, (trend * (not long))[:, None]], axis=1)
    return Stack(CellData.of(pace, variance, own), degree + also + 1)


def _centred(values: Floats, mine: Bools) -> Floats:
    """Minus their mean over our sessions, which the level of our kart takes up; 0 elsewhere."""
    middle = values[mine].mean() if mine.any() else 0.0
    return np.where(mine, values - middle, 0.0)


def _unit(time: Floats, mine: Bools) -> Floats:
    centred = _centred(time, mine)
    return centred / max(float(np.abs(centred).max(initial=0.0)), 1e-12)


def _spread(private: Floats, mine: Bools, columns: int) -> Floats:
    wide = np.zeros((len(private), columns))
    wide[:, : private.shape[1]] = np.where(mine[:, None], private, 0.0)
    return wide


def reduce(stacked: Stack, tau2: Floats) -> Reduced:
    """Eliminate sessions and private columns (karts are already) for points of tau^2."""
    data, c = stacked.data, stacked.shared
    points = np.broadcast_to(tau2, (len(data.pace), len(tau2)))
    w = weights(data, points)
    matrix, total = normal_matrix(data, w)
    n = matrix.shape[-1] - c - 1
    values, vectors = (np.asarray(part, float) for part in np.linalg.eigh(matrix[..., :n, :n]))
    told = np.greater(values, NOTHING * values[..., -1:])
    turned = np.swapaxes(vectors, -1, -2) @ matrix[..., :n, n:]
    inverse = np.where(told, 1 / np.where(told, values, 1.0), 0.0)
    information = matrix[..., n:, n:] - np.swapaxes(turned, -1, -2) @ (inverse[..., None] * turned)
    absent = np.equal(np.abs(data.own[:, :, -c:]).sum(axis=1), 0)
    information[..., range(c), range(c)] -= absent[:, None, :]
    karts = np.greater(data.present.sum(axis=2), 0)
    logs = np.log(np.where(karts[:, None], total, 1.0)).sum(axis=-1)
    logs = logs + np.log(np.where(told, values, 1.0)).sum(axis=-1)
    log_w = np.log(np.where(data.present[:, None], w, 1.0)).sum(axis=(-1, -2))
    private = data.own.shape[2] - c
    padding = (~data.present.any(axis=1)).sum(axis=1) + (~data.own[:, :, :private].any(axis=1)).sum(axis=1)
    parameters = karts.sum(axis=1) + told[:, 0, :].sum(axis=1) - padding - 1
    empty = np.equal(karts.sum(axis=1), 0)
    return Reduced(
        np.swapaxes(information, 0, 1),
        np.swapaxes((log_w - logs) / 2, 0, 1),
        np.where(empty, 0.0, parameters).astype(float),
    )
