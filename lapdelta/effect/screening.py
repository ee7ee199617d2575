"""Which laps say something about the kart: slow ones are traffic and mistakes, quick ones are information.

One-sided cut above the median of the cell (kart by session), scale from the laps at or below it, so
that slow laps do not widen their own limit (after Tukey & McLaughlin 1963; Rousseeuw & Croux 1993, from
memory). All is relative to the cell's median: the shift of a whole session cannot be screened away.
"""

from dataclasses import dataclass

import numpy as np

from lapdelta.effect.arrays import SLOW, Bools, Floats, Ints, LapCube, masked_median

#: Laps slower than cell median + SCREEN_CONSTANT scales are set aside.
SCREEN_CONSTANT = 3.0
#: 1/Phi^-1(3/4): median absolute deviation to standard deviation of a normal distribution.
MAD_TO_SD = 1.4826
FLOOR_SCALE_S = 0.05  # a printed hundredth and a steady driver must not make every lap an outlier
DEFAULT_SCALE_S = 0.30  # clean laps of a junior, when no kart has enough laps
MIN_LAPS_FOR_SCALE = 4
MIN_KEPT = 3  # a cell with fewer kept laps is missing
WARM_UP_LAPS = (2, 3, 4)  # cold tyres; lap 1 is the out lap
FIRST_WARM_LAP = 5
MIN_WARM_UP_CELLS = 4


@dataclass(frozen=True)
class Screened:
    """What the screening left, karts by sessions by laps.

    Attributes:
        kept: laps used for the pace.
        reason: index into arrays.REASONS for every lap that is not kept.
        time_s: lap times minus the warm-up profile.
        warm_up_s: what was subtracted from each lap.
        profile_s: the profile of laps 2, 3 and 4.
        scale_s: scale of each kart in the last pass.
    """

    kept: Bools
    reason: Ints
    time_s: Floats
    warm_up_s: Floats
    profile_s: Floats
    scale_s: Floats


def screen(cube: LapCube, constant: float = SCREEN_CONSTANT, warm_up: bool = True) -> Screened:
    """Screen all karts of a day at once; see the module for the rule."""
    usable = cube.usable
    kept, scale = _cut_slow(cube.time_s, usable, constant)
    profile = np.zeros(len(WARM_UP_LAPS))
    subtract = np.zeros_like(cube.time_s)
    if warm_up:
        profile = _warm_up_profile(cube, usable, kept)
        for lap, seconds in zip(WARM_UP_LAPS, profile, strict=True):
            subtract[cube.position == lap] = seconds
        if profile.any():
            kept, scale = _cut_slow(cube.time_s - subtract, usable, constant)
    reason = np.where(usable & ~kept, SLOW, cube.reason)
    return Screened(kept, reason, cube.time_s - subtract, subtract, profile, scale)


def _cut_slow(time_s: Floats, usable: Bools, constant: float) -> tuple[Bools, Floats]:
    """Two passes of: centre on the cell's median, scale by kart, drop what is too slow."""
    kept, scale = usable, np.full(time_s.shape[0], DEFAULT_SCALE_S)
    for _ in range(2):
        deviation = time_s - masked_median(time_s, kept)[..., None]
        scale = _scale_by_kart(deviation, kept)
        with np.errstate(invalid="ignore"):
            kept = kept & (deviation <= constant * scale[:, None, None])
    return kept, scale


def _scale_by_kart(deviation: Floats, kept: Bools) -> Floats:
    """1.4826 x median of |deviation| of the laps at or below their cell's median, pooled by kart, s."""
    karts = deviation.shape[0]
    with np.errstate(invalid="ignore"):
        below = (kept & (deviation <= 0)).reshape(karts, -1)
    scale = MAD_TO_SD * masked_median(np.abs(deviation).reshape(karts, -1), below)
    enough = below.sum(axis=1) >= MIN_LAPS_FOR_SCALE
    fallback = float(np.median(scale[enough])) if enough.any() else DEFAULT_SCALE_S
    return np.maximum(np.where(enough, scale, fallback), FLOOR_SCALE_S)


def _warm_up_profile(cube: LapCube, usable: Bools, kept: Bools) -> Floats:
    """Median over cells of lap 2, 3, 4 minus the median of the cell's kept laps from 5 on, s."""
    warm = kept & (cube.position >= FIRST_WARM_LAP)
    reference = np.where(warm.sum(axis=-1) >= MIN_KEPT, masked_median(cube.time_s, warm), np.nan)
    profile = np.zeros(len(WARM_UP_LAPS))
    for i, lap in enumerate(WARM_UP_LAPS):
        here = usable & (cube.position == lap) & np.isfinite(reference)[..., None]
        if here.any(axis=-1).sum() >= MIN_WARM_UP_CELLS:
            profile[i] = np.median((cube.time_s - reference[..., None])[here])
    return profile
