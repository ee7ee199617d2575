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

from lapdelta.effect.arrays import Bools, Floats, Ints, masked_median
from lapdelta.effect.mills import inverse_mills
from lapdelta.effect.screening import MAD_TO_SD, MIN_LAPS_FOR_SCALE, WARM_UP_LAPS

CLASSES = 5
#: Starting share of delayed stretches by traffic class, and their starting mean loss.
START_SHARE = (0.15, 0.15, 0.5, 0.8, 0.15)
START_LOSS_S = 0.5
ROUNDS = 20
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

    Attributes:
        cell, kart: of every time.
        kart_class: kart times CLASSES plus traffic class.
        condition: stretch, traffic class and place in the warm-up (0 past it, else lap 2, 3 or 4) in one code.
        laps_in: how many times each condition has, stretches by classes by places in the warm-up.
    """

    y: Floats
    cell: Ints
    kart: Ints
    kart_class: Ints
    condition: Ints
    cell_starts: Ints
    kart_starts: Ints
    cell_laps: Floats
    kart_laps: Floats
    laps_in: Floats

    @property
    def stretches(self) -> int:
        """Stretches of a lap."""
        return len(self.laps_in)

    def by_condition(self, values: Floats) -> Floats:
        """Sums, stretches by classes by places in the warm-up."""
        sums = np.bincount(self.condition, values, self.laps_in.size)
        return sums.astype(np.float64).reshape(self.laps_in.shape)

    def by_cell(self, values: Floats) -> Floats:
        """Sums by stretch and cell."""
        return np.add.reduceat(values, self.cell_starts)

    def by_kart(self, values: Floats) -> Floats:
        """Sums by stretch and kart."""
        return np.add.reduceat(values, self.kart_starts)


@dataclass(frozen=True)
class State:
    """What a round starts from.

    ``mu`` by cell and ``s`` by kart in one row, stretch by stretch; share ``p``, mean loss ``m`` and term ``g``
    stretches by classes; warm-up ``w`` stretches by laps 2, 3, 4.
    """

    mu: Floats
    s: Floats
    p: Floats
    m: Floats
    g: Floats
    w: Floats

    @property
    def term(self) -> Floats:
        """What a condition adds to the pace: stretches by classes by places in the warm-up."""
        return self.g[..., None] + np.concatenate([np.zeros((len(self.w), 1)), self.w], axis=1)[:, None]


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
    karts, sessions, _ = np.nonzero(kept)
    where = position[kept]
    place = np.where((where >= WARM_UP_LAPS[0]) & (where <= WARM_UP_LAPS[-1]), where - WARM_UP_LAPS[0] + 1, 0)
    cell, cell_starts, cell_laps = _groups(karts * kept.shape[1] + sessions, stretches)
    kart, kart_starts, kart_laps = _groups(karts, stretches)
    met = traffic[:, kept]
    size = (stretches, CLASSES, 1 + len(WARM_UP_LAPS))
    stretch = np.arange(stretches)[:, None]
    condition = ((stretch * CLASSES + met) * size[2] + place).ravel()
    return Laps(
        y=time_s[:, kept].ravel(),
        cell=cell,
        kart=kart,
        kart_class=kart * CLASSES + met.ravel(),
        condition=condition,
        cell_starts=cell_starts,
        kart_starts=kart_starts,
        cell_laps=cell_laps,
        kart_laps=kart_laps,
        laps_in=np.bincount(condition, minlength=int(np.prod(size))).reshape(size).astype(float),
    )


def _groups(code: Ints, stretches: int) -> tuple[Ints, Ints, Floats]:
    """Of a row sorted by group and repeated for each stretch: each place's group, first places, counts."""
    new = np.append(True, np.diff(code) != 0)[: len(code)]
    starts, group = np.flatnonzero(new), np.cumsum(new) - 1
    counts = np.diff(np.append(starts, len(code))).astype(float)
    stretch = np.arange(stretches)[:, None]
    return (
        (group + stretch * len(starts)).ravel(),
        (starts + stretch * len(code)).ravel(),
        np.tile(counts, stretches),
    )


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
        np.tile(START_SHARE, (stretches, 1)),
        np.full((stretches, CLASSES), START_LOSS_S),
        np.zeros((stretches, CLASSES)),
        np.zeros((stretches, len(WARM_UP_LAPS))),
    )


def _delays(laps: Laps, state: State, rest: Floats) -> Delays:
    """Expectation step; ``rest`` = y - mu - w - g.

    With a = (r - s^2/m)/s and lam = phi(a)/Phi(a) the odds of a delay are p/(1-p) s/m / lam (phi(r/s) and the
    exponential cancel), so that one ratio does for all of it, however far out a lap lies.
    """
    by_stretch = state.s.reshape(laps.stretches, -1, 1)
    slower = by_stretch / state.m[:, None]
    odds = (slower * (state.p / (1 - state.p))[:, None]).ravel().take(laps.kart_class)
    s = state.s.take(laps.kart)
    a = rest / s
    a -= slower.ravel().take(laps.kart_class)
    ratio = inverse_mills(a)
    late = odds / (odds + ratio)
    ratio += a  # mean delay in scales, where there is one
    loss = late * s
    square = loss * s
    loss *= ratio
    a *= ratio
    a += 1
    square *= a
    return Delays(late, loss, square)


def _round(laps: Laps, state: State, smallest_loss_s: float) -> State:
    """One expectation and one maximisation."""
    net = laps.y - state.term.ravel().take(laps.condition)
    rest = net - state.mu.take(laps.cell)
    found = _delays(laps, state, rest)
    net -= found.loss
    mu = laps.by_cell(net) / laps.cell_laps
    net -= mu.take(laps.cell)  # what is left over the terms of this round
    left = laps.by_condition(net) + laps.laps_in * state.term
    w = _warm_up(laps, left - laps.laps_in * state.g[..., None])
    of_laps = (left[..., 1:] - laps.laps_in[..., 1:] * w[:, None]).sum(axis=2) + left[..., 0]
    class_laps = laps.laps_in.sum(axis=2)
    g = of_laps / (class_laps + CLASS_PRIOR)
    g[:, 0] = 0.0
    squares = laps.by_kart(rest * (rest - 2 * found.loss) + found.square)
    late, loss = (laps.by_condition(values).sum(axis=2) for values in (found.late, found.loss))
    return State(
        mu,
        _scales(laps, squares),
        np.clip((late + 0.5) / (class_laps + 2), *SHARE_LIMITS),
        np.clip((loss + 1) / (late + 2), smallest_loss_s, LARGEST_LOSS_S),
        g,
        w,
    )


def _warm_up(laps: Laps, left: Floats) -> Floats:
    """Warm-up terms, stretches by laps 2, 3, 4, from what is left of the times by condition; 0 from few laps."""
    count = laps.laps_in[..., 1:].sum(axis=1)
    return np.where(count >= MIN_LAPS_FOR_WARM_UP, left[..., 1:].sum(axis=1) / (count + WARM_UP_PRIOR), 0.0)


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
    rest = laps.y - state.term.ravel().take(laps.condition) - state.mu.take(laps.cell)
    found = _delays(laps, state, rest)
    hidden = (found.square - found.loss**2) / state.s.take(laps.kart) ** 2
    worth = laps.by_kart(np.clip(1 - hidden, SMALLEST_INFORMATION, 1.0)) / laps.kart_laps
    return Mixture(
        pace_s=_spread(state.mu, there, stretches),
        sigma_s=_spread(state.s, ran, stretches),
        information=_spread(worth, ran, stretches),
        share=state.p,
        mean_loss_s=state.m,
        class_term_s=state.g,
        warm_up_s=state.w,
        rounds=rounds,
    )


def _spread(values: Floats, there: Bools, stretches: int) -> Floats:
    """A row, stretch by stretch, back to where there is something; NaN elsewhere."""
    out = np.full((stretches, *there.shape), np.nan)
    out[:, there] = values.reshape(stretches, -1)
    return out
