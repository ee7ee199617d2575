"""One day of laps, screened and made comparable: everything a question needs before it is asked."""

from dataclasses import dataclass

import numpy as np

from lapdelta.effect.arrays import Bools, LapCube
from lapdelta.effect.design import Design
from lapdelta.effect.fairness import COMPARABLE, TrackState, comparable_karts, track_state
from lapdelta.effect.history import NO_HISTORY, History
from lapdelta.effect.measures import Measure, SectorCells, measured_cells, sector_cells
from lapdelta.effect.pace import PACE_FRACTION, Cells, clean_pace
from lapdelta.effect.routes import Batch
from lapdelta.effect.screening import SCREEN_CONSTANT, Screened, screen


@dataclass(frozen=True)
class Day:
    """Laps of one day in the sessions of a question.

    Attributes:
        karts: labels, row 0 ours.
        sessions: labels in the order of the day.
        cube: the laps.
        design: what ran when.
        by_clock: whether the sessions' times are hours (else session numbers).
    """

    karts: tuple[str, ...]
    sessions: tuple[str, ...]
    cube: LapCube
    design: Design
    by_clock: bool


@dataclass(frozen=True)
class Recipe:
    """The choices behind a pace; the defaults are the method, others are rows of the table of choices."""

    constant: float = SCREEN_CONSTANT
    fraction: float = PACE_FRACTION
    warm_up: bool = True
    tolerance: float = COMPARABLE


USUAL = Recipe()


@dataclass(frozen=True)
class Prepared:
    """A day after screening.

    Attributes:
        lap: clean pace of the lap, all karts and sessions.
        cells: pace in the measure asked for, all karts and sessions.
        comparable: karts within 5 % of ours, row 0 included.
        state: session terms and sessions that stand out.
        sector: paces of the sectors; None where the laps have no sectors that add up.
    """

    screened: Screened
    lap: Cells
    cells: Cells
    comparable: Bools
    state: TrackState
    sector: SectorCells | None

    @property
    def used(self) -> Bools:
        """Cells that the comparison may use, karts by sessions."""
        return self.comparable[:, None] & ~self.state.left_out[None, :]


def prepare(
    day: Day,
    measure: Measure,
    recipe: Recipe = USUAL,
    screened: Screened | None = None,
    with_sectors: bool = True,
) -> Prepared:
    """Screen all karts (unless that is done), make their paces, find comparable karts and odd sessions."""
    screened = screened or screen(day.cube, recipe.constant, recipe.warm_up)
    lap = clean_pace(screened, recipe.fraction)
    comparable = comparable_karts(lap.pace, recipe.tolerance)
    sector, cells = None, lap
    if with_sectors and (measure.sector or measure.name == "lap_time") and sectors_add_up(day.cube):
        sector = sector_cells(day.cube, screened, recipe.fraction)
    if measure.sector and sector is not None:
        cells = Cells(sector.sectors[..., measure.sector - 1], sector.lap.variance, sector.lap.laps)
    elif measure.name != "lap_time":
        cells = measured_cells(measure, day.cube, screened, recipe.fraction)
    return Prepared(screened, lap, cells, comparable, track_state(lap.pace, comparable), sector)


#: Sectors are offered if at least 9 laps in 10 are the sum of their sectors within 0.02 s.
SECTOR_SUM_S = 0.02
SECTOR_SUM_SHARE = 0.10


def sectors_add_up(cube: LapCube) -> bool:
    """Whether there are sectors and they add up to the lap."""
    if cube.sectors_s.shape[-1] == 0:
        return False
    complete = cube.usable & np.isfinite(cube.sectors_s).all(axis=-1)
    if not complete.any():
        return False
    apart = np.abs(cube.sectors_s.sum(axis=-1) - cube.time_s)[complete]
    return bool((apart > SECTOR_SUM_S).mean() <= SECTOR_SUM_SHARE)


def batch_of(day: Day, cells: Cells, used: Bools, history: History = NO_HISTORY) -> Batch:
    """One problem: those cells where used, missing elsewhere."""
    return Batch(np.where(used, cells.pace, np.nan)[None], cells.variance[None], day.design, history)
