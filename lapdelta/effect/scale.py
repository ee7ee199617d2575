"""Between-session variance tau^2: restricted maximum likelihood, Paule-Mandel, and general least squares."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from lapdelta.effect.arrays import Floats

PAULE_MANDEL_ROUNDS = 200


@dataclass(frozen=True)
class Search:
    """How finely tau^2 is searched: grid points from low to high times the lap noise, rounds of polish.

    A round looks at the lowest point of a parabola, and ``beside`` it at these shares of the bracket.
    """

    points: int
    polish: int
    low: float = 1e-4
    high: float = 1e6
    beside: tuple[float, ...] = ()


#: For the answer itself, and for the many answers that only stand beside it.
FINE = Search(points=32, polish=4, beside=(-0.1, -0.01, -0.001, 0.001, 0.01, 0.1))
QUICK = Search(points=9, polish=4, low=1e-2, high=1e4)


@dataclass(frozen=True)
class LeastSquares:
    """A linear fit: coefficients, their covariance for unit scale, weighted residual sum of squares, df."""

    coefficients: Floats
    unscaled_covariance: Floats
    residual_squares: float
    dof: int

    @property
    def standard_errors(self) -> Floats:
        """Ordinary standard errors, scale from the residuals."""
        return np.sqrt(np.diag(self.unscaled_covariance) * self.residual_squares / self.dof)


def least_squares(X: Floats, y: Floats, weights: Floats | None = None) -> LeastSquares:
    """Least squares of y (n) on X (n by p) by QR; weights are inverse variances.

    Raises:
        ValueError: the columns are not independent.
    """
    root = np.ones(len(y)) if weights is None else np.sqrt(weights)
    Q, R = np.linalg.qr(X * root[:, None])
    diagonal = np.abs(np.diag(R))
    if len(y) < X.shape[1] or diagonal.min() < 1e-12 * diagonal.max():
        raise ValueError("the columns of the design are not independent")
    z = y * root
    coefficients = np.asarray(np.linalg.solve(R, Q.T @ z), float)
    inverse = np.asarray(np.linalg.solve(R, np.eye(X.shape[1])), float)
    residual = z - (X * root[:, None]) @ coefficients
    return LeastSquares(coefficients, inverse @ inverse.T, float(residual @ residual), len(y) - X.shape[1])


def minimise_tau2(criterion: Callable[[Floats], Floats], scale: Floats, search: Search) -> Floats:
    """tau^2 >= 0 with the smallest criterion, for a batch of problems: grid first, then polish.

    The restricted likelihood can have two maxima, so a local search alone may stop at the wrong one. The
    polish is successive parabolic interpolation in log(tau^2 + scale), kept inside a bracket (Brent 1973).

    Args:
        criterion: takes batch by points of tau^2, gives the criterion in the same shape.
        scale: batch; the size (a variance) to search around.
    """
    grid = np.concatenate([[0.0], np.geomspace(search.low, search.high, search.points)])
    value = criterion(grid * scale[:, None])
    rows, best = np.arange(len(scale)), value.argmin(axis=1)
    sides = [np.clip(best + step, 0, len(grid) - 1) for step in (-1, 0, 1)]
    x = [np.log1p(grid[side]) for side in sides]
    f = [value[rows, side] for side in sides]
    for _ in range(search.polish):
        lowest = _parabola(x, f)
        steps = [lowest, *(lowest + share * (x[2] - x[0]) for share in search.beside)]
        u = np.clip(np.stack(steps, axis=1), x[0][:, None], x[2][:, None])
        x, f = _narrow(x, f, u, criterion(np.expm1(u) * scale[:, None]))
    return np.expm1(x[1]) * scale


def _parabola(x: list[Floats], f: list[Floats]) -> Floats:
    """Lowest point of the parabola through three points; half of the wider side where there is none."""
    (a, b, c), (fa, fb, fc) = x, f
    p, q = (b - a) * (fb - fc), (b - c) * (fb - fa)
    below = 2 * (p - q)
    wider = np.where(c - b > b - a, (b + c) / 2, (a + b) / 2)
    u = b - np.divide((b - a) * p - (b - c) * q, below, out=np.full_like(b, np.inf), where=below != 0)
    inside = (u > a) & (u < c)
    near = np.abs(u - b) < 1e-6 * (c - a)
    return np.where(inside, np.where(near, b + np.where(c - b > b - a, 1e-6, -1e-6) * (c - a), u), wider)


def _narrow(x: list[Floats], f: list[Floats], u: Floats, fu: Floats) -> tuple[list[Floats], list[Floats]]:
    """The lowest of the bracket's points and the new ones (batch by points), with its neighbours."""
    points, values = np.column_stack([*x, u]), np.column_stack([*f, fu])
    rows, order = np.arange(len(points))[:, None], np.argsort(points, axis=1, kind="stable")
    points, values = points[rows, order], values[rows, order]
    best = values.argmin(axis=1)
    sides = [np.clip(best + step, 0, points.shape[1] - 1) for step in (-1, 0, 1)]
    return [points[rows[:, 0], side] for side in sides], [values[rows[:, 0], side] for side in sides]


def restricted_criterion(
    X: Floats, y: Floats, v: Floats, history: tuple[float, float, float] | None = None
) -> Callable[[Floats], Floats]:
    """Minus the restricted log-likelihood of tau^2 (Patterson & Thompson 1971), one problem, many points.

    -1/2 sum log w + 1/2 log|X'WX| + 1/2 r'Wr with w = 1/(v + tau^2). A history (nu0, s2, m) adds
    nu0/2 [log(m + tau^2) + s2/(m + tau^2)].
    """

    def criterion(tau2: Floats) -> Floats:
        flat = tau2.reshape(-1)
        w: Floats = np.reciprocal(v + flat[:, None])
        normal: Floats = np.einsum("gn,np,nq->gpq", w, X, X)
        right: Floats = np.einsum("gn,np,n->gp", w, X, y)
        beta = np.asarray(np.linalg.solve(normal, right[..., None])[..., 0], np.float64)
        residual: Floats = np.subtract(y, beta @ X.T)
        log_determinant = np.asarray(np.linalg.slogdet(normal)[1], np.float64)
        squares: Floats = (w * residual**2).sum(axis=1)
        value = (log_determinant - np.log(w).sum(axis=1) + squares) / 2
        if history is not None:
            nu0, s2, m = history
            value = value + nu0 / 2 * (np.log(m + flat) + s2 / (m + flat))
        return value.reshape(tau2.shape)

    return criterion


def reml_tau2(X: Floats, y: Floats, v: Floats, history: tuple[float, float, float] | None = None) -> float:
    """tau^2 by restricted maximum likelihood for y = X beta + u + e, Var = tau^2 + v; shapes n by p, n, n."""
    scale = np.array([float(np.median(v)) + float(np.var(y)) * 1e-3])
    return float(minimise_tau2(restricted_criterion(X, y, v, history), scale, FINE)[0])


def knapp_hartung(
    X: Floats, y: Floats, v: Floats, tau2: float, floor: float = 1.0
) -> tuple[Floats, Floats, int]:
    """Coefficients, standard errors and df with the scale q = max(floor, r'Wr/(n-p)) (Knapp & Hartung 2003).

    floor 1 never shrinks below the model's own error; floor 0 is the factor as first published.
    """
    fit = least_squares(X, y, 1 / (v + tau2))
    q = max(floor, fit.residual_squares / fit.dof)
    return fit.coefficients, np.sqrt(q * np.diag(fit.unscaled_covariance)), fit.dof


def paule_mandel_tau2(z: Floats, size: Floats, noise: Floats, valid: Floats) -> Floats:
    """tau^2 with sum w (z - zbar)^2 = n - 1, w = 1/(tau^2 size + noise); 0 if there is no root.

    Batch by karts; ``valid`` is 1 for karts that count, else 0. Newton from 0: the function falls and is
    convex, so the steps never jump over the root (Paule & Mandel 1982; DerSimonian & Kacker 2007).
    """
    z, size, noise = (
        np.where(valid > 0, z, 0.0),
        np.where(valid > 0, size, 1.0),
        np.where(valid > 0, noise, 1.0),
    )
    dof = valid.sum(axis=1) - 1
    tau2 = np.zeros(z.shape[0])
    for _ in range(PAULE_MANDEL_ROUNDS):
        w = valid / (tau2[:, None] * size + noise)
        mean = (w * z).sum(1) / np.maximum(w.sum(1), 1e-300)
        squares = (z - mean[:, None]) ** 2
        excess = (w * squares).sum(1) - dof
        slope = (w**2 * size * squares).sum(1)
        step = np.where(excess > 0, excess / np.maximum(slope, 1e-300), 0.0)
        tau2 = tau2 + step
        if (step <= 1e-12 * tau2).all():
            break
    return tau2
