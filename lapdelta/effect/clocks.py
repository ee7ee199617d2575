"""When each lap ended, to a tenth or two, out of clocks that are often printed to whole seconds.

Laps of a run follow each other without a gap, so clock minus the sum of lap times is the same number all
along it, but for rounding: its mean over the run is far finer than one printed clock. Where clock and sum
part (a stop, a lap that is not in the file) a new stretch of laps begins.
"""

from dataclasses import dataclass

import numpy as np

from lapdelta.effect.arrays import Bools, Floats, Ints

#: Steps in which clocks are printed, s, the coarsest first.
PRINTED_STEPS_S = (60.0, 1.0, 0.1, 0.01)
FINEST_STEP_S = 0.001
#: Clock and summed laps may part by this and one printed step within one stretch of laps.
APART_S = 0.3
#: A kart's clock in a session is good enough for traffic to this standard error.
GOOD_CLOCK_S = 0.15
#: Share of the laps (all karts, and ours) that need such a clock.
GOOD_SHARE = 0.9


@dataclass(frozen=True)
class Finishes:
    """End of each lap, s of the day (karts by sessions by laps, NaN unknown), and the standard error, s."""

    finish_s: Floats
    error_s: Floats

    @property
    def good(self) -> Bools:
        """Laps whose end is known well enough."""
        return np.isfinite(self.finish_s) & (self.error_s <= GOOD_CLOCK_S)


def printed_step(clock_s: Floats) -> float:
    """The coarsest step that all clocks are multiples of, s."""
    known = clock_s[np.isfinite(clock_s)]
    for step in PRINTED_STEPS_S:
        if known.size and bool(
            (np.abs(known / step - np.round(known / step)) * step < FINEST_STEP_S / 2).all()
        ):
            return step
    return FINEST_STEP_S


def finish_times(clock_s: Floats, time_s: Floats, exists: Bools) -> Finishes:
    """End of each lap from the printed clocks and the lap times, karts by sessions by laps in file order."""
    step = printed_step(clock_s)
    elapsed = np.cumsum(np.where(np.isfinite(time_s), time_s, 0.0), axis=-1)
    start = clock_s - elapsed
    chain = _chains(start, np.isfinite(time_s), APART_S + step)
    usable = exists & np.isfinite(start) & np.isfinite(time_s)
    size = int(chain.max(initial=0)) + 1
    count = np.bincount(chain.ravel(), usable.ravel().astype(float), size)
    filled = np.where(usable, start, 0.0)
    mean = np.bincount(chain.ravel(), filled.ravel(), size) / np.maximum(count, 1)
    away = np.where(usable, start - mean[chain], 0.0)
    scatter = np.bincount(chain.ravel(), (away**2).ravel(), size) / np.maximum(count - 1, 1)
    error = np.sqrt(np.maximum(scatter, step**2 / 12) / np.maximum(count, 1))
    known = exists & np.isfinite(time_s) & (count[chain] > 0)
    return Finishes(np.where(known, mean[chain] + elapsed, np.nan), np.where(known, error[chain], np.inf))


def _chains(start: Floats, timed: Bools, apart_s: float) -> Ints:
    """Number of the stretch of laps that each lap belongs to, over all cells."""
    laps = start.shape[-1]
    number = np.zeros(start.shape, np.int64)
    current, reference = np.zeros(start.shape[:-1], np.int64), np.full(start.shape[:-1], np.nan)
    for i in range(laps):
        with np.errstate(invalid="ignore"):
            breaks = ~timed[..., i] | (np.abs(start[..., i] - reference) > apart_s)
        current = current + breaks
        reference = np.where(breaks | np.isnan(reference), start[..., i], reference)
        number[..., i] = current
    cells = np.arange(current.size).reshape(current.shape)
    return number + cells[..., None] * (laps + 1)


def clocks_show_traffic(finishes: Finishes, exists: Bools) -> bool:
    """Whether 9 laps in 10 of the day, and of our kart (row 0), have a clock that is good enough."""
    laps, ours = int(exists.sum()), int(exists[0].sum())
    if not laps or not ours:
        return False
    good = finishes.good & exists
    return bool(good.sum() >= GOOD_SHARE * laps and good[0].sum() >= GOOD_SHARE * ours)
