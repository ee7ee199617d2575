"""A pace from all laps: every lap is the kart's clean time, plus what traffic or a mistake cost it now and then.

Two-part mixture, fitted to all karts of a day at once, stretch by stretch (a sector, or the whole lap):

    y = mu_cell + w_lap + g_class + N(0, s_kart^2) + X,  X = 0 with probability 1 - p_class,
                                                         else exponential with mean m_class.

``w`` is the warm-up of laps 2 to 4, a class is the traffic a stretch met (``traffic.py``), class 0 none.
Fitted by expectation and maximisation (Dempster, Laird & Rubin 1977); the sum of a normal and an
exponential variable is the exponentially modified normal. Shares, means, warm-up and class terms are drawn
slightly to a prior value, kart scales to the pooled one. Information left by the unknown part: Louis 1982.
(Both from memory.)
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import erfcx

from lapdelta.effect.arrays import Bools, Floats, Ints, masked_median
from lapdelta.effect.screening import MAD_TO_SD, MIN_LAPS_FOR_SCALE, WARM_UP_LAPS

CLASSES = 5
#: Starting share of delayed stretches by traffic class, and their starting mean loss.
START_SHARE = (0.15, 0.15, 0.5, 0.8, 0.15)
START_LOSS_S = 0.5
ROUNDS = 30
#: Stop when no pace moves by more than this in a round, s.
STILL_S = 1e-5
LARGEST_LOSS_S = 3.0
SMALLEST_LOSS_SECTOR_S, SMALLEST_LOSS_LAP_S = 0.05, 0.08
SHARE_LIMITS = (0.01, 0.97)
#: How many laps the prior values are worth: warm-up, class terms, kart scales.
WARM_UP_PRIOR, CLASS_PRIOR, SCALE_PRIOR = 3, 8, 6
MIN_LAPS_FOR_WARM_UP = 4
#: A scale below the printed thousandth says that the laps do not scatter.
FLOOR_S = 1e-3
SMALLEST_INFORMATION = 0.05


@dataclass(frozen=True)
class Mixture:
    """A fit, stretches first.

    Attributes:
        pace_s: stretches by karts by sessions; NaN where the cell has no laps.
        sigma_s: stretches by karts, sd of the clean laps.
        information: stretches by karts, what a lap is worth against a lap known to be clean, 0..1.
        share, mean_loss_s, class_term_s: stretches by classes.
        warm_up_s: stretches by laps 2, 3, 4.
        rounds: until nothing moved.
    """

    pace_s: Floats
    sigma_s: Floats
    information: Floats
    share: Floats
    mean_loss_s: Floats
    class_term_s: Floats
    warm_up_s: Floats
    rounds: int


@dataclass(frozen=True)
class Laps:
    """Times of all stretches in one row (stretch by stretch, kart by kart, cell by cell), and how to sum them.

    A stretch's karts, cells and classes count apart from another stretch's.
    """

    y: Floats
    cell: Ints
    kart: Ints
    traffic: Ints
    warm: tuple[tuple[Ints, ...], ...]  # by stretch, places of laps 2, 3, 4
    cell_starts: Ints
    kart_starts: Ints
    cell_laps: Floats
    kart_laps: Floats
    class_laps: Floats
    stretches: int

    def by_class(self, values: Floats) -> Floats:
        """Sums by stretch and class."""
        return np.bincount(self.traffic, values, self.stretches * CLASSES).astype(np.float64)

    def by_cell(self, values: Floats) -> Floats:
        """Sums by stretch and cell."""
        return np.add.reduceat(values, self.cell_starts)

    def by_kart(self, values: Floats) -> Floats:
        """Sums by stretch and kart."""
        return np.add.reduceat(values, self.kart_starts)


@dataclass(frozen=True)
class State:
    """What a round starts from: paces of the cells, scales of the karts, classes' share, mean and term, warm-up.

    Each in one row, stretch by stretch; the warm-up stretches by laps 2, 3, 4.
    """

    mu: Floats
    s: Floats
    p: Floats
    m: Floats
    g: Floats
    w: Floats


@dataclass(frozen=True)
class Delays:
    """Given a state, of every lap: the chance of a delay, its expected size, and that of its square."""

    late: Floats
    loss: Floats
    square: Floats


def fit_mixture(
    time_s: Floats, kept: Bools, position: Ints, traffic: Ints, smallest_loss_s: float
) -> Mixture:
    """Fit all karts and stretches.

    Args:
        time_s: stretches by karts by sessions by laps.
        kept: karts by sessions by laps; every cell with a kept lap gets a pace.
        position: number of the lap in its run.
        traffic: classes 0..4, stretches by karts by sessions by laps.
    """
    laps = _flat(time_s, kept, position, traffic)
    state = _start(time_s, kept)
    rounds, moved = 0, np.inf
    while rounds < ROUNDS and moved >= STILL_S:
        last, rounds = state.mu, rounds + 1
        state = _round(laps, state, smallest_loss_s)
        moved = float(np.abs(state.mu - last).max(initial=0.0))
    return _result(laps, state, kept, rounds)


def _flat(time_s: Floats, kept: Bools, position: Ints, traffic: Ints) -> Laps:
    stretches = len(time_s)
    mask = np.broadcast_to(kept, time_s.shape)
    stretch, karts, sessions, _ = np.nonzero(mask)
    kart_code = stretch * kept.shape[0] + karts
    cell_starts, cell, cell_laps = _groups(kart_code * kept.shape[1] + sessions)
    kart_starts, kart, kart_laps = _groups(kart_code)
    classes = traffic[mask] + CLASSES * stretch
    where = np.broadcast_to(position, time_s.shape)[mask]
    warm = tuple(
        tuple(np.flatnonzero((where == lap) & (stretch == q)) for lap in WARM_UP_LAPS)
        for q in range(stretches)
    )
    counts = np.bincount(classes, minlength=stretches * CLASSES).astype(float)
    starts = (cell_starts, kart_starts, cell_laps, kart_laps)
    return Laps(time_s[mask], cell, kart, classes, warm, *starts, counts, stretches)


def _groups(code: Ints) -> tuple[Ints, Ints, Floats]:
    """First place of each group in a row sorted by group, each place's group, and how many are in it."""
    new = np.append(True, np.diff(code) != 0)[: len(code)]
    starts = np.flatnonzero(new)
    return starts, np.cumsum(new) - 1, np.diff(np.append(starts, len(code))).astype(float)


def _start(time_s: Floats, kept: Bools) -> State:
    """Medians of the cells; scales from the laps at or below them."""
    stretches = len(time_s)
    mask = np.broadcast_to(kept, time_s.shape)
    median = masked_median(time_s, mask)
    with np.errstate(invalid="ignore"):
        away = np.where(mask, time_s - median[..., None], np.inf)
    below = (away <= 0).reshape(stretches, kept.shape[0], -1)
    size = np.abs(away).reshape(below.shape)
    scale = MAD_TO_SD * masked_median(size, below)
    pooled = MAD_TO_SD * masked_median(size.reshape(stretches, -1), below.reshape(stretches, -1))[:, None]
    scale = np.where(below.sum(axis=-1) >= MIN_LAPS_FOR_SCALE, scale, pooled)
    scale = np.maximum(np.maximum(scale, pooled / 4), FLOOR_S)
    there, ran = np.asarray(kept.any(axis=-1)), np.asarray(kept.any(axis=(1, 2)))
    return State(
        median[:, there].ravel(),
        scale[:, ran].ravel(),
        np.tile(START_SHARE, stretches),
        np.full(stretches * CLASSES, START_LOSS_S),
        np.zeros(stretches * CLASSES),
        np.zeros((stretches, len(WARM_UP_LAPS))),
    )


def _warm_up(laps: Laps, w: Floats) -> Floats:
    """Warm-up term of every lap, s."""
    term = np.zeros_like(laps.y)
    for q, places in enumerate(laps.warm):
        for j, here in enumerate(places):
            term[here] = w[q, j]
    return term


def _delays(laps: Laps, state: State, rest: Floats) -> Delays:
    """Expectation step; ``rest`` = y - mu - w - g.

    With a = (r - s^2/m)/s and lam = phi(a)/Phi(a) the odds of a delay are p/(1-p) s/m / lam (phi(r/s) and the
    exponential cancel), so that one scaled error function does for all of it, however far out a lap lies.
    """
    s = state.s.take(laps.kart)
    a = rest / s - s * (1 / state.m).take(laps.traffic)
    before = (state.p / (1 - state.p) / state.m).take(laps.traffic)
    with np.errstate(over="ignore"):
        scaled = np.asarray(erfcx(a * -np.sqrt(0.5)), np.float64)
        inverse = np.sqrt(np.pi / 2) * scaled  # Phi(a)/phi(a)
        late = 1 - 1 / (1 + before * s * inverse)
    mean = a + 1 / inverse
    loss = late * s * mean
    return Delays(late, loss, late * s**2 * (1 + a * mean))


def _round(laps: Laps, state: State, smallest_loss_s: float) -> State:
    """One expectation and one maximisation."""
    warm, term = _warm_up(laps, state.w), state.g.take(laps.traffic)
    rest = laps.y - warm - term - state.mu.take(laps.cell)
    found = _delays(laps, state, rest)
    clean = laps.y - found.loss
    mu = laps.by_cell(clean - warm - term) / laps.cell_laps
    clean -= mu.take(laps.cell)
    w = np.zeros_like(state.w)
    for q, places in enumerate(laps.warm):
        for j, here in enumerate(places):
            if len(here) >= MIN_LAPS_FOR_WARM_UP:
                w[q, j] = (clean[here] - term[here]).sum() / (len(here) + WARM_UP_PRIOR)
    g = laps.by_class(clean - _warm_up(laps, w)) / (laps.class_laps + CLASS_PRIOR)
    g[::CLASSES] = 0.0
    squares = laps.by_kart((rest - found.loss) ** 2 + found.square - found.loss**2)
    late, loss = laps.by_class(found.late), laps.by_class(found.loss)
    return State(
        mu,
        _scales(laps, squares),
        np.clip((late + 0.5) / (laps.class_laps + 2), *SHARE_LIMITS),
        np.clip((loss + 1) / (late + 2), smallest_loss_s, LARGEST_LOSS_S),
        g,
        w,
    )


def _scales(laps: Laps, squares: Floats) -> Floats:
    """Scale of each kart, s, drawn to that of all karts of the stretch."""
    by_stretch = squares.reshape(laps.stretches, -1)
    pooled = by_stretch.sum(axis=1, keepdims=True) * laps.stretches / max(len(laps.y), 1)
    count = laps.kart_laps.reshape(laps.stretches, -1)
    variance = (by_stretch + SCALE_PRIOR * pooled) / (count + SCALE_PRIOR)
    return np.maximum(np.sqrt(np.maximum(variance, 0.0)), FLOOR_S).ravel()


def _result(laps: Laps, state: State, kept: Bools, rounds: int) -> Mixture:
    there, ran = np.asarray(kept.any(axis=-1)), np.asarray(kept.any(axis=(1, 2)))
    stretches = laps.stretches
    rest = laps.y - _warm_up(laps, state.w) - state.g.take(laps.traffic) - state.mu.take(laps.cell)
    found = _delays(laps, state, rest)
    hidden = (found.square - found.loss**2) / state.s.take(laps.kart) ** 2
    worth = laps.by_kart(np.clip(1 - hidden, SMALLEST_INFORMATION, 1.0)) / laps.kart_laps
    return Mixture(
        pace_s=_spread(state.mu, there, stretches),
        sigma_s=_spread(state.s, ran, stretches),
        information=_spread(worth, ran, stretches),
        share=state.p.reshape(stretches, CLASSES),
        mean_loss_s=state.m.reshape(stretches, CLASSES),
        class_term_s=state.g.reshape(stretches, CLASSES),
        warm_up_s=state.w,
        rounds=rounds,
    )


def _spread(values: Floats, there: Bools, stretches: int) -> Floats:
    """A row, stretch by stretch, back to where there is something; NaN elsewhere."""
    out = np.full((stretches, *there.shape), np.nan)
    out[:, there] = values.reshape(stretches, -1)
    return out
