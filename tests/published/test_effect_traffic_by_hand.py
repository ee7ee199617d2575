"""Clocks, runs of laps and traffic against their definitions, lap by lap and kart by kart, without any batch.

Our own definitions on invented laps; a clock rounded to a step errs by step/sqrt(12) (variance of an even spread).
"""

import math

import numpy as np
import pytest

from lapdelta.effect.arrays import LapCube, masked_median, masked_quantile, number_runs
from lapdelta.effect.clocks import Finishes, clocks_show_traffic, finish_times, printed_step
from lapdelta.effect.traffic import LineTimes, free_times, line_times, traffic_classes

NAN = float("nan")


@pytest.mark.parametrize("seed", range(3))
def test_quantiles_and_medians_are_numpys_over_what_counts(seed):
    rng = np.random.default_rng(seed)
    values = rng.normal(size=(3, 4, 7))
    mask = rng.random(values.shape) < 0.6
    mask[0, 0] = False
    mask[1, 1] = np.arange(7) == 3
    for q in (0.0, 0.1, 0.4, 0.75, 1.0):
        found = masked_quantile(values, mask, q)
        for k, s in np.ndindex(3, 4):
            kept = values[k, s][mask[k, s]]
            assert found[k, s] == pytest.approx(np.quantile(kept, q) if kept.size else NAN, nan_ok=True)
    found = masked_median(values, mask)
    for k, s in np.ndindex(3, 4):
        kept = values[k, s][mask[k, s]]
        assert found[k, s] == pytest.approx(np.median(kept) if kept.size else NAN, nan_ok=True)


def test_of_no_laps_there_is_no_middle():
    nothing = np.zeros((2, 3, 0))
    assert np.isnan(masked_median(nothing, nothing > 0)).all()
    assert masked_median(nothing, nothing > 0).shape == (2, 3)


def test_usable_laps_are_there_and_have_no_reason_against_them():
    exists, reason = np.array([[[True, True, False, False]]]), np.array([[[0, 3, 0, 3]]])
    nothing = np.zeros(exists.shape)
    cube = LapCube(nothing, exists, reason, reason, np.zeros((*exists.shape, 0)), nothing, nothing)
    assert cube.usable.tolist() == [[[True, False, False, False]]]


@pytest.mark.parametrize(
    ("lap", "time", "clock", "position", "repeats"),
    [
        ([0, 1, 2], [70, 60, 61], [NAN] * 3, [1, 2, 3], []),
        ([1, 2, 1, 2], [70, 60, 71, 61], [NAN] * 4, [1, 2, 1, 2], []),
        ([1, 2, 2, 3], [70, 60, 60, 61], [NAN] * 4, [1, 2, 2, 3], [2]),
        ([1, 2, 2, 3], [70, 60, 60.5, 61], [NAN] * 4, [1, 2, 1, 2], []),
        ([1, 2, 2, 3], [70, 60, 60, 61], [100, 160, 220, 281], [1, 2, 1, 2], []),
        ([1, 2, 2, 3], [70, 60, 60, 61], [100, 160, 160, 221], [1, 2, 2, 3], [2]),
        ([1, 2, 2, 3], [70, 60, 60, 61], [100, 160, NAN, 221], [1, 2, 2, 3], [2]),
        ([1, 2, 2, 3], [70, NAN, NAN, 61], [NAN] * 4, [1, 2, 2, 3], [2]),
        ([1, 2, 2, 3], [70, 60, NAN, 61], [NAN] * 4, [1, 2, 1, 2], []),
        ([1, 2, 2, 3], [70, NAN, 60, 61], [NAN] * 4, [1, 2, 1, 2], []),
        ([1, NAN, NAN, 4], [70, 60, 60, 61], [NAN] * 4, [1, 2, 3, 4], []),
        ([NAN, NAN, 1], [70, 60, 61], [NAN] * 3, [1, 2, 3], []),
        ([NAN] * 4, [70, 60, 60, 61], [NAN] * 4, [1, 2, 3, 4], []),
        ([NAN] * 2, [NAN, 60], [NAN] * 2, [1, 2], []),
    ],
)
def test_laps_count_in_runs_and_a_line_said_again_is_a_repeat(lap, time, clock, position, repeats):
    shaped = [np.array(values, float)[None, None] for values in (lap, time, clock)]
    found, again = number_runs(*shaped, np.ones((1, 1, len(lap)), bool))
    assert found[0, 0].tolist() == position
    assert np.flatnonzero(again[0, 0]).tolist() == repeats


def test_places_without_a_lap_do_not_count():
    lap, exists = np.array([[[1.0, 9.0, 2.0]]]), np.array([[[True, False, True]]])
    found, _ = number_runs(lap, lap + 60, np.full(lap.shape, NAN), exists)
    assert found[0, 0].tolist() == [1, 0, 2]


@pytest.mark.parametrize(
    ("clocks", "step"),
    [([36000, 36060, 36180], 60), ([36000, 36061], 1), ([36000.1, 36060.2], 0.1), ([36000.25, 36060.5], 0.01),
     ([36000.1234], 0.001), ([36000.121, 36000.13], 0.001), ([], 0.001), ([NAN, 36060.0], 60)],
)  # fmt: skip
def test_the_step_in_which_clocks_are_printed(clocks, step):
    assert printed_step(np.array(clocks, float)) == step


def test_the_end_of_each_lap_is_the_mean_start_of_its_run_and_the_laps_since():
    """Clocks to whole seconds: start = clock - elapsed, averaged; its error that of rounding at least."""
    time = np.array([[[60.3, 60.4, 60.1, 60.2]]])
    true = 36000.4 + np.cumsum(time)
    clock = np.floor(true).reshape(time.shape)
    found = finish_times(clock, time, np.ones(time.shape, bool))
    starts = clock[0, 0] - np.cumsum(time)
    assert found.finish_s[0, 0] == pytest.approx(starts.mean() + np.cumsum(time))
    error = max(starts.std(ddof=1), 1 / math.sqrt(12)) / 2
    assert found.error_s[0, 0] == pytest.approx([error] * 4)


def test_a_stop_or_a_lap_without_a_time_begins_a_new_stretch():
    """Nine minutes between laps 3 and 4; lap 6 has no time."""
    time = np.array([[[60.0, 60.0, 60.0, 60.0, 60.0, NAN, 60.0, 60.0]]])
    clock = np.array([[[100.01, 160.02, 220.03, 820.04, 880.05, 940.0, 1000.07, 1060.08]]])
    found = finish_times(clock, time, np.ones(time.shape, bool))
    ends = found.finish_s[0, 0]
    assert ends[:3] == pytest.approx(100.02 + np.array([0, 60, 120]))
    assert ends[3:5] == pytest.approx(820.045 + np.array([0, 60]))
    assert np.isnan(ends[5])
    assert found.error_s[0, 0, 5] == np.inf
    assert ends[6:] == pytest.approx(1000.075 + np.array([0, 60]))


def ends_by_definition(clock, time, exists, step):
    """One cell: stretches part where a lap has no time, or clock minus elapsed moves by .3 s and a step."""
    elapsed, stretches, first = 0.0, [], NAN
    for i, (printed, lap) in enumerate(zip(clock, time, strict=True)):
        elapsed += 0.0 if math.isnan(lap) else lap
        start = printed - elapsed
        if math.isnan(lap) or abs(start - first) > 0.3 + step or not stretches:
            stretches.append([])
            first = start
        elif math.isnan(first):
            first = start
        stretches[-1].append((i, start, elapsed, exists[i] and not math.isnan(lap)))
    end, error = [NAN] * len(clock), [math.inf] * len(clock)
    for stretch in stretches:
        starts = np.array([start for _, start, _, counts in stretch if counts and not math.isnan(start)])
        for i, _, since, counts in stretch:
            if counts and starts.size:
                spread = starts.var(ddof=1) if starts.size > 1 else 0.0
                end[i] = starts.mean() + since
                error[i] = math.sqrt(max(spread, step**2 / 12) / starts.size)
    return end, error


@pytest.mark.parametrize("seed", range(4))
def test_ends_of_many_karts_and_sessions_one_by_one(seed):
    """Clocks to tenths, some missing, some laps without a time, some places empty, a stop now and then."""
    rng = np.random.default_rng(seed)
    shape = (3, 4, 9)
    time = rng.uniform(50, 60, shape)
    stops = np.where(rng.random(shape) < 0.15, 200.0, 0.0)
    clock = np.round(
        36000 + rng.uniform(0, 900, (3, 4, 1)) + np.cumsum(time + stops, axis=-1) + rng.normal(0, 0.1, shape),
        1,
    )
    clock[rng.random(shape) < 0.2] = NAN
    time[rng.random(shape) < 0.1] = NAN
    exists = rng.random(shape) < 0.9
    found = finish_times(clock, time, exists)
    for cell in np.ndindex(3, 4):
        end, error = ends_by_definition(clock[cell], time[cell], exists[cell], 0.1)
        assert found.finish_s[cell] == pytest.approx(end, nan_ok=True)
        assert found.error_s[cell] == pytest.approx(error)
    assert found.good.tolist() == (np.isfinite(found.finish_s) & (found.error_s <= 0.15)).tolist()


def known(share_all, share_ours, karts=10, laps=20):
    """That share of laps has a clock good to .15 s."""
    error = np.full((karts, 1, laps), 0.16)
    error[0, 0, : round(share_ours * laps)] = 0.15
    others = round(share_all * karts * laps) - round(share_ours * laps)
    error[1:].reshape(-1)[:others] = 0.15
    return Finishes(np.zeros(error.shape), error)


@pytest.mark.parametrize(
    ("everybody", "ours", "shown"),
    [(0.9, 0.9, True), (0.89, 1.0, False), (0.95, 0.85, False), (1.0, 1.0, True)],
)
def test_nine_laps_in_ten_of_all_and_of_ours_need_a_good_clock(everybody, ours, shown):
    finishes = known(everybody, ours)
    assert clocks_show_traffic(finishes, np.ones(finishes.error_s.shape, bool)) is shown
    assert clocks_show_traffic(finishes, np.zeros(finishes.error_s.shape, bool)) is False


def test_lines_of_a_lap_are_its_start_and_its_stretches_on():
    finish, lap = np.array([[[100.0, 161.0]]]), np.array([[[60.0, 61.0]]])
    whole = line_times(finish, lap, lap[None])
    assert (whole.start_s[0, 0, 0].tolist(), whole.end_s[0, 0, 0].tolist()) == ([40, 100], [100, 161])
    parts = np.stack([lap * 0 + 20, lap * 0 + 15, lap - 35])
    lines = line_times(finish, lap, parts)
    assert lines.start_s[:, 0, 0, 1].tolist() == [100, 120, 135]
    assert lines.end_s[:, 0, 0, 1].tolist() == [120, 135, 161]


def test_free_time_is_a_quantile_of_settled_laps_or_of_any():
    """The 40 % quantile from lap 3 on; where there is none, of what there is."""
    times = np.array([[[70.0, 62.0, 60.0, 60.5, 61.0], [70.0, 62.0, NAN, NAN, NAN]]])[None]
    position = np.broadcast_to(np.arange(1, 6), times.shape[1:])
    found = free_times(times, position, np.isfinite(times[0]))
    assert found[0, 0] == pytest.approx([np.quantile([60, 60.5, 61], 0.4), np.quantile([62, 70], 0.4)])


def by_definition(lines, free):
    """Class of each stretch, pair by pair of karts' laps, as the module's docstrings have it."""
    stretches, karts, sessions, laps = lines.start_s.shape
    classes = np.zeros(lines.start_s.shape, int)
    for q, s in np.ndindex(stretches, sessions):
        on = [(lines.start_s[q, k, s, i], k, i) for k in range(karts) for i in range(laps)]
        on = sorted(place for place in on if not math.isnan(place[0]))
        end = [lines.end_s[q, k, s, i] for _, k, i in on]
        arrive = [start + free[q, k, s] for start, k, _ in on]
        for at, (start, k, i) in enumerate(on):
            ahead = [j for j in range(max(0, at - 3), at) if start - on[j][0] <= 6]
            behind = [j for j in range(at + 1, min(len(on), at + 3)) if on[j][0] - start <= 6]
            held = max([end[j] + 0.5 - arrive[at] for j in ahead], default=0)
            pressed = max([arrive[at] + 0.5 - end[j] for j in behind], default=0)
            tail = at + 1 < len(on) and on[at + 1][0] - start < 0.8
            if held > 0.1:
                classes[q, k, s, i] = 3
            elif held > 0:
                classes[q, k, s, i] = 2
            elif pressed > 0.1 or tail:
                classes[q, k, s, i] = 4
            elif at and start - on[at - 1][0] < 0.8:
                classes[q, k, s, i] = 1
    return classes


@pytest.mark.parametrize("seed", range(4))
def test_traffic_is_what_each_pair_of_karts_says(seed):
    """Five karts on a lap of 20 s in two stretches, so that they meet all the time; some starts not known."""
    rng = np.random.default_rng(seed)
    karts, sessions, laps = 5, 2, 12
    parts = np.stack(
        [rng.normal(9, 0.4, (karts, sessions, laps)), rng.normal(11, 0.4, (karts, sessions, laps))]
    )
    lap = parts.sum(axis=0)
    finish = rng.uniform(0, 60, (karts, sessions))[..., None] + np.cumsum(lap, axis=-1)
    finish[rng.random(finish.shape) < 0.1] = NAN
    lines = line_times(finish, lap, parts)
    free = free_times(parts, np.broadcast_to(np.arange(1, laps + 1), lap.shape), np.ones(lap.shape, bool))
    expected = by_definition(lines, free)
    found = traffic_classes(lines, free)
    assert found.tolist() == expected.tolist()
    assert len(np.unique(expected)) == 5


def test_only_two_karts_behind_and_three_ahead_count():
    """A stretch of 10 s. The third behind could attack, the fourth ahead leaves late: neither counts."""

    def classes(starts, ends):
        start, end = (np.array(values, float).reshape(1, -1, 1, 1) for values in (starts, ends))
        return traffic_classes(LineTimes(start, end), np.full((1, len(starts), 1), 10.0)).ravel().tolist()

    assert classes([100, 101, 102, 103], [110, 120, 120, 110.2])[0] == 0
    assert classes([100, 101, 103], [110, 120, 110.2])[0] == 4
    assert classes([100, 101, 102, 103, 104], [120, 111, 112, 113, 114])[4] == 0
    assert classes([100, 102, 103, 104], [120, 112, 113, 114])[3] == 3
    assert classes([100, 106.5], [120, 130])[1] == 0  # started more than six seconds earlier
    assert classes([100, 106.0], [120, 130])[1] == 3
