"""From a shift to words: both signs, the edges of the margin, shifts without scatter, Holm's p values."""

import numpy as np
import pytest
from scipy.stats import t as student
from statsmodels.stats.multitest import multipletests

from lapdelta.effect.measures import find_measure
from lapdelta.effect.sectors import holm
from lapdelta.effect.shift import Shift, told_nothing
from lapdelta.effect.verdict import Judgement, judge

LAP_TIME, SPEED, RPM = find_measure("lap_time", 0), find_measure("top_speed", 0), find_measure("peak_rpm", 0)


def shift(estimate, error, dof=10.0):
    return Shift("blocked", "", estimate, error, dof)


@pytest.mark.parametrize(
    ("estimate", "measure", "verdict"),
    [(-1.0, LAP_TIME, "faster"), (1.0, LAP_TIME, "slower"), (1.0, SPEED, "faster"), (-1.0, SPEED, "slower")],
)
def test_less_time_and_more_speed_are_faster(estimate, measure, verdict):
    told = judge(shift(estimate, 0.1), measure, 0.1, 0.95)
    assert told.verdict == verdict
    assert not told.less_than_worthwhile
    quicker = verdict == "faster"
    assert (told.chance_better > 0.99) == quicker
    assert (told.chance_worthwhile > 0.99) == quicker
    mirrored = judge(shift(-estimate, 0.1), measure, 0.1, 0.95)
    assert mirrored.chance_better == pytest.approx(1 - told.chance_better)
    assert (mirrored.low, mirrored.high) == pytest.approx((-told.high, -told.low))
    assert mirrored.half_width == pytest.approx(told.half_width)
    assert mirrored.smallest_margin == pytest.approx(told.smallest_margin)


@pytest.mark.parametrize("sign", [-1, 1])
def test_the_smallest_margin_is_where_equivalence_begins(sign):
    """With that margin, and a hair more, a change would be called not worthwhile; with a hair less it is not."""
    found = shift(sign * 0.02, 0.03)
    least = judge(found, LAP_TIME, 0.1, 0.95).smallest_margin
    assert least == pytest.approx(0.02 + student.ppf(0.95, 10) * 0.03)
    assert judge(found, LAP_TIME, least + 1e-9, 0.95).verdict == "no worthwhile difference"
    assert judge(found, LAP_TIME, least - 1e-9, 0.95).verdict == "not settled"


@pytest.mark.parametrize("sign", [-1, 1])
def test_a_clear_change_may_be_less_than_worthwhile(sign):
    found = shift(sign * 0.05, 0.01)
    told = judge(found, LAP_TIME, 0.1, 0.95)
    assert told.verdict in ("faster", "slower")
    assert told.less_than_worthwhile
    assert not judge(found, LAP_TIME, 0.06, 0.95).less_than_worthwhile  # .05 + 1.81 x .01 > .06


@pytest.mark.parametrize("confidence", [0.80, 0.95, 0.99])
def test_the_p_value_and_the_interval_agree(confidence):
    """The end of an interval touches 0 where p is the chance left: scipy's t."""
    error = 0.3 / student.ppf((1 + confidence) / 2, 7)
    found = shift(0.3, error, 7)
    assert found.interval(confidence) == pytest.approx((0.0, 0.6), abs=1e-9)
    assert found.p_value == pytest.approx(1 - confidence)
    assert found.chance_below(0.3) == pytest.approx(0.5)
    assert found.chance_below(0.6) == pytest.approx((1 + confidence) / 2)


def test_without_scatter_everything_is_certain_yet_p_is_never_zero():
    moved, still = shift(-0.2, 0.0), shift(0.0, 0.0)
    assert 0 < moved.p_value < 1e-300
    assert still.p_value == 1
    assert (moved.chance_below(0.0), moved.chance_below(-0.2), moved.chance_below(-0.3)) == (1, 0, 0)
    assert 0 < shift(1e9, 1e-9, 400).p_value < 1e-300


def test_neither_way_of_engine_speed_is_better():
    told = judge(shift(300.0, 50.0), RPM, 100.0, 0.95)
    assert (told.chance_better, told.chance_worthwhile) == (None, None)


def test_nothing_told_is_nothing_beside_it():
    reason = told_nothing("no session after")
    assert not reason.told
    assert reason.route == "none"
    assert np.isnan([reason.estimate, reason.standard_error, reason.tau2, reason.lap_noise_share]).all()
    assert (reason.dof, reason.others, reason.history_used, reason.history_left_out) == (0, 0, False, False)
    assert judge(reason, LAP_TIME, 0.1, 0.95) == Judgement("cannot be told")
    assert not Judgement("cannot be told").less_than_worthwhile


@pytest.mark.parametrize(
    "p", [[0.01, 0.02, 0.03], [0.04, 0.01, 0.03, 0.2], [0.5, 0.9, 0.6], [0.049], [0.02, 0.02]]
)
def test_holm_is_the_librarys(p):
    """statsmodels ``multipletests(method="holm")``."""
    assert holm(p) == pytest.approx(multipletests(p, method="holm")[1])


def test_edges_belong_to_the_careful_side():
    """Nothing moved and nothing scatters: no difference. Moved by the whole margin: not less than worthwhile."""
    assert judge(shift(0.0, 0.0), LAP_TIME, 0.1, 0.95).verdict == "no worthwhile difference"
    for moved, verdict in ((0.1, "slower"), (-0.1, "faster")):
        told = judge(shift(moved, 0.0), LAP_TIME, 0.1, 0.95)
        assert (told.verdict, told.less_than_worthwhile) == (verdict, False)
    assert judge(shift(-0.099, 0.0), LAP_TIME, 0.1, 0.95).less_than_worthwhile
