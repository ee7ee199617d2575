"""Laps of one day as padded arrays, and the order statistics that work on them.

A cube has the shape karts by sessions by laps; laps of a cell stand in file order, padded to the
longest cell. Everything downstream works on all karts at once.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]

#: Why a lap is set aside; index 0 = not set aside. The texts are what a finding counts.
REASONS = ("", "no time", "repeat", "out lap", "in lap", "pit lap", "invalid", "slow", "sectors missing")
NO_TIME, REPEAT, OUT_LAP, IN_LAP, PIT_LAP, INVALID, SLOW, NO_SECTORS = range(1, 9)


@dataclass(frozen=True)
class LapCube:
    """Laps of one day, karts by sessions by laps, row 0 our kart.

    Attributes:
        time_s: lap times, NaN where there is no lap.
        exists: whether there is a lap at all.
        reason: index into REASONS by the file alone (before any lap is compared with another).
        position: number of the lap in its run, from 1; 0 where there is no lap.
        sectors_s: karts by sessions by laps by sectors; NaN where not printed; last axis may be empty.
        top_speed_kmh, peak_rpm: NaN where not printed.
        clock_s: time of day at the end of each lap as printed, s; None without a clock common to the karts.
    """

    time_s: Floats
    exists: Bools
    reason: Ints
    position: Ints
    sectors_s: Floats
    top_speed_kmh: Floats
    peak_rpm: Floats
    clock_s: Floats | None = None

    @property
    def usable(self) -> Bools:
        """Laps that nothing in the file speaks against."""
        return self.exists & (self.reason == 0)


def sorted_first(values: Floats, mask: Bools) -> tuple[Floats, Ints]:
    """Masked values sorted along the last axis (the rest +inf behind them), and how many there are."""
    return np.sort(np.where(mask, values, np.inf), axis=-1), mask.sum(axis=-1)


def masked_median(values: Floats, mask: Bools) -> Floats:
    """Median of the masked values along the last axis; NaN where there are none."""
    if values.shape[-1] == 0:
        return np.full(values.shape[:-1], np.nan)
    ordered, count = sorted_first(values, mask)
    low = np.maximum(count - 1, 0)[..., None] // 2
    high = np.minimum(count[..., None] // 2, values.shape[-1] - 1)
    middle = (np.take_along_axis(ordered, low, -1) + np.take_along_axis(ordered, high, -1))[..., 0] / 2
    return np.where(count > 0, middle, np.nan)


def masked_quantile(values: Floats, mask: Bools, quantile: float) -> Floats:
    """Linear (type 7, Hyndman & Fan 1996) quantile along the last axis; NaN where there are no values."""
    ordered, count = sorted_first(values, mask)
    place = np.maximum(count - 1, 0) * quantile
    low = np.floor(place).astype(np.int64)
    high = np.minimum(low + 1, np.maximum(count - 1, 0))
    at_low = np.take_along_axis(ordered, low[..., None], -1)[..., 0]
    at_high = np.take_along_axis(ordered, high[..., None], -1)[..., 0]
    with np.errstate(invalid="ignore"):
        value = at_low + (place - low) * (at_high - at_low)
    return np.where(count > 0, value, np.nan)


def number_runs(lap: Floats, time_s: Floats, clock_s: Floats, exists: Bools) -> tuple[Ints, Bools]:
    """Position of each lap in its run, from 1, and which laps are repeats.

    A run starts where the printed lap number does not rise, since files start at 0, 1 or 2 and a
    session may hold two runs. A repeat is the same lap number and time (or no time in both) as the line
    before it, and the same clock where both have one. A lap without a number counts as the next one.
    """
    shape = exists.shape
    position, repeat = np.zeros(shape, np.int64), np.zeros(shape, np.bool_)
    run_at, last_lap = np.zeros(shape[:-1], np.int64), np.full(shape[:-1], -np.inf)
    last_time, last_clock = np.full(shape[:-1], np.nan), np.full(shape[:-1], np.nan)
    for i in range(shape[-1]):
        here = exists[..., i]
        numbered = np.isfinite(lap[..., i])
        number = np.where(numbered, lap[..., i], last_lap + 1)
        same_clock = ~(np.abs(clock_s[..., i] - last_clock) > 0)  # true also where one is missing
        same_time = (time_s[..., i] == last_time) | (np.isnan(time_s[..., i]) & np.isnan(last_time))
        again = here & numbered & (number == last_lap) & same_time & same_clock
        new = here & ~again
        run_at = np.where(new, np.where(~numbered | (number > last_lap), run_at + 1, 1), run_at)
        position[..., i] = np.where(here, run_at, 0)
        repeat[..., i] = again
        last_lap = np.where(new, number, last_lap)
        last_time = np.where(new, time_s[..., i], last_time)
        last_clock = np.where(new, clock_s[..., i], last_clock)
    return position, repeat
