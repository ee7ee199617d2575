"""Small pieces of the effect on numbers worked by hand (our own arithmetic; t values from any printed table)."""

import numpy as np
import pytest

from lapdelta.effect.arrays import OUT_LAP, LapCube
from lapdelta.effect.history import conflicts, neighbour_differences
from lapdelta.effect.measures import find_measure
from lapdelta.effect.pace import middle_half, part_pace
from lapdelta.effect.screening import screen
from lapdelta.effect.shift import Shift
from lapdelta.effect.verdict import judge

NAN = float("nan")


def cube_of(*laps):
    """One kart, one session."""
    time = np.array([[laps]])
    position = np.arange(1, len(laps) + 1).reshape(time.shape)
    nothing = np.full(time.shape, np.nan)
    reason = np.where(position == 1, OUT_LAP, 0)
    return LapCube(time, position > 0, reason, position, np.empty((*time.shape, 0)), nothing, nothing)


def test_early_and_late_laps():
    """Laps 2 to 5, and from 6 on; of four laps the quickest 2.8, the third for 0.8 of its weight."""
    cube = cube_of(55.0, 50.1, 50.0, 50.2, 50.4, 51.0, 51.0, 51.0, 51.0, 51.0, 51.0)
    screened = screen(cube, warm_up=False)
    assert screened.kept[0, 0, 1:].all()
    early, late = part_pace(cube, screened, 2, 5, 0.7), part_pace(cube, screened, 6, 11, 0.7)
    assert early.pace[0, 0] == pytest.approx((50.0 + 50.1 + 0.8 * 50.2) / 2.8)
    assert early.laps[0, 0] == 4
    assert late.pace[0, 0] == pytest.approx(51.0)
    assert late.laps[0, 0] == 6


def test_middle_half_of_the_speeds():
    """Of nine, two at each end do not count, the tow's 120 least of all; the noise is that of all nine."""
    speed = np.array([[[94.0, 90.0, 92.0, 120.0, 95.0, 91.0, 93.0, 96.0, 97.0]]])
    found = middle_half(speed, np.ones(speed.shape, bool))
    assert found.pace[0, 0] == pytest.approx((92 + 93 + 94 + 95 + 96) / 5)
    assert found.laps[0, 0] == 9
    # |deviation| from the median 94: 0 4 2 26 1 3 1 2 3, median 2; 1.3 (1.4826 x 2)^2/9
    assert found.variance[0, 0] == pytest.approx(1.3 * (1.4826 * 2) ** 2 / 9)
    few = middle_half(speed, np.arange(9).reshape(speed.shape) < 2)
    assert np.isnan(few.pace[0, 0])


def test_neighbour_differences_by_hand():
    """Ours .3 and -.1; the others' means .2 and .1 (one of three did not run the last session)."""
    pace = np.array([[50.0, 50.3, 50.2], [51.0, 51.1, 51.1], [52.0, 52.3, 52.5], [53.0, 53.2, NAN]])
    found = neighbour_differences(pace, np.array([True, True]))
    assert found.raw == (pytest.approx((0.3, -0.1)),)
    assert found.adjusted == (pytest.approx((0.1, -0.2)),)
    broken = neighbour_differences(pace, np.array([True, False]))
    assert broken.raw == (pytest.approx((0.3,)),)
    alone = neighbour_differences(pace[:2], np.array([True, True]))
    assert alone.adjusted == ()  # one other kart is too few


def test_a_change_of_setup_breaks_the_chain():
    pace = np.array([[50.0, 50.3, 50.2, 50.6]])
    found = neighbour_differences(pace, np.array([True, False, True]))
    assert found.raw == (pytest.approx((0.3,)), pytest.approx((0.4,)))


@pytest.mark.parametrize(
    ("square", "expected"),
    [
        (0.0185, False),  # what the history implies: (.0185 x 11 - .04 x 3)/8 = .01044; .04/.01044 = 3.83
        (0.0180, True),  # .00975; 4.10
        (0.0100, True),  # less than nothing is left for the history
    ],
)
def test_conflict_of_day_and_history(square, expected):
    """F(3, 8) is 4.07 at 5 % in any printed table."""
    assert conflicts(0.2, 3.0, np.sqrt(square), 11.0) == expected


def test_numbers_beside_the_verdict():
    """t with 10 df: .975 at 2.2281, .95 at 1.8125; P(t < 2) = .96331."""
    shift = Shift("blocked", "", estimate=-0.10, standard_error=0.05, dof=10)
    told = judge(shift, find_measure("lap_time", 0), 0.10, 0.95)
    assert told.verdict == "not settled"
    assert (told.low, told.high) == pytest.approx((-0.10 - 2.2281 * 0.05, -0.10 + 2.2281 * 0.05), abs=1e-5)
    assert told.half_width == pytest.approx(2.2281 * 0.05, abs=1e-5)
    assert told.smallest_margin == pytest.approx(0.10 + 1.8125 * 0.05, abs=1e-5)
    assert told.chance_better == pytest.approx(0.96331, abs=1e-5)
    assert told.chance_worthwhile == pytest.approx(0.5)
    speed = judge(Shift("blocked", "", 2.0, 1.0, 10), find_measure("top_speed", 0), 2.0, 0.95)
    assert speed.chance_better == pytest.approx(0.96331, abs=1e-5)
    assert speed.chance_worthwhile == pytest.approx(0.5)
    rpm = judge(Shift("blocked", "", 100.0, 50.0, 10), find_measure("peak_rpm", 0), 100.0, 0.95)
    assert (rpm.chance_better, rpm.chance_worthwhile) == (None, None)
    small = judge(Shift("blocked", "", -0.05, 0.01, 10), find_measure("lap_time", 0), 0.10, 0.95)
    assert (small.verdict, small.less_than_worthwhile) == ("faster", True)
    none = judge(Shift("blocked", "", 0.01, 0.03, 10), find_measure("lap_time", 0), 0.10, 0.95)
    assert (none.verdict, none.less_than_worthwhile) == ("no worthwhile difference", False)
