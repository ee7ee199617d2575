"""The sharpest pace that a file allows: from sectors and clocks, from sectors, from clocks, or from laps alone.

The pace from laps (``pace.py``) needs nothing but lap times. With sectors the clean part of a spoiled lap is
kept; with everybody's clock traffic is seen, not guessed. Both go through the mixture of ``mixture.py``.
"""

from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np

from lapdelta.effect.arrays import NO_SECTORS, REPEAT, SLOW, Bools, Floats, Ints, LapCube, masked_median
from lapdelta.effect.clocks import Finishes, clocks_show_traffic, finish_times
from lapdelta.effect.mixture import SMALLEST_LOSS_LAP_S, SMALLEST_LOSS_SECTOR_S, Mixture, fit_mixture
from lapdelta.effect.pace import FLOOR_SIGMA_S, Cells
from lapdelta.effect.screening import MIN_KEPT
from lapdelta.effect.traffic import CLOSE, free_times, line_times, traffic_classes

#: What a pace can come from, the sharpest first.
Source = Literal["sectors and clocks", "sectors", "clocks", "laps"]
SOURCES: tuple[Source, ...] = get_args(Source)
SECTORS_AND_CLOCKS, SECTORS, CLOCKS, LAPS = SOURCES

#: Laps slower than the cell's median by more are no laps at speed, whatever they met.
TOO_SLOW_S = 4.0
#: Sectors of a lap are correlated: the sum of their variances is too small by this factor.
SECTOR_VARIANCE_FACTOR = 1.5
#: Sectors are offered if at least 9 laps in 10 are the sum of their sectors within 0.02 s.
SECTOR_SUM_S = 0.02
SECTOR_SUM_SHARE = 0.10
#: Cells and laps that may be lost for want of sectors: one in ten; of our cells none.
LOST = 0.10


@dataclass(frozen=True)
class Sharp:
    """Paces from the mixture.

    Attributes:
        source: of SOURCES.
        cells: pace of the lap, the sum of its stretches.
        stretches: paces karts by sessions by stretches, s; one for the whole lap.
        reason: index into arrays.REASONS for every lap that is not used.
        traffic: share of stretches that met traffic, karts by sessions; None without clocks.
    """

    source: Source
    cells: Cells
    stretches: Floats
    reason: Ints
    traffic: Floats | None


def sectors_add_up(cube: LapCube) -> bool:
    """Whether there are sectors and they add up to the lap."""
    printed = _printed(cube)
    return bool(printed.any() and (_adding_up(cube) | ~printed)[printed].mean() >= 1 - SECTOR_SUM_SHARE)


def _printed(cube: LapCube) -> Bools:
    """Usable laps with all sectors printed."""
    if not cube.sectors_s.shape[-1]:
        return np.zeros_like(cube.exists)
    return cube.usable & np.isfinite(cube.sectors_s).all(axis=-1)


def _adding_up(cube: LapCube) -> Bools:
    """Usable laps whose sectors are all there and are the lap."""
    with np.errstate(invalid="ignore"):
        return _printed(cube) & (np.abs(cube.sectors_s.sum(axis=-1) - cube.time_s) <= SECTOR_SUM_S)


def best_source(cube: LapCube, present: Bools, finishes: Finishes | None = None) -> Source:
    """The sharpest pace that these laps allow; ``present`` are the cells that have a pace from laps.

    ``finishes`` are those of ``lap_ends``, where they are known already.
    """
    if not present[0].any():
        return LAPS
    with_sectors = cube.sectors_s.shape[-1] > 1 and sectors_add_up(cube) and _few_lost(cube, present)
    finishes = finishes or lap_ends(cube)
    with_clocks = finishes is not None and clocks_show_traffic(finishes, _driven(cube))
    if with_sectors:
        return SECTORS_AND_CLOCKS if with_clocks else SECTORS
    return CLOCKS if with_clocks else LAPS


def _few_lost(cube: LapCube, present: Bools) -> bool:
    """Whether nearly all laps and cells, and each of our cells, have the sectors they need."""
    whole, usable = _adding_up(cube), cube.usable
    lost = present & (whole.sum(axis=-1) < MIN_KEPT)
    laps = [(whole[rows].sum(), usable[rows].sum()) for rows in (slice(0, 1), slice(None))]
    enough = all(used >= (1 - LOST) * total for used, total in laps)
    return bool(enough and not lost[0].any() and lost.sum() <= LOST * present.sum())


def sharp_pace(
    cube: LapCube, source: Source, classes: Ints | None = None, finishes: Finishes | None = None
) -> Sharp:
    """Paces from sectors, clocks or both. ``classes`` (stretches first) keeps traffic as it was seen before.

    ``finishes`` are those of ``lap_ends``, where they are known already.
    """
    by_sector = source != CLOCKS
    stretch = np.moveaxis(cube.sectors_s, -1, 0) if by_sector else cube.time_s[None]
    whole = _adding_up(cube) if by_sector else cube.usable
    kept = _at_speed(cube.time_s, whole)
    fitted = kept & (kept.sum(axis=-1, keepdims=True) >= MIN_KEPT)
    if classes is None:
        classes = _classes(cube, stretch, source, finishes or lap_ends(cube))
    smallest = SMALLEST_LOSS_SECTOR_S if by_sector else SMALLEST_LOSS_LAP_S
    found = fit_mixture(np.where(fitted, stretch, 0.0), fitted, cube.position, classes, smallest)
    cells = _cells(found, kept, SECTOR_VARIANCE_FACTOR if by_sector else 1.0)
    traffic = None
    if source != SECTORS:
        met = (classes > CLOSE) & kept
        traffic = met.sum(axis=(0, 3)) / np.maximum(len(stretch) * kept.sum(axis=-1), 1)
    reason = np.where(whole & ~kept, SLOW, cube.reason)
    reason = np.where(cube.usable & ~whole, NO_SECTORS, reason)
    return Sharp(source, cells, np.moveaxis(found.pace_s, 0, -1), reason, traffic)


def _at_speed(time_s: Floats, usable: Bools) -> Bools:
    """Usable laps that are not far slower than their cell's median."""
    with np.errstate(invalid="ignore"):
        return usable & (time_s <= masked_median(time_s, usable)[..., None] + TOO_SLOW_S)


def _classes(cube: LapCube, stretch: Floats, source: Source, finishes: Finishes | None) -> Ints:
    if source == SECTORS or finishes is None:
        return np.zeros(stretch.shape, np.int64)
    lines = line_times(np.where(finishes.good, finishes.finish_s, np.nan), cube.time_s, stretch)
    return traffic_classes(lines, free_times(stretch, cube.position, _driven(cube) & np.isfinite(stretch)))


def _driven(cube: LapCube) -> Bools:
    """Laps that were on the track: a line that repeats another is not a second kart in the way of the first."""
    return cube.exists & (cube.reason != REPEAT)


def lap_ends(cube: LapCube) -> Finishes | None:
    """When every lap ended; None without a clock."""
    if cube.clock_s is None:
        return None
    driven = _driven(cube)
    return finish_times(cube.clock_s, np.where(cube.exists & ~driven, 0.0, cube.time_s), driven)


def _cells(found: Mixture, kept: Bools, factor: float) -> Cells:
    """Sum over the stretches; variance s^2 N/(N - cells)/(information n), N laps and cells of the kart."""
    pace = found.pace_s.sum(axis=0)
    laps, present = kept.sum(axis=-1), np.isfinite(pace)
    total, cells = np.where(present, laps, 0).sum(axis=1), present.sum(axis=1)
    spread = (found.sigma_s**2 / found.information).sum(axis=0) * total / np.maximum(total - cells, 1)
    by_kart = factor * np.maximum(spread, FLOOR_SIGMA_S**2)
    variance = np.where(present, by_kart[:, None] / np.maximum(laps, 1), np.nan)
    return Cells(pace, variance, laps.astype(float))
