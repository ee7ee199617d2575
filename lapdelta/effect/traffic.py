"""Traffic that a kart met on a stretch of the lap, seen from everybody's times at the lines.

Causes only: who started the stretch shortly before and after us, and when they reached its end. Our own time
on the stretch does not enter, so that a slow kart is not taken for a held-up one.
"""

from dataclasses import dataclass

import numpy as np

from lapdelta.effect.arrays import Bools, Floats, Ints, masked_quantile

CLEAR, CLOSE, HELD_UP, STOPPED, PRESSED = range(5)
#: A kart's free time on a stretch: this quantile of its times in the session, laps from FIRST_FREE_LAP on.
FREE_QUANTILE, FIRST_FREE_LAP = 0.4, 3
HEADWAY_S = 0.5  # how close karts follow each other across a line
NEAR_S = 6.0  # who started a stretch longer ago is not looked at
AHEAD, BEHIND = 3, 2  # karts looked at
HELD_UP_S = 0.10
CLOSE_S = 0.8


@dataclass(frozen=True)
class LineTimes:
    """When every kart began and ended every stretch, s: stretches by karts by sessions by laps; NaN unknown."""

    start_s: Floats
    end_s: Floats


def line_times(finish_s: Floats, time_s: Floats, stretch_s: Floats) -> LineTimes:
    """From the time of day at the end of each lap (karts by sessions by laps), laps and their stretches.

    ``stretch_s`` is stretches by karts by sessions by laps and adds up to the lap.
    """
    start = finish_s - time_s
    if len(stretch_s) == 1:
        return LineTimes(start[None], finish_s[None])
    end = start + np.cumsum(stretch_s, axis=0)
    return LineTimes(np.concatenate([start[None], end[:-1]]), end)


def free_times(stretch_s: Floats, position: Ints, usable: Bools) -> Floats:
    """Free time of each kart on each stretch in each session, s: stretches by karts by sessions."""
    settled = usable & (position >= FIRST_FREE_LAP)
    mask = np.where(settled.any(axis=-1, keepdims=True), settled, usable)
    mask = mask & np.isfinite(stretch_s)
    return masked_quantile(np.where(mask, stretch_s, 0.0), mask, FREE_QUANTILE)


def traffic_classes(lines: LineTimes, free_s: Floats) -> Ints:
    """Class of every stretch, 0 to 4; 0 also where its start is not known.

    3 stopped: whoever was ahead left the end too late for our free time, by more than 0.1 s. 2 held up: by
    less. 4 pressed: whoever was behind arrived early enough to have attacked, or started less than 0.8 s behind
    (a kart on our tail that we hold up arrives late with us, so its arrival alone would miss it). 1 close: less
    than 0.8 s behind the kart ahead. 0 clear.
    """
    stretches, karts, sessions, laps = lines.start_s.shape

    def by_session(values: Floats) -> Floats:
        """All karts' laps of a stretch and session in one row."""
        return values.transpose(0, 2, 1, 3).reshape(stretches * sessions, karts * laps)

    start = by_session(lines.start_s)
    order = np.argsort(start, axis=-1, kind="stable")  # NaN last
    start = np.take_along_axis(start, order, -1)
    end = np.take_along_axis(by_session(lines.end_s), order, -1)
    free = np.broadcast_to(free_s[..., None], lines.start_s.shape)
    arrival = start + np.take_along_axis(by_session(free), order, -1)
    held = _held_by_karts_ahead(start, end, arrival)
    pressed = _pressed_from_behind(start, end, arrival) > HELD_UP_S
    close = np.zeros_like(pressed)
    with np.errstate(invalid="ignore"):
        close[:, 1:] = np.diff(start, axis=-1) < CLOSE_S
    pressed[:, :-1] |= close[:, 1:]
    found = np.select([held > HELD_UP_S, held > 0, pressed, close], [STOPPED, HELD_UP, PRESSED, CLOSE], CLEAR)
    classes = np.empty_like(found)
    np.put_along_axis(classes, order, found, -1)
    return classes.reshape(stretches, sessions, karts, laps).transpose(0, 2, 1, 3).astype(np.int64)


def _held_by_karts_ahead(start: Floats, end: Floats, arrival: Floats) -> Floats:
    """How much later than our free arrival the karts ahead let us through, s."""
    held = np.zeros_like(start)
    with np.errstate(invalid="ignore"):
        for step in range(1, AHEAD + 1):
            near = start[:, step:] - start[:, :-step] <= NEAR_S
            late = end[:, :-step] + HEADWAY_S - arrival[:, step:]
            held[:, step:] = np.fmax(held[:, step:], np.where(near, late, 0.0))
    return held


def _pressed_from_behind(start: Floats, end: Floats, arrival: Floats) -> Floats:
    """How much later than the karts behind could have been let through we arrive, s."""
    pressed = np.zeros_like(start)
    with np.errstate(invalid="ignore"):
        for step in range(1, BEHIND + 1):
            near = start[:, step:] - start[:, :-step] <= NEAR_S
            late = arrival[:, :-step] + HEADWAY_S - end[:, step:]
            pressed[:, :-step] = np.fmax(pressed[:, :-step], np.where(near, late, 0.0))
    return pressed
