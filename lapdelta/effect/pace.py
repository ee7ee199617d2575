"""Clean pace of a cell (kart by session) and how uncertain lap noise makes it.

The pace is the mean of the quickest 70 % of the kept laps with a fractional weight on the boundary
lap. Its noise is pooled over the kart's sessions on purpose: spreads cell by cell rise with traffic
and would tie weight to pace.

This is the seam for other definitions of pace: whatever makes ``Cells`` (and, for sectors, lap
weights) is carried through the same contrasts, routes and verdicts.
"""

from dataclasses import dataclass

import numpy as np

from lapdelta.effect.arrays import Bools, Floats, Ints, LapCube, masked_median, masked_quantile
from lapdelta.effect.screening import MAD_TO_SD, MIN_KEPT, Screened

#: Share of the kept laps, the quickest, that make the pace.
PACE_FRACTION = 0.7
#: Variance of that mean against sigma^2/n, and of the middle half of speeds; measured by simulation.
PACE_VARIANCE_FACTOR = 1.1
SPEED_VARIANCE_FACTOR = 1.3
FLOOR_SIGMA_S = 0.02
HUBER_K = 1.345  # 95 % efficiency at the normal (Huber 1964, from memory)
HUBER_ROUNDS = 30
STILL_S = 1e-12  # a step that moves no location by more is the last
EARLY_LAPS = (2, 5)  # positions in a run, both included
FIRST_LATE_LAP = 6
MIN_LAPS_FOR_QUANTILE = 5


@dataclass(frozen=True)
class Cells:
    """Pace of every cell, karts by sessions, row 0 ours; NaN where missing.

    ``pace`` in the measure's unit, ``variance`` of lap noise in its square, ``laps`` used.
    """

    pace: Floats
    variance: Floats
    laps: Floats

    @property
    def present(self) -> Bools:
        """Cells that have a pace."""
        return np.isfinite(self.pace)


def _places(shape: tuple[int, ...]) -> Ints:
    """0, 1, 2.. along the last axis, broadcast to that shape."""
    return np.broadcast_to(np.arange(shape[-1], dtype=np.int64), shape)


def lap_weights(time_s: Floats, kept: Bools, fraction: float = PACE_FRACTION) -> Floats:
    """Weights of the laps of each cell, adding up to 1: the quickest share, the boundary lap in part.

    Ties in rank go by file order. Zero everywhere in a cell with fewer than three kept laps.
    """
    order = np.argsort(np.where(kept, time_s, np.inf), axis=-1, kind="stable")
    rank = np.empty_like(order)
    np.put_along_axis(rank, order, _places(order.shape), axis=-1)
    count = kept.sum(axis=-1, keepdims=True)
    share = fraction * count
    weights = np.where(kept, np.clip(share - rank, 0.0, 1.0), 0.0)
    return np.where(count >= MIN_KEPT, weights / np.maximum(share, 1e-300), 0.0)


def weighted_pace(values: Floats, weights: Floats) -> Floats:
    """Sum of weights times values over the laps of each cell; NaN where there are no weights.

    The cell's first weighted value is taken off first: constant laps then give exactly that constant.
    """
    used = weights > 0
    first = np.take_along_axis(values, used.argmax(axis=-1)[..., None], axis=-1)
    away = np.where(used, values - first, 0.0)
    pace = first[..., 0] + (away * weights).sum(axis=-1)
    return np.where(used.any(axis=-1), pace, np.nan)


def lap_noise(time_s: Floats, kept: Bools, floor: float = FLOOR_SIGMA_S) -> Floats:
    """sigma of each kart, s: 1.4826 x median |deviation from the cell median|, pooled over its sessions."""
    karts = time_s.shape[0]
    present = kept.sum(axis=-1) >= MIN_KEPT
    used = (kept & present[..., None]).reshape(karts, -1)
    deviation = np.abs(time_s - masked_median(time_s, kept)[..., None]).reshape(karts, -1)
    laps, sessions = used.sum(axis=1), present.sum(axis=1)
    sigma = MAD_TO_SD * masked_median(deviation, used) * np.sqrt(laps / np.maximum(laps - sessions, 1))
    return np.maximum(np.nan_to_num(sigma, nan=floor), floor)


def _cells(pace: Floats, kept: Bools, sigma: Floats, factor: float) -> Cells:
    laps = kept.sum(axis=-1)
    present = (laps >= MIN_KEPT) & np.isfinite(pace)
    variance = factor * (sigma**2)[:, None] / np.maximum(laps, 1)
    return Cells(np.where(present, pace, np.nan), np.where(present, variance, np.nan), laps.astype(float))


def clean_pace(screened: Screened, fraction: float = PACE_FRACTION) -> Cells:
    """Clean pace of all cells from screened laps, s."""
    weights = lap_weights(screened.time_s, screened.kept, fraction)
    pace = weighted_pace(screened.time_s, weights)
    return _cells(pace, screened.kept, lap_noise(screened.time_s, screened.kept), PACE_VARIANCE_FACTOR)


def part_pace(cube: LapCube, screened: Screened, first: int, last: int, fraction: float) -> Cells:
    """Clean pace of the laps at positions first to last of a run, s; noise of all the kart's kept laps."""
    kept = screened.kept & (cube.position >= first) & (cube.position <= last)
    pace = weighted_pace(screened.time_s, lap_weights(screened.time_s, kept, fraction))
    return _cells(pace, kept, lap_noise(screened.time_s, screened.kept), PACE_VARIANCE_FACTOR)


def huber_pace(screened: Screened) -> Cells:
    """Huber location (k = 1.345, scale sigma of the kart) of the kept laps, s: the companion of the pace."""
    sigma = lap_noise(screened.time_s, screened.kept)
    limit = HUBER_K * sigma[:, None, None]
    location = masked_median(screened.time_s, screened.kept)
    for _ in range(HUBER_ROUNDS):
        away = np.where(screened.kept, screened.time_s - location[..., None], 0.0)
        weight = np.where(screened.kept, limit / np.maximum(np.abs(away), limit), 0.0)
        step = (weight * away).sum(axis=-1) / np.maximum(weight.sum(axis=-1), 1e-300)
        location = location + step
        if np.abs(step[screened.kept.any(axis=-1)]).max(initial=0.0) < STILL_S:
            break
    return _cells(location, screened.kept, sigma, PACE_VARIANCE_FACTOR)


def middle_half(values: Floats, kept: Bools) -> Cells:
    """Mean of the middle half of a speed (or engine speed) over the kept laps, in its unit.

    floor(n/4) values are dropped at each end: the session's maximum is made by a tow. Noise floor is
    half the printed step.
    """
    used = kept & np.isfinite(values)
    used = used & (used.sum(axis=-1, keepdims=True) >= MIN_KEPT)  # a missing cell says nothing of the noise
    order = np.argsort(np.where(used, values, np.inf), axis=-1, kind="stable")
    rank = np.empty_like(order)
    np.put_along_axis(rank, order, _places(order.shape), axis=-1)
    count = used.sum(axis=-1, keepdims=True)
    drop = count // 4
    inside = used & (rank >= drop) & (rank < count - drop)
    weights = inside / np.maximum(inside.sum(axis=-1, keepdims=True), 1)
    pace = weighted_pace(np.where(used, values, 0.0), weights)
    karts = values.shape[0]
    deviation = np.abs(np.where(used, values, 0.0) - masked_median(values, used)[..., None])
    sigma = MAD_TO_SD * masked_median(deviation.reshape(karts, -1), used.reshape(karts, -1))
    sigma = np.maximum(np.nan_to_num(sigma), printed_step(values[used]) / 2)
    return _cells(pace, used, sigma, SPEED_VARIANCE_FACTOR)


def printed_step(values: Floats) -> float:
    """Smallest step between different printed values, in their unit; 1 if there are not two."""
    steps = np.diff(np.unique(np.round(values, 6)))
    return float(steps.min()) if steps.size else 1.0


def quantile_pace(cube: LapCube, screened: Screened, clean: Cells, quantile: float) -> Cells:
    """Quantile of all laps but the out lap, cell by cell, s (>= 5 laps); lap noise of the clean pace."""
    usable = cube.usable
    enough = (usable.sum(axis=-1) >= MIN_LAPS_FOR_QUANTILE) & clean.present
    value = np.where(enough, masked_quantile(cube.time_s, usable, quantile), np.nan)
    return Cells(value, np.where(enough, clean.variance, np.nan), usable.sum(axis=-1).astype(float))
