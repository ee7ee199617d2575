"""The pace of a cell and its companions against a reference library, and small cells worked by hand."""

import numpy as np
import pytest
from statsmodels.robust.norms import HuberT, estimate_location

from lapdelta.effect.arrays import OUT_LAP, LapCube
from lapdelta.effect.pace import (
    Cells,
    clean_pace,
    huber_pace,
    lap_noise,
    lap_weights,
    middle_half,
    printed_step,
    quantile_pace,
    weighted_pace,
)
from lapdelta.effect.screening import MAD_TO_SD, Screened

#: One kart, two sessions; the last lap of the first and the second of the other do not count.
TIMES = np.array([[[50.0, 50.2, 50.1, 50.9, 50.3, 49.0], [51.0, 55.0, 51.4, 51.1, 52.0, 51.2]]])
KEPT = np.array([[[1, 1, 1, 1, 1, 0], [1, 0, 1, 1, 1, 1]]], bool)


def screened(time_s=TIMES, kept=KEPT):
    nothing = np.zeros(time_s.shape)
    return Screened(kept, np.where(kept, 0, OUT_LAP), time_s, nothing, np.zeros(3), np.full(len(time_s), 0.1))


def cube_of(time_s=TIMES, kept=KEPT):
    position = np.broadcast_to(np.arange(1, time_s.shape[-1] + 1), time_s.shape)
    empty = np.full(time_s.shape, np.nan)
    reason = np.where(kept, 0, OUT_LAP)
    return LapCube(time_s, np.ones_like(kept), reason, position, np.empty((*time_s.shape, 0)), empty, empty)


def test_noise_of_a_kart_by_hand():
    """Deviations from 50.2: .2 0 .1 .7 .1, from 51.2: .2 .2 .1 .8 0: median .15 of ten laps in two cells."""
    assert lap_noise(TIMES, KEPT)[0] == pytest.approx(1.4826 * 0.15 * np.sqrt(10 / 8))
    assert lap_noise(np.full((1, 1, 4), 50.0), np.ones((1, 1, 4), bool)) == pytest.approx(0.02)  # the floor


def test_a_cell_of_two_laps_says_nothing_of_the_noise():
    """Its laps lie half a second from their median; the noise is that of the other cell alone."""
    time_s = np.array([[[50.0, 50.1, 50.2, 50.3], [50.0, 51.0, 0.0, 0.0]]])
    kept = np.array([[[1, 1, 1, 1], [1, 1, 0, 0]]], bool)
    assert lap_noise(time_s, kept)[0] == pytest.approx(1.4826 * 0.1 * np.sqrt(4 / 3))


def test_weights_add_up_to_one_and_only_the_quickest_have_any():
    """Of five laps 3.5: three whole ones and half of the fourth."""
    weights = lap_weights(TIMES, KEPT)
    assert weights.sum(axis=-1) == pytest.approx(np.ones((1, 2)))
    assert weights[0, 0] * 3.5 == pytest.approx([1, 1, 1, 0, 0.5, 0])
    assert weights[0, 1] * 3.5 == pytest.approx([1, 0, 0.5, 1, 0, 1])
    assert not lap_weights(TIMES, KEPT & (np.arange(6) < 2)).any()  # two laps make no pace


def test_of_equal_laps_the_earlier_counts():
    same = np.full((1, 1, 5), 50.0)
    assert lap_weights(same, same > 0)[0, 0] * 3.5 == pytest.approx([1, 1, 1, 0.5, 0])


def test_pace_of_a_cell_is_the_weighted_mean_with_its_noise():
    found = clean_pace(screened())
    first, second = (50.0 + 50.2 + 50.1 + 0.5 * 50.3) / 3.5, (51.0 + 51.1 + 51.2 + 0.5 * 51.4) / 3.5
    assert found.pace[0] == pytest.approx([first, second])
    noise = 1.1 * (1.4826 * 0.15) ** 2 * 10 / 8 / 5
    assert found.variance[0] == pytest.approx([noise, noise])
    assert found.laps[0] == pytest.approx([5, 5])


def test_constant_laps_have_exactly_that_pace():
    same = np.full((1, 1, 7), 59.873)
    assert weighted_pace(same, lap_weights(same, same > 0))[0, 0] == 59.873
    assert np.isnan(weighted_pace(same, np.zeros(same.shape))[0, 0])


@pytest.mark.parametrize("seed", range(4))
def test_companion_is_hubers_location(seed):
    """statsmodels ``estimate_location`` with HuberT(1.345), the scale given: one cell at a time."""
    rng = np.random.default_rng(seed)
    time_s = (
        50
        + rng.normal(0, 0.2, (2, 3, 12))
        + rng.exponential(1.0, (2, 3, 12)) * (rng.random((2, 3, 12)) < 0.2)
    )
    kept = rng.random(time_s.shape) < 0.85
    kept[..., 0] = False
    found, sigma = huber_pace(screened(time_s, kept)), lap_noise(time_s, kept)
    for kart in range(2):
        for session in range(3):
            laps = time_s[kart, session][kept[kart, session]]
            expected = estimate_location(laps, sigma[kart], norm=HuberT(t=1.345), tol=1e-13, maxiter=200)
            assert found.pace[kart, session] == pytest.approx(float(expected), abs=1e-7)
            assert found.variance[kart, session] == pytest.approx(1.1 * sigma[kart] ** 2 / len(laps))


def test_quantile_of_a_session_needs_five_laps_and_a_pace():
    """numpy's linear quantile (type 7) over all laps but the out lap."""
    clean = clean_pace(screened())
    found = quantile_pace(cube_of(), screened(), clean, 0.25)
    assert found.pace[0] == pytest.approx([np.quantile(TIMES[0, i][KEPT[0, i]], 0.25) for i in range(2)])
    assert found.variance[0] == pytest.approx(clean.variance[0])
    few = KEPT & (np.arange(6) < 5)  # five laps and four
    assert np.isfinite(quantile_pace(cube_of(kept=few), screened(), clean, 0.25).pace[0]).tolist() == [
        True,
        False,
    ]
    no_pace = Cells(np.array([[np.nan, 51.0]]), np.array([[np.nan, 0.01]]), np.array([[2.0, 5.0]]))
    found = quantile_pace(cube_of(), screened(), no_pace, 0.25)
    assert np.isfinite(found.pace[0]).tolist() == [False, True]
    assert np.isfinite(found.variance[0]).tolist() == [False, True]


def test_speeds_printed_in_whole_steps_are_not_surer_than_half_a_step():
    """All 92 or 93 km/h, most 92: no scatter about the median, so the noise is half of 1 km/h."""
    speed = np.array([[[92.0, 92.0, 92.0, 92.0, 93.0]]])
    found = middle_half(speed, np.ones(speed.shape, bool))
    assert found.pace[0, 0] == pytest.approx(92.0)
    assert found.variance[0, 0] == pytest.approx(1.3 * 0.5**2 / 5)
    steps = [92.0, 92.3, 93.1]
    assert printed_step(np.array(steps)) == pytest.approx(0.3)
    assert printed_step(np.array([92.0])) == 1.0


def test_a_speed_that_is_missing_does_not_count_as_a_speed():
    """Four speeds of six laps: the least and the greatest go, the two between count."""
    speed = np.array([[[90.0, np.nan, 94.0, 92.0, np.nan, 99.0]]])
    found = middle_half(speed, np.ones(speed.shape, bool))
    assert found.pace[0, 0] == pytest.approx(93.0)
    assert found.laps[0, 0] == 4
    # deviations from 93: 3 1 1 6, median 2
    assert found.variance[0, 0] == pytest.approx(1.3 * (MAD_TO_SD * 2) ** 2 / 4)
    two = middle_half(np.array([[[90.0, np.nan, 94.0, np.nan]]]), np.ones((1, 1, 4), bool))
    assert np.isnan(two.pace[0, 0])
    assert np.isnan(two.variance[0, 0])


def test_karts_and_sessions_keep_their_own_speeds():
    """Each cell as if it stood alone; of a kart's two sessions the noise is pooled."""
    rng = np.random.default_rng(3)
    speed = np.round(95 + rng.normal(0, 1, (3, 2, 9)), 1)
    kept = rng.random(speed.shape) < 0.9
    found = middle_half(speed, kept)
    for kart in range(3):
        away = []
        for session in range(2):
            values = np.sort(speed[kart, session][kept[kart, session]])
            drop = len(values) // 4
            assert found.pace[kart, session] == pytest.approx(values[drop : len(values) - drop].mean())
            away.append(np.abs(values - np.median(values)))
        noise = max(MAD_TO_SD * np.median(np.concatenate(away)), 0.05)
        laps = kept[kart].sum(axis=-1)
        assert found.variance[kart] == pytest.approx(1.3 * noise**2 / laps)


def test_a_lap_without_a_time_before_the_kept_ones_spoils_no_pace():
    """The out lap has no time, and the cell is padded behind: three laps are left, and three make a cell."""
    time_s = np.array([[[np.nan, 50.0, 50.3, 50.6, np.nan]]])
    kept = np.isfinite(time_s)
    found = weighted_pace(time_s, lap_weights(time_s, kept))
    assert found[0, 0] == pytest.approx((50.0 + 50.3 + 0.1 * 50.6) / 2.1)
    speeds = middle_half(np.array([[[np.nan, 90.0, 93.0, 91.0, np.nan]]]), kept)
    assert speeds.pace[0, 0] == pytest.approx((90 + 93 + 91) / 3)
