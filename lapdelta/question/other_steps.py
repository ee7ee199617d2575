"""The other karts' steps between the sessions of the day that were not asked about, in the measure asked about."""

import numpy as np
import polars as pl

from lapdelta.effect.arrays import Bools
from lapdelta.effect.day import Day, Prepared, prepare
from lapdelta.effect.design import AFTER, BEFORE
from lapdelta.effect.measures import Measure
from lapdelta.effect.routes import FEW_DOF
from lapdelta.effect.steps import OtherSteps, other_steps
from lapdelta.question.arrays import Order, day_of


def steps_of(laps: pl.DataFrame, whole: Order, day: Day, measure: Measure) -> OtherSteps | None:
    """The steps where they are needed: one session before, the next one after, and few other karts in both.

    Args:
        laps: of the whole event, karts named as in ``day``.
        whole: all sessions of our kart in their order.
        day: the sessions of the question.

    None where they are not needed, and for sectors, whose shifts share what the lap's scatter says.
    """
    pairs = zip(day.sessions, day.design.level.tolist(), strict=True)
    sides = [(session, level) for session, level in pairs if level <= AFTER]
    if measure.sector or sorted(level for _, level in sides) != [BEFORE, AFTER]:
        return None
    before, after = (whole.sessions.index(session) for session, _ in sorted(sides, key=lambda side: side[1]))
    if abs(after - before) != 1 or min(before, after) == 0 or not _few(day):
        return None
    everything = day_of(laps, day.karts[0], whole, dict.fromkeys(whole.sessions, BEFORE))
    prepared = prepare(everything, measure)
    rows = [everything.karts.index(kart) for kart in day.karts[1:]]
    pace = np.where(_counts(prepared), prepared.cells.pace, np.nan)
    return other_steps(pace[rows], prepared.cells.variance[rows], before, after)


def _few(day: Day) -> bool:
    """Whether so few other karts ran in both sessions that these alone say little of how far chance goes."""
    both: Bools = np.all(np.any(day.cube.exists, axis=2)[1:, day.design.level <= AFTER], axis=1)
    return int(both.sum()) - 1 < FEW_DOF


def _counts(prepared: Prepared) -> Bools:
    """Cells, karts by sessions, that are compared: no other kind of kart, no wet session or one with a doubt."""
    return prepared.used & ~prepared.state.doubtful
