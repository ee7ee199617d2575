"""Many days of karts that hold each other up, through every pace that the method has."""

from dataclasses import dataclass

import numpy as np
from scipy.special import nctdtr, stdtrit
from simulated.karts_on_track import Practice, simulate_days

from lapdelta.effect.pace import clean_pace
from lapdelta.effect.routes import Batch, shifts
from lapdelta.effect.screening import screen
from lapdelta.effect.sharp import CLOCKS, LAPS, SECTORS, SECTORS_AND_CLOCKS, sharp_pace

LADDER = (LAPS, CLOCKS, SECTORS, SECTORS_AND_CLOCKS)
POWER_AT = (-0.10, -0.20, -0.30)  # s


@dataclass(frozen=True)
class Row:
    """One pace on many days; shares, s."""

    days: int
    refused: float
    called: float
    coverage: float
    width: float
    bias: float
    sd: float
    smallest: float  # effect seen with 80 % power, from the mean standard error and df
    power: tuple[
        float, ...
    ]  # share of the days called with that much taken off every own lap after: POWER_AT


def ladder(practice: Practice, days: int, seed: int, sources: tuple[str, ...] = LADDER) -> dict[str, Row]:
    """Every pace on the same days."""
    rng = np.random.default_rng(seed)
    cells, design = {source: [] for source in sources}, None
    left = days
    while left:
        for day in simulate_days(practice, min(left, 100), rng):
            design = day.design
            for source in sources:
                found = clean_pace(screen(day.cube)) if source == LAPS else sharp_pace(day.cube, source).cells
                cells[source].append(found)
        left -= min(left, 100)
    return {source: _row(practice, found, design) for source, found in cells.items()}


def _row(practice, cells, design) -> Row:
    batch = Batch(np.stack([c.pace for c in cells]), np.stack([c.variance for c in cells]), design)
    found = shifts(batch)
    told = [shift for shift in found if shift.told]
    if not told:
        return Row(len(found), 1.0, *[float("nan")] * 6, (float("nan"),) * len(POWER_AT))
    low, high = np.array([shift.interval(0.95) for shift in told]).T
    estimate = np.array([shift.estimate for shift in told])
    return Row(
        len(found),
        1 - len(told) / len(found),
        float(((low > 0) | (high < 0)).mean()),
        float(((low <= practice.effect) & (practice.effect <= high)).mean()),
        float((high - low).mean()),
        float((estimate - practice.effect).mean()),
        float(estimate.std()),
        smallest_effect(np.array([s.standard_error for s in told]), np.array([s.dof for s in told])),
        power(low, high),
    )


def power(low: np.ndarray, high: np.ndarray) -> tuple[float, ...]:
    """Share of the intervals that exclude zero once POWER_AT is added: a shift of every own lap comes back whole."""
    return tuple(float(((low + effect > 0) | (high + effect < 0)).mean()) for effect in POWER_AT)


def smallest_effect(error: np.ndarray, dof: np.ndarray) -> float:
    """Effect for which the chance of being called, averaged over the days, is 80 %, s."""
    limit = stdtrit(dof, 0.975)
    low, high = 0.0, 5.0
    for _ in range(30):
        middle = (low + high) / 2
        if (1 - nctdtr(dof, middle / error, limit)).mean() < 0.8:
            low = middle
        else:
            high = middle
    return high
