"""Days put together: pooled answers, slopes that differ by day, and how well a kart repeats itself.

Against numbers printed elsewhere, scipy's distributions, and integrals done on a fine grid.
"""

import json
import math
from pathlib import Path

import numpy as np
import pytest
from published.bcg_trials import BCG
from scipy import stats
from scipy.integrate import trapezoid
from scipy.optimize import brentq

from lapdelta.effect.season_between import averaged, given
from lapdelta.effect.season_pool import leave_one_out, pool
from lapdelta.effect.season_repeat import Steps, more_erratic_p, odd_days, repeatability, steps_of


def bcg() -> tuple[np.ndarray, np.ndarray]:
    a, n1, c, n2 = BCG.T
    return np.log((a / n1) / (c / n2)), np.sqrt(1 / a - 1 / n1 + 1 / c - 1 / n2)


def test_whether_days_agree_is_cochrans_q() -> None:
    """Manual of R package metafor, dat.bcg (from memory): Q(df = 12) = 152.2330. tau^2: Paule & Mandel's equation."""
    y, se = bcg()
    found = pool(y, se, np.full(13, 20.0))
    assert found.q == pytest.approx(152.2330, abs=5e-5)
    assert (found.days, found.q_dof) == (13, 12)
    assert found.q_p == pytest.approx(stats.chi2.sf(found.q, 12))

    def excess(tau2: float) -> float:
        w = 1 / (se**2 + tau2)
        return float((w * (y - (w * y).sum() / w.sum()) ** 2).sum()) - 12

    assert found.between_sd**2 == pytest.approx(brentq(excess, 0, 5))


def test_the_pooled_answer_has_a_t_interval() -> None:
    found = pool([-0.3, -0.1], [0.1, 0.2], [8.0, 5.0])
    assert found.estimate == pytest.approx(-0.2)
    assert found.standard_error == pytest.approx(math.sqrt(0.01 + 0.04) / 2)
    expected = stats.t(found.dof, found.estimate, found.standard_error)
    assert found.interval(0.9) == pytest.approx(expected.interval(0.9))


def test_one_day_is_its_own_answer() -> None:
    found = pool([-0.3], [0.1], [8.0])
    assert (found.estimate, found.standard_error, found.dof) == pytest.approx((-0.3, 0.1, 8))
    assert (found.days, found.q, found.q_dof, found.q_p, found.between_sd) == (1, None, 0, None, None)
    assert leave_one_out([-0.3], [0.1], [8.0]) == []


def test_two_days_leave_each_other() -> None:
    """Each day left out leaves the other day's own answer."""
    left = leave_one_out([-0.3, -0.1], [0.1, 0.2], [8.0, 5.0])
    assert [(one.estimate, one.standard_error, one.dof) for one in left] == [
        pytest.approx((-0.1, 0.2, 5)),
        pytest.approx((-0.3, 0.1, 8)),
    ]


@pytest.mark.parametrize(
    ("errors", "dofs"),
    [([], []), ([0.1, 0.0], [5, 5]), ([0.1, -0.1], [5, 5]), ([0.1, 0.1], [0, 5]), ([0.1, 0.1], [5, -1])],
)
def test_days_without_an_error_or_df_are_refused(errors: list[float], dofs: list[float]) -> None:
    with pytest.raises(ValueError, match="every day needs a standard error and degrees of freedom above 0"):
        pool([-0.1] * len(errors), errors, dofs)
    assert pool([-0.1], [0.001], [0.5]).dof == pytest.approx(0.5)


#: Reaction of 18 subjects on days 0 to 9 (Belenky et al. 2003, as in R package lme4), and its residual sd there.
SLEEP = np.array(
    json.loads((Path(__file__).parent.parent / "data" / "sleepstudy.json").read_text())["reaction_ms"]
)
SIGMA = 25.592


def sleep_information(unit: float = 1.0) -> np.ndarray:
    """What each subject tells of the slope and of y, its own level taken out: 18 by 2 by 2."""
    rows = [np.stack([np.arange(10.0) - 4.5, (y - y.mean()) * unit]) for y in SLEEP]
    return np.stack([row @ row.T for row in rows])


def integrated(scale: float, people: int) -> tuple[float, float, float]:
    """(slope, its variance, mean of the sd between subjects), everything written out subject by subject.

    Of the first ``people`` of them: the restricted likelihood of the slopes' sd times a half-normal prior, over
    3,000 points up to six scales.
    """
    day = np.arange(10.0) - 4.5
    omegas = (np.arange(3000) + 0.5) * 6 * scale / 3000
    logs, means, variances = [], [], []
    for omega in omegas:
        V = SIGMA**2 * np.eye(10) + omega**2 * np.outer(day, day)
        inverse = np.linalg.inv(V)
        centred = SLEEP[:people] - SLEEP[:people].mean(axis=1, keepdims=True)  # day and level at right angles
        told = people * day @ inverse @ day
        slope = float((centred @ inverse @ day).sum() / told)
        rest = centred - slope * day
        log = -0.5 * (
            people * np.linalg.slogdet(V)[1] + np.log(told) + np.einsum("di,ij,dj->", rest, inverse, rest)
        )
        logs.append(log - (omega / scale) ** 2 / 2)
        means.append(slope)
        variances.append(1 / told)
    p = np.exp(np.array(logs) - max(logs))
    p /= p.sum()
    mean = float(p @ means)
    return mean, float(p @ (np.array(variances) + (np.array(means) - mean) ** 2)), float(p @ omegas)


@pytest.mark.parametrize(
    ("scale", "people"), [(2.0, 18), (3.0, 18), (12.0, 18), (0.5, 2), (3.0, 2), (1.0, 3)]
)
def test_slopes_that_differ_are_averaged_over_how_much_they_may(scale: float, people: int) -> None:
    """41 points up to four scales against 3,000 up to six: apart by what lies beyond four at most."""
    slope, variance, omega = integrated(scale, people)
    found = averaged(sleep_information()[:people], [0], SIGMA**2, scale)
    assert found.coefficients[0] == pytest.approx(slope)
    assert found.covariance[0, 0] == pytest.approx(variance, rel=0.015)
    assert found.omega == pytest.approx(omega, rel=0.015)


def test_the_average_is_the_trapezoidal_rule_over_41_points_to_four_scales() -> None:
    information, omegas = sleep_information()[:2] / SIGMA**2, np.linspace(0, 12, 41)
    each, spread, logs = given(information, [0], omegas)
    weight = np.exp(logs - (omegas / 3) ** 2 / 2)
    total = trapezoid(weight, omegas)
    mean = trapezoid(weight * each[:, 0], omegas) / total
    found = averaged(information, [0], 1.0, 3.0)
    assert found.omega == pytest.approx(trapezoid(weight * omegas, omegas) / total)
    assert found.coefficients[0] == pytest.approx(mean)
    both = spread[:, 0, 0] + (each[:, 0] - mean) ** 2
    assert found.covariance[0, 0] == pytest.approx(trapezoid(weight * both, omegas) / total)
    alike = averaged(information, [0], 1.0, 0.0)
    assert (alike.omega, alike.covariance[0, 0]) == (0, pytest.approx(SIGMA**2 / (2 * 82.5)))


def test_the_unit_and_many_days_do_not_matter() -> None:
    """In seconds everything is a thousandth; of a hundred times the subjects the slope is the same, and sharper."""
    found = averaged(sleep_information(), [0], SIGMA**2, 3.0)
    seconds = averaged(sleep_information(1e-3), [0], SIGMA**2 * 1e-6, 3e-3)
    assert seconds.coefficients[0] * 1e3 == pytest.approx(found.coefficients[0])
    assert seconds.covariance[0, 0] * 1e6 == pytest.approx(found.covariance[0, 0])
    assert seconds.omega * 1e3 == pytest.approx(found.omega)
    many = averaged(np.tile(sleep_information(), (100, 1, 1)), [0], SIGMA**2, 3.0)
    assert many.coefficients[0] == pytest.approx(found.coefficients[0])
    assert many.covariance[0, 0] < found.covariance[0, 0] / 50


PACE = np.array(
    [
        [50.0, 50.3, 50.1, 50.6, 50.4],
        [51.0, 51.1, 51.3, 51.2, np.nan],
        [52.0, 52.3, 52.1, 52.6, 52.2],
        [53.0, np.nan, 53.3, 53.4, 53.0],
    ]
)
VARIANCE = np.arange(20.0).reshape(4, 5) / 100 + 0.01


def test_neighbour_differences_by_hand() -> None:
    """Steps of the others, with both ends there: .1 .3 | .2 -.2 | -.1 .5 .1 | -.4 -.4; third pair was changed."""
    found = steps_of(PACE, VARIANCE, 0, np.array([True, True, False, True]))
    assert found.values == pytest.approx((0.3 - 0.2, -0.2 - 0.0, -0.2 + 0.4))
    # Var(difference) = 2 s^2 (1 + 1/n) with n = 2, 2 and 2 others
    assert found.variances == pytest.approx([step**2 / 2 / 1.5 for step in (0.1, 0.2, 0.2)])
    assert found.lap_variance == pytest.approx((0.01 + 0.02 + 0.03 + 0.04 + 0.05) / 5)
    every = steps_of(PACE, VARIANCE, 0, np.full(4, True))
    assert every.values[2] == pytest.approx(0.5 - 0.5 / 3)
    assert every.variances[2] == pytest.approx((0.5 - 0.5 / 3) ** 2 / 2 / (1 + 1 / 3))
    assert every.dof > found.dof
    first = steps_of(PACE, VARIANCE, 0, np.array([True, False, False, False]))
    assert (first.dof, first.lap_variance) == pytest.approx((1, 0.015))


def test_without_two_others_or_anything_unchanged_there_is_no_difference() -> None:
    few = steps_of(PACE[:2], VARIANCE, 0, np.full(4, True))
    none = steps_of(PACE, VARIANCE, 0, np.full(4, False))
    assert few == none == Steps((), (), 0, 0.0)
    assert repeatability([few, none], 0.95) is None


ONE, TWO = Steps((0.1, -0.3), (0.004, 0.03), 1.6, 0.002), Steps((0.2,), (0.015,), 1.0, 0.008)


def test_repeatability_is_a_pooled_variance_with_its_chi_squared_interval() -> None:
    found = repeatability([ONE, TWO, Steps((), (), 0.0, 9.0)], 0.9)
    variance, noise, dof = (0.004 + 0.03 + 0.015) / 3, (2 * 0.002 + 0.008) / 3, 2.6
    assert found.session_sd**2 == pytest.approx(variance)
    assert found.low**2 == pytest.approx(variance * dof / stats.chi2.ppf(0.95, dof))
    assert found.high**2 == pytest.approx(variance * dof / stats.chi2.ppf(0.05, dof))
    assert (found.tau**2, found.lap_sd**2) == pytest.approx((variance - noise, noise))
    assert (found.differences, found.dof) == (3, pytest.approx(dof))
    assert repeatability([Steps((0.1,), (0.004,), 1.0, 0.5)], 0.9).tau == 0


def test_more_erratic_is_an_f_ratio() -> None:
    ours, others = repeatability([ONE], 0.95), repeatability([TWO], 0.95)
    expected = stats.f.sf(0.017 / 0.015, 1.6, 1.0)
    assert more_erratic_p(ours, others) == pytest.approx(expected)


def day(size: float, noise: float = 0.0001) -> list[Steps]:
    """One kart's day of eight differences of that size."""
    return [Steps((size,) * 8, (size**2 / 2,) * 8, 7.0, noise)]


def test_an_odd_day_is_two_sided_and_paid_for_by_how_many_were_looked_at() -> None:
    days = [day(0.1), day(0.1), day(0.4), day(0.1)]
    (found,) = odd_days(days, 0.95)
    assert (found.day, found.session_sd, found.rest_sd) == pytest.approx((2, 0.4 / 2**0.5, 0.1 / 2**0.5))
    assert found.p == pytest.approx(2 * stats.f.sf(16, 7, 21) * 4)
    quiet = odd_days([day(0.4), day(0.4), day(0.02), day(0.4)], 0.95)
    assert [one.day for one in quiet] == [2]
    # Each size over what the rest lets expect, .08 here and there
    assert quiet[0].p == pytest.approx(2 * stats.f.cdf(0.02**2 / 0.4**2, 7, 21) * 4)


def test_the_oddest_day_goes_first_and_does_not_make_the_others_odd() -> None:
    found = odd_days([day(0.1), day(1.5), day(0.1), day(0.5), day(0.1)], 0.95)
    assert [one.day for one in found] == [1, 3]
    assert found[0].p < found[1].p < 0.05


def test_two_days_cannot_say_which_is_odd_and_days_without_differences_do_not_count() -> None:
    nothing = [Steps((), (), 0.0, 0.0)]
    assert odd_days([day(0.1), day(2.0), nothing], 0.95) == []
    assert [one.day for one in odd_days([nothing, day(0.1), day(2.0), day(0.1)], 0.95)] == [2]
    assert odd_days([day(0.0), day(0.0), day(0.0)], 0.95) == []


def test_a_day_of_karts_whose_laps_scatter_more_is_not_odd() -> None:
    """Lap noise of .25^2 and nothing else is expected to give sessions of .25, whatever the other days are like."""
    rough = [Steps((0.35,) * 8, (0.0625,) * 8, 7.0, 0.0625)]
    assert odd_days([day(0.1), day(0.1), rough, day(0.1)], 0.95) == []
