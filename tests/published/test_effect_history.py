"""How much a session of our kart wanders: counts of chained differences by theory, the conflict by printed F."""

import numpy as np
import pytest

from lapdelta.effect.design import Design
from lapdelta.effect.history import (
    NO_HISTORY,
    Differences,
    History,
    chain_count,
    conflicts,
    from_days,
    from_numbers,
    neighbour_differences,
)
from lapdelta.effect.routes import Batch, shifts

NAN = float("nan")


@pytest.mark.parametrize("n", [1, 2, 3, 5, 8])
def test_chained_differences_count_as_satterthwaite_says(n):
    """Satterthwaite 1946: df = 2 E^2/Var of the mean square of n differences d_i = e_(i+1) - e_i.

    Their covariance has 2 on the diagonal and -1 beside it: 2 (trace)^2/(2 trace of the square).
    """
    covariance = 2 * np.eye(n) - np.eye(n, k=1) - np.eye(n, k=-1)
    expected = np.trace(covariance) ** 2 / np.trace(covariance @ covariance)
    assert chain_count(n) == pytest.approx(expected)


def test_nothing_counts_as_nothing():
    assert chain_count(0) == 0
    assert NO_HISTORY.weight == 0
    assert NO_HISTORY.half_mean_square == 0
    assert from_days([]) == NO_HISTORY


def test_every_chain_counts_for_itself():
    """Two and one of a day, three of another: 8/5 + 1 + 18/8; raw ones apart."""
    one = Differences(raw=((0.1, 0.2), (0.3,)), adjusted=((0.2, -0.2), (0.1,)))
    other = Differences(raw=((0.4,),), adjusted=((0.1, -0.1, 0.3),))
    found = from_days([one, other])
    assert found.adjusted == (0.2, -0.2, 0.1, 0.1, -0.1, 0.3)
    assert found.adjusted_count == pytest.approx(8 / 5 + 1 + 18 / 8)
    assert found.raw == (0.1, 0.2, 0.3, 0.4)
    assert found.raw_count == pytest.approx(8 / 5 + 1 + 1)
    assert found.half_mean_square == pytest.approx((3 * 0.01 + 2 * 0.04 + 0.09) / 6 / 2)
    assert found.weight == found.adjusted_count


def test_given_differences_are_taken_as_independent():
    found = from_numbers([1, -1, 2])
    assert (found.adjusted, found.adjusted_count) == ((1.0, -1.0, 2.0), 3.0)
    assert (found.raw, found.raw_count) == (found.adjusted, 3.0)
    assert found.half_mean_square == pytest.approx(1.0)  # (1 + 1 + 4)/3/2


def test_two_differences_are_no_history_three_are():
    assert not History((0.1, 0.2), 1.6).usable
    assert History((0.1, 0.2), 1.6).weight == 0
    assert History((0.1, 0.2, 0.3), 2.25).weight == 2.25


def test_a_session_missed_breaks_the_chain_for_us_only():
    """Our third session is missing; so is another kart's fourth: of three others two are still enough."""
    ours = [50.0, 50.3, NAN, 50.1, 50.5]
    pace = np.array(
        [ours, [51, 51.1, 51.1, 51.1, 51.2], [52, 52.2, 52.2, 52.2, 52.4], [53, 53.3, 53.3, NAN, 53.3]]
    )
    found = neighbour_differences(pace, np.ones(4, bool))
    assert found.raw == (pytest.approx((0.3,)), pytest.approx((0.4,)))
    assert found.adjusted == (pytest.approx((0.3 - 0.2,)), pytest.approx((0.4 - 0.15,)))
    pace[2, 4] = NAN  # one other kart is left for the last step
    assert neighbour_differences(pace, np.ones(4, bool)).adjusted == (pytest.approx((0.1,)),)


def test_what_the_history_alone_implies():
    """F(5, 10) is 3.33 at 5 % (any printed table): the day's .1^2 against .05^2 is 4, against .06^2 2.8."""
    for scale, expected in ((0.05, True), (0.06, False)):
        together = np.sqrt((0.1**2 * 5 + scale**2 * 10) / 15)
        assert conflicts(0.1, 5.0, float(together), 15.0) is expected


@pytest.mark.parametrize(("past", "told"), [([0.1, -0.1, 0.2], False), ([0.1, -0.1, 0.2, -0.2], True)])
def test_a_kart_alone_needs_four_neighbour_differences(past, told):
    """A/B with nobody else: the pair is judged among four past differences of the same kart, not among three."""
    design = Design(np.array([0, 1]), np.array([0.0, 1.0]), np.array([0, 1]))
    pace, noise = np.array([[[50.0, 50.5]]]), np.full((1, 1, 2), 0.001)
    found = shifts(Batch(pace, noise, design, from_numbers(past)))[0]
    assert found.told is told
    if told:
        assert found.estimate == pytest.approx(0.5)
        assert found.dof == 3
        assert found.standard_error == pytest.approx(np.std(past, ddof=1) * np.sqrt(1 + 1 / 4))
