"""Our kart's response to one setting over several days: generalised least squares with one tau^2.

y = kart and day + session + response(x) [ours] + further factors [ours] + own trend and other settings of the
day [ours] + u + e, u ~ (0, tau^2) by kart and session, tau^2 by restricted maximum likelihood (Patterson &
Thompson 1971). Where days may differ in their slope, see ``season_between``.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from lapdelta.effect.arrays import Floats
from lapdelta.effect.distributions import f_above
from lapdelta.effect.scale import FINE, minimise_tau2
from lapdelta.effect.season_between import averaged
from lapdelta.effect.season_cells import DayCells, Stack, reduce, stack

#: A shared column of which less than this share is left after the day's own columns says nothing.
NOTHING_LEFT = 1e-7
#: Level of the two checks that widen the interval: our own scatter, and days that disagree.
CHECK_LEVEL = 0.05
MIN_DOF = 2.0


@dataclass(frozen=True)
class ResponseFit:
    """A fitted response in z = (x - centre)/scale; no level: only differences can be told.

    Attributes:
        coefficients: of z, z^2, ..; the measure's unit.
        covariance: theirs, with the scale q already in it.
        dof: degrees of freedom of the t interval.
        tau2: variance of a session beyond lap noise, all karts.
        own_ratio, own_p: our scatter over the others', as variances, and its p-value; None if not known.
        days_statistic, days_dof, days_p: whether the days agree on the response; None with one day.
        widened: "", "own scatter" or "days disagree": which of them sets the interval's width.
        lap_variance: mean lap-noise variance of our cells.
        others: mean number of other karts a session.
        between_sd: standard deviation of the slope from day to day, per z; 0 where days were taken as alike.
        also: by further column (estimate, standard error) per its unit; None where it never varied apart.
    """

    coefficients: Floats
    covariance: Floats
    dof: float
    tau2: float
    centre: float
    scale: float
    sessions: int
    days: int
    own_ratio: float | None
    own_p: float | None
    days_statistic: float | None
    days_dof: int
    days_p: float | None
    widened: str
    lap_variance: float
    others: float
    between_sd: float = 0.0
    also: tuple[tuple[float, float] | None, ...] = ()

    @property
    def degree(self) -> int:
        """1 a straight line, 2 a parabola."""
        return len(self.coefficients)


def basis(fit: ResponseFit, x: Floats) -> Floats:
    """Columns z, z^2, .. at x; shape of x by degree."""
    z = (np.asarray(x, float) - fit.centre) / fit.scale
    return np.stack([z**power for power in range(1, fit.degree + 1)], axis=-1)


def fit_response(
    days: Sequence[DayCells], degree: int, slope_sd: float = 0.0, tau2: float | None = None
) -> ResponseFit | str:
    """The response of that degree, or why it cannot be told.

    ``slope_sd`` is the scale by which the slope (per x) may differ from day to day; 0 takes the days as alike.
    ``tau2`` is taken as it is where given, else estimated.
    """
    used = [day for day in days if np.isfinite(day.pace[0]).sum() >= 2]
    if not used:
        return "no day has two usable sessions of this kart"
    x = np.concatenate([day.x[np.isfinite(day.pace[0])] for day in used])
    centre, scale = float(x.mean()), float(x.std())
    if scale <= 1e-12 * max(abs(centre), 1.0):
        return "only one value was ever run"
    stacked = stack(used, centre, scale, degree)
    shared = _estimable(stacked, degree)
    if isinstance(shared, str):
        return shared
    scatter = _reml(stacked, shared) if tau2 is None else tau2
    return _judged(stacked, shared, degree, scatter, (centre, scale), slope_sd * scale)


def _estimable(stacked: Stack, degree: int) -> list[int] | str:
    """Indices of the shared columns in use: the response, then what can be told apart from it and one another."""
    noise = stacked.data.variance[stacked.data.present]
    information = reduce(stacked, np.array([float(np.median(noise))])).information[0].sum(axis=0)
    raw = (stacked.data.own[:, :, -stacked.shared :] ** 2).sum(axis=(0, 1)) / float(np.median(noise))
    left = np.diag(information)[:-1] / np.maximum(raw, 1e-300)
    told = (left > NOTHING_LEFT) & (raw > 0)
    use = [*range(degree)]
    if not told[:degree].all() or not _apart(information, use):
        return _WHY[degree]
    for column in [stacked.shared - 1, *range(degree, stacked.shared - 1)]:  # the trend before other factors
        if told[column] and _apart(information, [*use, column]):
            use.append(column)
    return sorted(use)


def _apart(information: Floats, use: list[int]) -> bool:
    """Whether columns can be told from one another."""
    part = information[np.ix_(use, use)]
    size = np.sqrt(np.diag(part))
    return bool(np.linalg.eigvalsh(part / np.outer(size, size))[0] >= NOTHING_LEFT)


_WHY = {
    1: "no day ran two values in a way that tells them from the day's other changes and the driver's progress",
    2: "three values compared within days are needed to tell a curve from a line",
}


def _criterion(stacked: Stack, use: list[int], tau2: Floats) -> Floats:
    """Minus the restricted log-likelihood."""
    reduced = reduce(stacked, tau2.reshape(-1))
    total = reduced.information.sum(axis=1)
    normal = total[:, use][:, :, use]
    right, squares = total[:, use, -1], total[:, -1, -1]
    beta = np.asarray(np.linalg.solve(normal, right[..., None])[..., 0], np.float64)
    rest: Floats = squares - (beta * right).sum(axis=-1)
    value = (np.asarray(np.linalg.slogdet(normal)[1], np.float64) + rest) / 2 - reduced.log_likelihood.sum(
        axis=1
    )
    return np.asarray(value, float).reshape(tau2.shape)


def _reml(stacked: Stack, use: list[int]) -> float:
    scale = np.array([float(stacked.data.variance[stacked.data.present].mean())])
    return float(minimise_tau2(lambda tau2: _criterion(stacked, use, tau2), scale, FINE)[0])


def _solve(information: Floats, use: list[int]) -> tuple[Floats, Floats, float]:
    """Coefficients, unscaled covariance, residual sum of squares."""
    normal, right = information[np.ix_(use, use)], information[use, -1]
    covariance = np.asarray(np.linalg.inv(normal), float)
    beta = covariance @ right
    return beta, covariance, max(float(information[-1, -1] - beta @ right), 0.0)


def _judged(
    stacked: Stack, use: list[int], degree: int, tau2: float, axis: tuple[float, float], omega: float
) -> ResponseFit | str:
    reduced = reduce(stacked, np.array([tau2]))
    information = reduced.information[0]
    beta, unscaled, squares = _solve(information.sum(axis=0), use)
    dof = float(stacked.cells.sum() - reduced.parameters.sum() - len(use))
    if dof < MIN_DOF:
        return f"only {dof:.0f} degrees of freedom are left, two are needed"
    others = stacked.without_ours()
    rest = reduce(others, np.array([tau2]))
    others_squares = float(rest.information[0].sum(axis=0)[-1, -1])
    others_dof = float(others.cells.sum() - rest.parameters.sum())
    own = _own_scatter(squares - others_squares, dof - others_dof, others_squares, others_dof)
    statistic, days_dof = _between_days(information, use, squares)
    q, used_dof, widened = max(1.0, squares / dof), dof, ""
    if own[1] is not None and own[1] < CHECK_LEVEL and dof - others_dof >= MIN_DOF:
        q, used_dof, widened = (
            max(1.0, (squares - others_squares) / (dof - others_dof)),
            dof - others_dof,
            OWN,
        )
    days_p = None
    if days_dof > 0:
        ratio = statistic / days_dof / q
        days_p = float(f_above(days_dof, used_dof, max(ratio, 0.0)))
        if days_p < CHECK_LEVEL and days_dof >= MIN_DOF:
            q, used_dof, widened = q * ratio, float(days_dof), DAYS
    covariance, between = q * unscaled, 0.0
    if omega > 0 and widened != DAYS and stacked.data.present[:, 0].any(axis=1).sum() > 1:
        mean = averaged(information, use, q, omega)
        beta, covariance, between = mean.coefficients, mean.covariance, mean.omega
    mine = stacked.data.present[:, 0]
    seen = stacked.data.present[:, 1:].sum(axis=1)[mine]
    return ResponseFit(
        coefficients=beta[:degree],
        covariance=covariance[:degree, :degree],
        dof=used_dof,
        tau2=tau2,
        centre=axis[0],
        scale=axis[1],
        sessions=int(mine.sum()),
        days=int(mine.any(axis=1).sum()),
        own_ratio=own[0],
        own_p=own[1],
        days_statistic=statistic if days_dof else None,
        days_dof=days_dof,
        days_p=days_p,
        widened=widened,
        lap_variance=float(stacked.data.variance[:, 0][mine].mean()),
        others=float(seen.mean()),
        between_sd=between,
        also=_also(beta, covariance, use, degree, stacked.shared - 1),
    )


def _also(
    beta: Floats, covariance: Floats, use: list[int], degree: int, end: int
) -> tuple[tuple[float, float] | None, ...]:
    """(estimate, standard error) of the further columns; None where one cannot be told apart."""
    place = {column: i for i, column in enumerate(use)}
    return tuple(
        (float(beta[place[c]]), float(np.sqrt(covariance[place[c], place[c]]))) if c in place else None
        for c in range(degree, end)
    )


OWN, DAYS = "own scatter", "days disagree"


def _own_scatter(
    mine: float, mine_dof: float, others: float, others_dof: float
) -> tuple[float | None, float | None]:
    """Our residual mean square over the other karts', and the p-value of its F ratio (one-sided)."""
    if mine_dof < 1 or others_dof < 1 or others <= 0:
        return None, None
    ratio = max(mine, 0.0) / mine_dof / (others / others_dof)
    return ratio, float(f_above(mine_dof, others_dof, ratio))


def _between_days(information: Floats, use: list[int], squares: float) -> tuple[float, int]:
    """Sum of squares that separate responses by day would take away, and its degrees of freedom."""
    inner, directions = 0.0, 0
    total = np.sqrt(np.diag(information.sum(axis=0))[use])
    for day in information:
        part = day[np.ix_(use, use)] / np.outer(total, total)
        values, vectors = np.linalg.eigh(part)
        told = values > NOTHING_LEFT
        directions += int(told.sum())
        right = vectors[:, told].T @ (day[use, -1] / total)
        inner += float(day[-1, -1] - (right**2 / values[told]).sum())
    return max(squares - inner, 0.0), max(directions - len(use), 0)
