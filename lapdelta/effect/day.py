"""One day of laps, screened and made comparable: everything a question needs before it is asked."""

from dataclasses import dataclass

import numpy as np

from lapdelta.effect.arrays import Bools, Ints, LapCube
from lapdelta.effect.design import Design
from lapdelta.effect.fairness import COMPARABLE, TrackState, comparable_karts, track_state
from lapdelta.effect.history import NO_HISTORY, History
from lapdelta.effect.measures import Measure, SectorCells, measured_cells, sector_cells
from lapdelta.effect.pace import PACE_FRACTION, Cells, clean_pace
from lapdelta.effect.routes import Batch
from lapdelta.effect.screening import SCREEN_CONSTANT, Screened, screen
from lapdelta.effect.sharp import (
    CLOCKS,
    LAPS,
    Sharp,
    Source,
    best_source,
    lap_ends,
    sectors_add_up,
    sharp_pace,
)


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
    """The choices behind a pace; the defaults are the method, others are rows of the table of choices.

    ``source`` is what the pace is taken from (sharp.SOURCES); None the sharpest that the laps allow.
    """

    constant: float = SCREEN_CONSTANT
    fraction: float = PACE_FRACTION
    warm_up: bool = True
    tolerance: float = COMPARABLE
    source: Source | None = None


USUAL = Recipe()


@dataclass(frozen=True)
class Prepared:
    """A day after screening.

    Attributes:
        lap: clean pace of the lap from laps alone, all karts and sessions.
        cells: pace in the measure asked for, all karts and sessions.
        comparable: karts within 5 % of ours, row 0 included.
        state: session terms and sessions that stand out.
        sector: paces of the sectors; None where the laps have no sectors that add up.
        sharp: the sharper pace that ``cells`` are from; None where they are from laps alone.
    """

    screened: Screened
    lap: Cells
    cells: Cells
    comparable: Bools
    state: TrackState
    sector: SectorCells | None
    sharp: Sharp | None = None

    @property
    def reason(self) -> Ints:
        """Index into arrays.REASONS for every lap that the pace does not use."""
        return self.screened.reason if self.sharp is None else self.sharp.reason

    @property
    def used(self) -> Bools:
        """Cells that the comparison may use, karts by sessions."""
        return self.comparable[:, None] & ~self.state.left_out[None, :]


def prepare(
    day: Day,
    measure: Measure,
    recipe: Recipe = USUAL,
    usual: Prepared | None = None,
    with_sectors: bool = True,
) -> Prepared:
    """Screen all karts, make their paces, find comparable karts and odd sessions.

    ``usual`` is the same day by the usual recipe: what the other recipe does not change is taken from there.
    """
    screened, lap = None, None
    if usual is not None and (recipe.constant, recipe.warm_up) == (USUAL.constant, USUAL.warm_up):
        screened, lap = usual.screened, usual.lap if recipe.fraction == USUAL.fraction else None
    screened = screened or screen(day.cube, recipe.constant, recipe.warm_up)
    lap = lap or clean_pace(screened, recipe.fraction)
    comparable = comparable_karts(lap.pace, recipe.tolerance)
    state = track_state(lap.pace, comparable)
    whole = measure.name == "lap_time"
    sharp = _sharp(day.cube, lap, recipe) if with_sectors and (whole or measure.sector) else None
    sector = None
    if sharp is not None and sharp.source != CLOCKS:
        sector = SectorCells(sharp.stretches, sharp.cells)
    elif with_sectors and (whole or measure.sector) and sectors_add_up(day.cube):
        sector = sector_cells(day.cube, screened, recipe.fraction)
    cells = lap
    if measure.sector and sector is not None:
        cells = Cells(sector.sectors[..., measure.sector - 1], sector.lap.variance, sector.lap.laps)
    elif sharp is not None and whole:
        cells = sharp.cells
    elif not whole:
        cells = measured_cells(measure, day.cube, screened, recipe.fraction)
    return Prepared(screened, lap, cells, comparable, state, sector, sharp)


def _sharp(cube: LapCube, lap: Cells, recipe: Recipe) -> Sharp | None:
    """The sharper pace, if the laps allow one and the recipe does not ask for laps alone."""
    if recipe.source == LAPS:
        return None
    finishes = lap_ends(cube)
    source = recipe.source or best_source(cube, lap.present, finishes)
    return None if source == LAPS else sharp_pace(cube, source, finishes=finishes)


def batch_of(day: Day, cells: Cells, used: Bools, history: History = NO_HISTORY) -> Batch:
    """One problem: those cells where used, missing elsewhere."""
    return Batch(np.where(used, cells.pace, np.nan)[None], cells.variance[None], day.design, history)
