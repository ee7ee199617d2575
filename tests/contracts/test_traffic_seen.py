"""Traffic classes and clocks on cases small enough to be worked by hand (our own arithmetic, no source)."""

import numpy as np
import pytest

from lapdelta.effect.clocks import clocks_show_traffic, finish_times, printed_step
from lapdelta.effect.traffic import (
    CLEAR,
    CLOSE,
    HELD_UP,
    PRESSED,
    STOPPED,
    LineTimes,
    free_times,
    line_times,
    traffic_classes,
)

FREE = 20.0


def class_of(*others, free=FREE):
    """Class of a kart that starts at 100 s, with others (start, end) on the same stretch."""
    start, end = np.array([(100.0, 100.0 + free), *others]).T
    shape = (1, len(start), 1, 1)
    return int(
        traffic_classes(LineTimes(start.reshape(shape), end.reshape(shape)), np.full(shape[:3], free))[
            0, 0, 0, 0
        ]
    )


@pytest.mark.parametrize(
    ("others", "expected"),
    [
        ([], CLEAR),
        ([(98.0, 119.0)], CLEAR),  # through at 119.5 at the latest, we want 120
        ([(98.0, 119.55)], HELD_UP),  # 119.55 + 0.5 - 120 = 0.05 s
        ([(98.0, 119.70)], STOPPED),  # 0.20 s
        ([(93.9, 121.0)], CLEAR),  # started more than 6 s before
        ([(99.3, 119.0)], CLOSE),  # 0.7 s behind it, in nobody's way
        ([(101.0, 120.35)], PRESSED),  # 120 + 0.5 - 120.35 = 0.15 s
        ([(101.0, 120.45)], CLEAR),  # 0.05 s is not pressed
        ([(100.7, 120.9)], PRESSED),  # on our tail at the start: held up by us, whenever it arrives
        ([(100.9, 120.9)], CLEAR),  # 0.9 s behind is not on our tail
        ([(106.1, 120.0)], CLEAR),  # started more than 6 s after
        ([(99.3, 119.0), (101.0, 120.2)], PRESSED),  # pressed goes before close
        ([(98.0, 119.55), (101.0, 120.2)], HELD_UP),  # held up goes before pressed
        (
            [(99.5, 119.0), (99.0, 119.0), (98.5, 119.0), (98.0, 120.0)],
            CLOSE,
        ),  # the fourth ahead is not looked at
        ([(98.0, np.nan)], CLEAR),  # never seen at the end
    ],
)
def test_class_of_a_stretch(others, expected):
    assert class_of(*others) == expected


def test_our_own_time_does_not_enter():
    others = [(98.0, 119.55)]
    assert class_of(*others) == class_of(*others)
    start = np.array([100.0, 98.0]).reshape(1, 2, 1, 1)
    for ours in (119.0, 120.0, 140.0):
        end = np.array([ours, 119.55]).reshape(1, 2, 1, 1)
        assert traffic_classes(LineTimes(start, end), np.full((1, 2, 1), FREE))[0, 0, 0, 0] == HELD_UP


def test_unknown_start_is_clear():
    start, end = np.full((1, 2, 1, 1), np.nan), np.full((1, 2, 1, 1), np.nan)
    assert (traffic_classes(LineTimes(start, end), np.full((1, 2, 1), FREE)) == CLEAR).all()


def test_free_time_is_a_quantile_of_settled_laps():
    """Laps 3 to 7 of 20..24 s: the 40 % quantile (type 7) is 21.6; laps 1 and 2 do not count."""
    laps = np.array([40.0, 30.0, 20.0, 21.0, 22.0, 23.0, 24.0]).reshape(1, 1, 1, 7)
    position, usable = np.arange(1, 8).reshape(1, 1, 7), np.ones((1, 1, 7), bool)
    assert free_times(laps, position, usable)[0, 0, 0] == pytest.approx(21.6)


def test_line_times_by_sector():
    lines = line_times(
        np.array([[[150.0]]]), np.array([[[50.0]]]), np.array([20.0, 18.0, 12.0]).reshape(3, 1, 1, 1)
    )
    assert lines.start_s.ravel() == pytest.approx([100, 120, 138])
    assert lines.end_s.ravel() == pytest.approx([120, 138, 150])


LAPS = np.array([50.3, 49.8, 50.1, 49.9, 50.4, 50.2, 49.7, 50.0, 50.3, 49.6]).reshape(1, 1, -1)
EXISTS = np.ones(LAPS.shape, bool)


def test_whole_seconds_become_tenths():
    """Clocks cut to whole seconds, ten laps: uniform rounding 1/sqrt(12) s over sqrt(10) laps is 0.09 s."""
    true = 36000.37 + np.cumsum(LAPS, axis=-1)
    found = finish_times(np.floor(true), LAPS, EXISTS)
    assert printed_step(np.floor(true)) == 1
    assert found.finish_s == pytest.approx(true - 0.5, abs=0.3)
    assert found.error_s.max() < 0.15
    assert clocks_show_traffic(found, EXISTS)


def test_exact_clocks_come_back():
    true = 36000.37 + np.cumsum(LAPS, axis=-1)
    found = finish_times(true, LAPS, EXISTS)
    assert found.finish_s == pytest.approx(true, abs=1e-9)
    assert found.error_s.max() < 0.001


def test_a_stop_starts_a_new_stretch_of_laps():
    true = 36000.0 + np.cumsum(LAPS, axis=-1)
    true[..., 5:] += 180.0  # three minutes in the pits that no lap holds
    assert finish_times(true, LAPS, EXISTS).finish_s == pytest.approx(true, abs=1e-9)


def test_a_missing_clock_is_filled_from_the_laps():
    true = 36000.0 + np.cumsum(LAPS, axis=-1)
    printed = true.copy()
    printed[..., 3] = np.nan
    assert finish_times(printed, LAPS, EXISTS).finish_s == pytest.approx(true, abs=1e-9)


@pytest.mark.parametrize("wrong", ["one clock for the session", "minutes", "none"])
def test_clocks_that_show_nothing(wrong):
    true = 36000.0 + np.cumsum(LAPS, axis=-1)
    clock = {
        "one clock for the session": np.full(LAPS.shape, 36000.0),
        "minutes": np.floor(true / 60) * 60,
        "none": np.full(LAPS.shape, np.nan),
    }[wrong]
    assert not clocks_show_traffic(finish_times(clock, LAPS, EXISTS), EXISTS)
