"""The contrast of one kart, after minus before, net of what all karts shared; and the blocked route.

The same contrast is taken in every kart; ours is then a single case among them (Crawford & Howell 1998).
"""

from dataclasses import dataclass

import numpy as np

from lapdelta.effect.arrays import Bools, Floats
from lapdelta.effect.design import AFTER, BEFORE, Design
from lapdelta.effect.scale import paule_mandel_tau2
from lapdelta.effect.steps import OtherSteps

#: Three or four other karts agree by chance far better than lap noise allows one time in five; a quarter of it is
#: the least that is believed. False calls with three other karts fall from 6.1 to 4.7 %, intervals widen by 0.7 %.
SMALLEST_SCALE = 0.25
#: A scale below this is no chance agreement: the laps do not scatter at all, and nothing can be told from them.
NO_SCATTER = 1e-9


@dataclass(frozen=True)
class Contrasts:
    """Problems by karts: z (NaN where undefined), size f = sum c^2, noise V = sum c^2 v; weights c."""

    z: Floats
    size: Floats
    noise: Floats
    weights: Floats


@dataclass(frozen=True)
class SingleCase:
    """Our contrast against the other karts', by problem: estimate, variance, df, tau^2, other karts."""

    estimate: Floats
    variance: Floats
    q: Floats
    dof: Floats
    tau2: Floats
    others: Floats


def session_terms(pace: Floats) -> Floats:
    """Session terms, problems by sessions: least squares of other karts' paces on kart + session, centred.

    ``pace`` is problems by other karts by sessions with NaN where missing. NaN for a session without cells.
    """
    present = np.isfinite(pace).astype(float)
    count = np.maximum(present.sum(axis=2, keepdims=True), 1)
    filled = np.where(present > 0, pace, 0.0)
    away = np.where(present > 0, filled - filled.sum(axis=2, keepdims=True) / count, 0.0)
    here = present.sum(axis=1)
    matrix = -np.swapaxes(present, 1, 2) @ (present / count)
    index = range(pace.shape[2])
    matrix[:, index, index] += here
    there = (here > 0).astype(float)
    shared = there[:, :, None] * there[:, None, :]
    matrix += shared
    matrix[:, index, index] += 1 - there
    terms = _solve(matrix, away.sum(axis=1))
    return np.where(there > 0, terms, np.nan)


def _solve(matrix: Floats, right: Floats) -> Floats:
    """Solve a batch; sessions that no kart links to the rest make it singular, then the shortest solution."""
    sizes = np.abs(np.linalg.eigvalsh(matrix))
    if (sizes.min(axis=1) > 1e-9 * sizes.max(axis=1)).all():
        return np.asarray(np.linalg.solve(matrix, right[..., None])[..., 0], float)
    return (np.linalg.pinv(matrix, hermitian=True) @ right[..., None])[..., 0]


def contrast_weights(present: Bools, design: Design) -> Floats:
    """c of each kart, problems by karts by sessions: 1/n after, -1/n before, 0 on further setups.

    This is the row "B" of the pseudo-inverse of [1, B, further setups] over the kart's sessions. Zero
    throughout where the kart lacks one of the two.
    """
    after = (present & (design.level == AFTER)).astype(float)
    before = (present & (design.level == BEFORE)).astype(float)
    n_after, n_before = after.sum(axis=-1, keepdims=True), before.sum(axis=-1, keepdims=True)
    weights = after / np.maximum(n_after, 1) - before / np.maximum(n_before, 1)
    return np.where((n_after > 0) & (n_before > 0), weights, 0.0)


def contrasts(pace: Floats, variance: Floats, design: Design) -> Contrasts:
    """Contrasts of all karts net of the session terms of the other karts (rows 1..)."""
    terms = session_terms(pace[:, 1:])
    net = pace - terms[:, None, :]
    present = np.isfinite(net)
    c = contrast_weights(present, design)
    size = (c**2).sum(axis=-1)
    z = np.where(size > 0, (c * np.where(present, net, 0.0)).sum(axis=-1), np.nan)
    noise = (c**2 * np.where(present, variance, 0.0)).sum(axis=-1)
    return Contrasts(z, size, noise, c)


def single_case(
    found: Contrasts,
    nu0: float = 0.0,
    s2: float = 0.0,
    tau2: Floats | None = None,
    steps: OtherSteps | None = None,
) -> SingleCase:
    """Our contrast minus the other karts' weighted mean, scale q from their scatter.

    Where they scatter less than lap noise alone would make them, q is below 1, but not below SMALLEST_SCALE.
    With a history of weight nu0 and variance s2: q = ((n-1) q + nu0 s2 f0/(tau2 f0 + V0))/(n-1+nu0)
    (Smyth 2004); other steps of the day enter the same way. A given tau2 (and with it the weights) is kept, for
    sectors, whose q has no floor.
    """
    valid = np.isfinite(found.z[:, 1:]).astype(float)
    z = np.where(valid > 0, found.z[:, 1:], 0.0)
    floor = SMALLEST_SCALE if tau2 is None else 0.0
    if tau2 is None:
        tau2 = paule_mandel_tau2(z, found.size[:, 1:], found.noise[:, 1:], valid)
    inside = tau2[:, None] * found.size + found.noise
    w = np.where(valid > 0, 1 / np.where(valid > 0, inside[:, 1:], 1.0), 0.0)
    total = np.maximum(w.sum(axis=1), 1e-300)
    mean = (w * z).sum(axis=1) / total
    others = valid.sum(axis=1)
    dof = others - 1
    squares: Floats = (w * (z - mean[:, None]) ** 2).sum(axis=1)
    least: Floats = np.where(squares > NO_SCATTER * dof, floor * dof, 0.0)
    squares = np.maximum(squares, least)
    if steps is not None:
        more, worth = steps.scatter(tau2, valid > 0)
        squares, dof = squares + more, dof + worth
    own = inside[:, 0]
    q = (squares + nu0 * s2 * found.size[:, 0] / np.maximum(own, 1e-300)) / np.maximum(dof + nu0, 1e-300)
    variance = q * (own + 1 / total)
    return SingleCase(found.z[:, 0] - mean, variance, q, dof + nu0, tau2, others)
