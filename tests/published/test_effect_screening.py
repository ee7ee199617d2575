"""The screening rule on cells worked by hand: which lap goes, by what scale, and what the warm-up takes off."""

import numpy as np
import pytest

from lapdelta.effect.arrays import INVALID, OUT_LAP, REASONS, SLOW, LapCube
from lapdelta.effect.screening import screen

#: Six laps of one cell past the warm-up: median 50.15 of six; at or below it 50.1, 50.05, 50.0.
STEADY = [50.0, 50.05, 50.1, 50.2, 50.25, 50.3]


def cube_of(time_s, first=5, reason=None):
    """Karts by sessions by laps; laps count from ``first``, so that none is warm-up unless asked for."""
    time_s = np.array(time_s, float)
    position = np.broadcast_to(np.arange(first, first + time_s.shape[-1]), time_s.shape)
    nothing = np.full(time_s.shape, np.nan)
    reason = np.zeros(time_s.shape, np.int64) if reason is None else reason
    exists = np.isfinite(time_s)
    return LapCube(time_s, exists, reason, position, np.empty((*time_s.shape, 0)), nothing, nothing)


def test_the_scale_is_that_of_the_quick_half():
    """Six laps twice: below the median .15 .10 .05 s, their median .10, times 1.4826."""
    found = screen(cube_of([[STEADY, STEADY]]))
    assert found.scale_s[0] == pytest.approx(1.4826 * 0.10)
    assert found.kept.all()
    assert not found.warm_up_s.any()


@pytest.mark.parametrize(("beyond", "kept"), [(-0.001, True), (0.001, False)])
def test_a_lap_goes_when_it_is_three_scales_above_the_median(beyond, kept):
    """Seven laps: median 50.2, at or below it 0 .1 .15 .2, twice: scale 1.4826 x .125; the limit is three of it."""
    last = 50.2 + 3 * 1.4826 * 0.125 + beyond
    found = screen(cube_of([[[*STEADY, last], [*STEADY, last]]]))
    assert found.kept[0, :, :6].all()
    assert found.kept[0, :, 6].tolist() == [kept, kept]
    if not kept:
        assert REASONS[found.reason[0, 0, 6]] == "slow"
        assert found.reason[0, 0, 6] == SLOW


def test_quick_laps_are_never_cut():
    quick = [*STEADY, 45.0]
    assert screen(cube_of([[quick, quick]])).kept.all()


def test_slow_laps_hide_no_other_slow_one():
    """A queue of 60 s widens nothing: the second pass, without it, still finds the lap of 51.5."""
    laps = [*STEADY, *STEADY, 51.5, 60.0, 60.0, 60.0]
    found = screen(cube_of([[laps]]))
    assert found.kept[0, 0].tolist() == [True] * 12 + [False] * 4


def test_a_steady_driver_has_a_scale_of_a_twentieth():
    """Every lap the same to a hundredth: .05 s is the scale, so .14 s above the median stays, .16 s goes."""
    laps = [50.0, 50.0, 50.01, 50.01, 50.0, 50.01, 50.14, 50.17]
    found = screen(cube_of([[laps]]))
    assert found.scale_s[0] == pytest.approx(0.05)
    assert found.kept[0, 0].tolist() == [True] * 7 + [False]


def test_a_kart_with_few_laps_takes_the_scale_of_the_others():
    """Three karts; one has three laps, two at or below their median: the median of the others' two scales."""
    wide = [50 + 2 * (lap - 50) for lap in STEADY]
    few = [50.0, 50.1, 50.9, np.nan, np.nan, np.nan]
    found = screen(cube_of([[STEADY, STEADY], [wide, wide], [few, [np.nan] * 6]]))
    assert found.scale_s == pytest.approx(1.4826 * np.array([0.1, 0.2, 0.15]))
    assert found.kept[2, 0].tolist() == [True, True, False, False, False, False]


def test_four_laps_at_or_below_their_median_make_a_scale_of_their_own():
    """Seven laps in one session: 0 .1 .15 .2 s at or below 50.2, and .125 is their median."""
    laps = [[[*STEADY, 50.3]], [[50.0, 50.5, 51.0, 51.5, 52.0, 52.5, 53.0]]]
    assert screen(cube_of(laps)).scale_s == pytest.approx(1.4826 * np.array([0.125, 0.75]))


def warming(cells=4, laps=9):
    """Cells of a run from lap 1: an out lap, then .6, .3, .1 s of warm-up, then 50 s and a little."""
    run = np.array([58.0, 50.6, 50.3, 50.1, 50.0, 50.02, 49.98, 50.0, 50.0][:laps])
    time_s = run + np.arange(float(cells))[:, None, None]
    reason = np.zeros(time_s.shape, np.int64)
    reason[..., 0] = OUT_LAP
    return time_s, reason


def test_warm_up_is_the_median_over_the_cells():
    """One kart warms up slower, one quicker: the median stays; it is taken off every kart's laps 2 to 4."""
    time_s, reason = warming(5)
    time_s[0, 0, 1:4] += 0.2
    time_s[1, 0, 1:4] -= 0.2
    found = screen(cube_of(time_s, 1, reason))
    assert found.profile_s == pytest.approx([0.6, 0.3, 0.1])
    assert found.warm_up_s[2, 0] == pytest.approx([0, 0.6, 0.3, 0.1, 0, 0, 0, 0, 0])
    assert found.time_s == pytest.approx(time_s - found.warm_up_s)
    assert found.kept[2, 0].tolist() == [False] + [True] * 8  # lap 2 is no slow lap once it is taken off


def test_three_cells_tell_no_warm_up():
    time_s, reason = warming(3)
    found = screen(cube_of(time_s, 1, reason))
    assert not found.profile_s.any()
    assert found.time_s == pytest.approx(time_s)


def test_a_cell_with_two_warm_laps_tells_no_warm_up():
    """Four cells, one of them with laps 5 and 6 only past the warm-up: three are left."""
    time_s, reason = warming(4)
    time_s[3, 0, 6:] = np.nan
    assert not screen(cube_of(time_s, 1, reason)).profile_s.any()
    time_s, reason = warming(4, laps=7)  # laps 5, 6, 7 are enough
    assert screen(cube_of(time_s, 1, reason)).profile_s == pytest.approx([0.6, 0.3, 0.1])


def test_a_lap_that_the_file_speaks_against_is_no_warm_up():
    """Lap 2 is invalid in one of four cells: laps 3 and 4 are told, lap 2 is not."""
    time_s, reason = warming(4)
    reason[0, 0, 1] = INVALID
    found = screen(cube_of(time_s, 1, reason))
    assert found.profile_s == pytest.approx([0, 0.3, 0.1])
    assert found.reason[0, 0, 1] == INVALID
    assert found.kept[0, 0].tolist() == [False, False] + [True] * 7  # lap 3 is no slow lap either


def test_without_the_warm_up_nothing_is_taken_off():
    time_s, reason = warming(6)
    found = screen(cube_of(time_s, 1, reason), warm_up=False)
    assert not found.warm_up_s.any()
    assert found.time_s == pytest.approx(time_s)
    assert not found.kept[0, 0, 1]  # and lap 2 is slow


def test_a_shift_of_a_whole_session_cannot_be_screened_away():
    time_s, reason = warming(5)
    both = np.concatenate([time_s, time_s], axis=1)
    moved = both.copy()
    moved[0, 1] += 3.0
    reason = np.concatenate([reason, reason], axis=1)
    one, other = screen(cube_of(both, 1, reason)), screen(cube_of(moved, 1, reason))
    assert np.array_equal(one.kept, other.kept)
    assert other.time_s[0, 1] == pytest.approx(one.time_s[0, 1] + 3.0)
