"""The shift by quantile, and every other kart in our place: what must follow from their definitions.

Simulated days; each other kart's shift is asked for again one kart at a time, our kart left out.
"""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats
from simulated.simulator import Scenario, simulate

from lapdelta.effect.day import batch_of, prepare
from lapdelta.effect.measures import find_measure
from lapdelta.effect.routes import Batch, shifts
from lapdelta.effect.scale import QUICK
from lapdelta.effect.shift import told_nothing
from lapdelta.effect.sideviews import placebo_table, quantile_table

LAP_TIME = find_measure("lap_time", 0)


def made(order, others=6, seed=4, laps=(14, 14)):
    day = simulate(
        Scenario(order, others, effect=-0.3, laps=laps, traffic=(0.0, 0.0)), np.random.default_rng(seed)
    )
    prepared = prepare(day, LAP_TIME)
    return day, prepared, shifts(batch_of(day, prepared.cells, prepared.used))[0]


def test_four_quantiles_with_intervals_that_hold_together():
    """Bonferroni over the four, t."""
    day, prepared, _ = made("AABB")
    rows = quantile_table(day, prepared, 0.9)
    assert [row["quantile"] for row in rows] == [0.10, 0.25, 0.50, 0.75]
    for row in rows:
        half = stats.t.ppf(1 - 0.1 / 4 / 2, row["dof"]) * row["standard_error"]
        assert (row["low"], row["high"]) == pytest.approx((row["estimate"] - half, row["estimate"] + half))


@pytest.mark.parametrize("order", ["AABB", "ABBA"])
def test_our_laps_after_moved_by_so_much_move_every_quantile_by_it(order):
    day, *_ = made(order)
    time = day.cube.time_s.copy()
    time[0, day.design.level == 1] += 0.2
    later = replace(day, cube=replace(day.cube, time_s=time))
    before, after = (quantile_table(one, prepare(one, LAP_TIME), 0.95) for one in (day, later))
    for row, moved in zip(before, after, strict=True):
        assert moved["estimate"] - row["estimate"] == pytest.approx(0.2)
        assert (moved["standard_error"], moved["dof"]) == pytest.approx((row["standard_error"], row["dof"]))
    assert len({round(row["estimate"], 6) for row in before}) == 4


@pytest.mark.parametrize(("others", "rows"), [(2, 0), (3, 4)])
def test_quantiles_need_three_other_karts(others, rows):
    day, prepared, _ = made("AABB", others)
    assert len(quantile_table(day, prepared, 0.95)) == rows


@pytest.mark.parametrize("order", ["AABB", "ABBA"])
def test_each_other_kart_in_our_place_one_by_one(order):
    """Where settings alternate the weights are those of our own answer."""
    day, prepared, ours = made(order)
    rows = placebo_table(day, prepared, ours)
    assert rows[0] == {"kart": day.karts[0], "ours": True, "shift": ours.estimate}
    assert [row["kart"] for row in rows[1:]] == list(day.karts[1:])
    batch = batch_of(day, prepared.cells, prepared.used)
    for k, row in enumerate(rows[1:], 1):
        places = [k, *(other for other in range(1, len(day.karts)) if other != k)]
        tau2 = ours.tau2 if order == "ABBA" else None
        one = Batch(batch.pace[:, places], batch.variance[:, places], day.design, search=QUICK, tau2=tau2)
        assert (row["ours"], row["shift"]) == (False, pytest.approx(shifts(one)[0].estimate))


def test_without_an_answer_only_the_others_stand_there_and_one_alone_is_none():
    day, prepared, ours = made("ABBA")
    rows = placebo_table(day, prepared, told_nothing("nothing"))
    assert [row["ours"] for row in rows] == [False] * 6
    few, ready, mine = made("ABBA", 1)
    assert placebo_table(few, ready, mine) == []
    away = prepared.cells.pace.copy()
    away[2] = np.nan  # never left the garage
    away[3, 1] = np.nan
    gone = replace(prepared, cells=replace(prepared.cells, pace=away))
    assert [row["kart"] for row in placebo_table(day, gone, ours)[1:]] == [
        kart for kart in day.karts[1:] if kart != day.karts[2]
    ]
