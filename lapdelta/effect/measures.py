"""What can be asked about: name, unit, worthwhile margin by default, and how its pace of a cell is made."""

from dataclasses import dataclass

import numpy as np

from lapdelta.effect.arrays import Floats, LapCube
from lapdelta.effect.pace import (
    EARLY_LAPS,
    FIRST_LATE_LAP,
    PACE_VARIANCE_FACTOR,
    Cells,
    clean_pace,
    lap_noise,
    lap_weights,
    middle_half,
    part_pace,
    weighted_pace,
)
from lapdelta.effect.screening import MIN_KEPT, Screened


@dataclass(frozen=True)
class Measure:
    """One measure.

    Attributes:
        margin: worthwhile margin by default, in ``unit``.
        better: -1 where less is better, +1 where more is, 0 where neither.
        sector: number of the sector from 1; 0 for anything else.
    """

    name: str
    unit: str
    margin: float
    better: int
    sector: int = 0

    @property
    def verdict_sign(self) -> int:
        """Sign of a shift that is called ``faster``; more rpm counts as faster."""
        return self.better or 1


_FIXED = {
    measure.name: measure
    for measure in (
        Measure("lap_time", "s", 0.10, -1),
        Measure("early_laps", "s", 0.10, -1),
        Measure("late_laps", "s", 0.10, -1),
        Measure("top_speed", "km/h", 1.0, 1),
        Measure("peak_rpm", "1/min", 100.0, 0),
    )
}
SECTOR_MARGIN_S = 0.05


def measure_names(sectors: int) -> tuple[str, ...]:
    """Names of all measures for laps with that many sectors."""
    return (*_FIXED, *(f"sector_{n}" for n in range(1, sectors + 1)))


def find_measure(name: str, sectors: int) -> Measure | None:
    """The measure of that name, or None if these laps have no such measure."""
    if name in _FIXED:
        return _FIXED[name]
    if name in measure_names(sectors):
        return Measure(name, "s", SECTOR_MARGIN_S, -1, int(name.removeprefix("sector_")))
    return None


def measured_cells(measure: Measure, cube: LapCube, screened: Screened, fraction: float) -> Cells:
    """Pace of every cell in that measure."""
    if measure.name == "early_laps":
        return part_pace(cube, screened, *EARLY_LAPS, fraction)
    if measure.name == "late_laps":
        last = int(cube.position.max(initial=FIRST_LATE_LAP))
        return part_pace(cube, screened, FIRST_LATE_LAP, last, fraction)
    if measure.name == "top_speed":
        return middle_half(cube.top_speed_kmh, screened.kept)
    if measure.name == "peak_rpm":
        return middle_half(cube.peak_rpm, screened.kept)
    return clean_pace(screened, fraction)


@dataclass(frozen=True)
class SectorCells:
    """Sector paces (karts by sessions by sectors, s) with the lap's weights, and the lap's own cells."""

    sectors: Floats
    lap: Cells


def sector_cells(cube: LapCube, screened: Screened, fraction: float) -> SectorCells:
    """Sector paces from the laps that have all sectors, with those laps' weights in the lap's pace.

    The warm-up profile is split equally, so the sectors' paces add up to the pace of their sum.
    """
    complete = (
        np.isfinite(cube.sectors_s).all(axis=-1) if cube.sectors_s.shape[-1] else np.zeros_like(cube.exists)
    )
    kept = screened.kept & complete
    weights = lap_weights(screened.time_s, kept, fraction)
    count = cube.sectors_s.shape[-1]
    split = screened.warm_up_s / max(count, 1)
    paces = [weighted_pace(cube.sectors_s[..., q] - split, weights) for q in range(count)]
    sigma = lap_noise(screened.time_s, screened.kept)
    laps = kept.sum(axis=-1)
    present = laps >= MIN_KEPT
    pace = np.where(present, weighted_pace(screened.time_s, weights), np.nan)
    variance = np.where(present, PACE_VARIANCE_FACTOR * (sigma**2)[:, None] / np.maximum(laps, 1), np.nan)
    stacked = np.stack(paces, axis=-1) if paces else np.empty((*pace.shape, 0))
    return SectorCells(stacked, Cells(pace, variance, laps.astype(float)))
