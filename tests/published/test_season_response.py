"""What a fitted curve says, against scipy's t and F, plain search on a fine grid, and differences by hand.

The curves are invented: b z + c z^2 with z = (x - 80)/2, so that their best point and slopes can be worked out.
"""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats
from scipy.optimize import brentq

from lapdelta.effect.season_fit import ResponseFit
from lapdelta.effect.season_response import (
    any_effect_p,
    best_value,
    difference,
    fieller,
    largest_difference,
    next_values,
)

CENTRE, SCALE, DOF = 80.0, 2.0, 12.0
COVARIANCE = np.array([[0.0016, 0.0003], [0.0003, 0.0009]])
TRIED = [77.0, 79.0, 80.0, 83.0]


def curve(*coefficients: float, covariance: np.ndarray = COVARIANCE, dof: float = DOF) -> ResponseFit:
    degree = len(coefficients)
    return ResponseFit(
        coefficients=np.array(coefficients),
        covariance=covariance[:degree, :degree],
        dof=dof,
        tau2=0.004,
        centre=CENTRE,
        scale=SCALE,
        sessions=18,
        days=4,
        own_ratio=None,
        own_p=None,
        days_statistic=None,
        days_dof=0,
        days_p=None,
        widened="",
        lap_variance=0.002,
        others=5.0,
    )


def step(x_from: float, x_to: float) -> np.ndarray:
    one, other = (x_from - CENTRE) / SCALE, (x_to - CENTRE) / SCALE
    return np.array([other - one, other**2 - one**2])


def slope_may_be_zero(fit: ResponseFit, x: float, confidence: float = 0.95) -> float:
    """t interval of the slope b + 2 c z: above 0 where it holds 0."""
    at = np.array([1, 2 * (x - fit.centre) / fit.scale])
    half = stats.t.ppf((1 + confidence) / 2, fit.dof) * np.sqrt(at @ fit.covariance @ at)
    return float(half - abs(at @ fit.coefficients))


def test_a_difference_is_a_contrast_with_its_t_interval() -> None:
    fit = curve(0.02, 0.05)
    found, at = difference(fit, 79.0, 83.0), step(79.0, 83.0)
    error = np.sqrt(at @ COVARIANCE @ at)
    assert found.estimate == pytest.approx(at @ fit.coefficients)
    assert found.standard_error == pytest.approx(error)
    expected = stats.t.interval(0.9, DOF, loc=at @ fit.coefficients, scale=error)
    assert found.interval(0.9) == pytest.approx(expected)
    assert found.chance_below(0.1) == pytest.approx(stats.t.cdf(0.1, DOF, at @ fit.coefficients, error))


def test_no_difference_from_itself_is_certain() -> None:
    same = difference(curve(0.02, 0.05), 79.0, 79.0)
    assert (same.estimate, same.standard_error) == (0, 0)
    assert [same.chance_below(limit) for limit in (-0.01, 0.0, 0.01)] == [0, 0, 1]


def test_whether_the_factor_matters_is_an_f_test() -> None:
    for fit in (curve(0.05), curve(0.05, 0.04)):
        wald = fit.coefficients @ np.linalg.inv(fit.covariance) @ fit.coefficients
        assert any_effect_p(fit) == pytest.approx(stats.f.sf(wald / fit.degree, fit.degree, DOF))


def test_the_largest_difference_is_the_farthest_end_of_all_intervals() -> None:
    fit = curve(-0.03, 0.05)
    ends = [
        abs(end)
        for i, one in enumerate(TRIED)
        for other in TRIED[i + 1 :]
        for end in difference(fit, one, other).interval(0.9)
    ]
    assert largest_difference(fit, TRIED, 0.9) == pytest.approx(max(ends))
    assert largest_difference(fit, TRIED[:1], 0.9) == 0


@pytest.mark.parametrize(
    "kind", [(14, 7, 9, 0, 4, 1.8), (5, 1, 1, 0, 1, 2), (1, 1, 1, 0, 1, 2), (3, 2, 1, 0.5, 1, 2)]
)
def test_a_ratio_is_held_where_its_own_t_test_does_not_reject_it(kind: tuple[float, ...]) -> None:
    """Fieller's definition, ratio by ratio; in the last case the denominator lies exactly on its limit."""
    n, d, v_nn, v_nd, v_dd, t = kind
    ratios = np.linspace(-30.0, 30.0, 1201) + 0.013
    rest, variance = n - ratios * d, v_nn - 2 * ratios * v_nd + ratios**2 * v_dd
    found = fieller(*kind)
    if d * d == t * t * v_dd:
        assert found.kind == "everything"
    else:
        assert found.holds(ratios).tolist() == (rest**2 <= t * t * variance).tolist()


@pytest.mark.parametrize("better", [-1, 1])
def test_a_best_value_inside_lies_where_the_slope_may_be_zero(better: int) -> None:
    fit = curve(-better * 0.03, -better * 0.25)
    found = best_value(fit, TRIED, 0.95, 0.05, better)
    assert (found.state, found.side) == ("found", 0)
    assert found.x == pytest.approx(CENTRE - 0.03 / (2 * 0.25) * SCALE)
    assert found.low == pytest.approx(brentq(lambda x: slope_may_be_zero(fit, x), 70.0, found.x))
    assert found.high == pytest.approx(brentq(lambda x: slope_may_be_zero(fit, x), found.x, 90.0))
    assert found.any_p == pytest.approx(any_effect_p(fit))
    assert found.largest == pytest.approx(largest_difference(fit, TRIED, 0.95))


@pytest.mark.parametrize(("b", "side"), [(-1.5, 1), (1.5, -1)])
def test_a_best_value_beyond_all_that_was_tried(b: float, side: int) -> None:
    """-b/(2c) = 3 and more z from the middle, tried were at most 1.5: six in x and more."""
    fit = curve(b, 0.25)
    found = best_value(fit, TRIED, 0.95, 0.05, -1)
    assert (found.state, found.side) == ("beyond", side)
    assert found.x == pytest.approx(CENTRE + side * 6)
    assert slope_may_be_zero(fit, found.low) == pytest.approx(0, abs=1e-12)
    assert slope_may_be_zero(fit, found.high) == pytest.approx(0, abs=1e-12)
    assert found.low < found.x < found.high


@pytest.mark.parametrize(("b", "side"), [(-1.0, 1), (1.0, -1)])
def test_beyond_without_a_far_end(b: float, side: int) -> None:
    """The slope surely goes one way everywhere, the curvature is hardly known."""
    found = best_value(curve(b, 0.04), TRIED, 0.95, 0.05, -1)
    assert (found.state, found.side, found.low, found.high) == ("beyond", side, None, None)
    hill = best_value(curve(b, -0.04), TRIED, 0.95, 0.05, -1)
    assert (hill.state, hill.side, hill.x) == ("beyond", side, None)


@pytest.mark.parametrize(
    ("b", "c", "side"), [(-0.15, 0.04, 1), (0.15, 0.04, -1), (-0.12, 0.06, 1), (0.12, 0.06, -1)]
)
def test_one_side_ruled_out_up_to_where_the_slope_may_be_zero(b: float, c: float, side: int) -> None:
    """The end is one of 201 values between the lowest and the highest tried, so at most .03 beyond the crossing."""
    fit = curve(b, c)
    found = best_value(fit, TRIED, 0.95, 0.05, -1)
    assert (found.state, found.side) == ("one side", side)
    crossing = brentq(lambda x: slope_may_be_zero(fit, x), *((77.0, 82.0) if side > 0 else (78.0, 83.0)))
    if side > 0:
        assert found.high is None
        assert crossing <= found.low <= crossing + 6 / 200
    else:
        assert found.low is None
        assert crossing - 6 / 200 <= found.high <= crossing
    assert found.x == pytest.approx(CENTRE - b / (2 * c) * SCALE)


def test_flat_only_if_no_difference_worth_having_is_left() -> None:
    """With 95 % both ways: the largest difference still possible at 90 % two-sided is what is held against it."""
    fit = curve(0.01, 0.005)
    largest = largest_difference(fit, TRIED, 0.9)
    flat = best_value(fit, TRIED, 0.95, largest * 1.001, -1)
    assert (flat.state, flat.x, flat.low, flat.high) == ("flat", None, None, None)
    assert best_value(fit, TRIED, 0.95, largest * 0.999, -1).state == "cannot be told"


def test_what_cannot_be_told() -> None:
    noisy, line = curve(0.02, 0.03), curve(0.5)
    for fit in (noisy, line):
        found = best_value(fit, TRIED, 0.95, 0.01, -1)
        assert (found.state, found.side, found.x, found.low, found.high) == (
            "cannot be told",
            0,
            None,
            None,
            None,
        )
    assert any_effect_p(noisy) > 0.05
    assert any_effect_p(line) < 0.05


def test_surely_a_hill_is_best_at_an_end_nobody_knows_which() -> None:
    found = best_value(curve(0.03, -0.25), TRIED, 0.95, 0.05, -1)
    assert (found.state, found.x, found.low) == ("cannot be told", None, None)


def test_a_slope_surely_rising_at_the_low_end_alone_rules_out_nothing() -> None:
    """Best below all that was tried or above it, should it be a hill: nothing is ruled out from the low end up."""
    found = best_value(curve(0.15, -0.04), TRIED, 0.95, 0.05, -1)
    assert (found.state, found.side, found.low, found.high) == ("cannot be told", 0, None, None)


def test_a_curve_that_matters_with_a_slope_known_at_none_of_the_values_tried() -> None:
    """The slope is well known at 86 only, beyond what was tried: b + 6 c, with the rest of b and c hardly known."""
    known, unknown = np.array([1, 6]) / np.sqrt(37), np.array([6, -1]) / np.sqrt(37)
    covariance = 0.0004 * np.outer(known, known) + 0.1 * np.outer(unknown, unknown)
    fit = curve(*(0.1 * known), covariance=covariance)
    assert any_effect_p(fit) < 0.05
    assert all(slope_may_be_zero(fit, x) > 0 for x in np.linspace(77, 83, 61))
    assert slope_may_be_zero(fit, 86.0) < 0
    found = best_value(fit, TRIED, 0.95, 0.05, -1)
    assert (found.state, found.side, found.low, found.high) == ("cannot be told", 0, None, None)
    assert found.x == pytest.approx(CENTRE - SCALE / 12)


def added(fit: ResponseFit, x_from: float, x_to: float) -> np.ndarray:
    """Covariance with one more observed difference: what generalised least squares of both together has.

    Two sessions each: Var = (tau^2 + v) (1/2 + 1/2) (1 + 1/5) with five other karts.
    """
    root = np.linalg.cholesky(np.linalg.inv(fit.covariance)).T
    noise = (0.004 + 0.002) * (1 + 1 / 5)
    X = np.vstack([root, step(x_from, x_to) / np.sqrt(noise)])
    return np.linalg.inv(X.T @ X)


@pytest.mark.parametrize("better", [-1, 1])
def test_one_more_day_teaches_what_one_more_difference_teaches(better: int) -> None:
    fit = curve(-0.1, -better * 0.06)
    candidates = [78.0, 80.0, 81.0, 82.0]
    found = next_values(fit, 80.0, candidates, 0.02, better)
    assert [one.x for one in found] == [78.0, 81.0, 82.0]
    rows = np.array([step(80.0, x) for x in candidates])

    def width(covariance: np.ndarray) -> float:
        return float(np.mean([np.sqrt(row @ covariance @ row) for row in rows]))

    def best_error(covariance: np.ndarray) -> float:
        h = 1e-6  # differentiated numerically
        b, c = fit.coefficients
        slope = [
            ((-(b + h) / (2 * c)) - (-(b - h) / (2 * c))) / (2 * h),
            (-b / (2 * (c + h)) + b / (2 * (c - h))) / (2 * h),
        ]
        return float(np.sqrt(np.array(slope) @ covariance @ np.array(slope)))

    for one in found:
        after = added(fit, 80.0, one.x)
        change = difference(fit, 80.0, one.x)
        assert one.curve_width == pytest.approx(width(after) / width(fit.covariance))
        assert one.best_width == pytest.approx(best_error(after) / best_error(fit.covariance), rel=1e-6)
        sure = stats.t(DOF, change.estimate, change.standard_error)
        expected = (sure.cdf(0), sure.cdf(-0.02)) if better < 0 else (sure.sf(0), sure.sf(0.02))
        assert (one.chance_better, one.chance_worthwhile) == pytest.approx(expected)
        assert one.change == change


def test_without_a_best_point_no_width_of_it_is_told() -> None:
    hill, line = curve(-0.1, -0.06), curve(-0.1)
    assert {
        one.best_width for fit in (hill, line) for one in next_values(fit, 80.0, [78.0, 82.0], 0.02, -1)
    } == {None}


def test_a_day_without_other_karts_is_planned_as_with_one() -> None:
    alone, one = (
        next_values(replace(curve(-0.1, 0.06), others=n), 80.0, [82.0], 0.02, -1) for n in (0.0, 1.0)
    )
    assert alone == one
