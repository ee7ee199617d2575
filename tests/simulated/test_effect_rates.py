"""False calls, coverage and bias on simulated days, inside binomial limits (a share outside has chance 1e-3).

A quick seeded part of ``study.py``, which prints the whole table.
"""

import numpy as np
import pytest
from simulated.simulator import Scenario
from simulated.trials import binomial_limits, run, run_ordinary

from lapdelta.effect.history import from_numbers

DAYS = 150
#: Twelve other karts: within 2-6.5 %; three: the blocked orders may be a little off (few degrees of freedom).
ORDERS = ("AB", "AABB", "ABBA", "ABAB")


@pytest.mark.parametrize("others", [12, 3])
@pytest.mark.parametrize("order", ORDERS)
def test_nothing_changed(order, others):
    tally = run(Scenario(order, others), DAYS, seed=11)
    low, high = binomial_limits(0.05, round(DAYS * (1 - tally.refused)))
    assert low <= tally.called <= high
    assert 1 - high <= tally.coverage <= 1 - low
    assert abs(tally.bias) < 3.5 * tally.sd / np.sqrt(DAYS)
    if others == 12:
        assert tally.refused == 0


@pytest.mark.parametrize("order", ORDERS)
def test_a_change_comes_back_whole(order):
    """Half a second is found as half a second, and nearly always called in the longer orders."""
    tally = run(Scenario(order, 12, effect=-0.5), DAYS, seed=12)
    assert tally.bias == pytest.approx(0, abs=3.5 * tally.sd / np.sqrt(DAYS))
    assert tally.called > (0.3 if order == "AB" else 0.6)


@pytest.mark.parametrize("order", ORDERS)
def test_nobody_else_on_track(order):
    """Alone, up to four sessions cannot be told without a history."""
    assert run(Scenario(order, 0), 20, seed=13).refused == 1


def test_nobody_else_on_track_eight_sessions():
    tally = run(Scenario("ABBABAAB", 0, track="none"), DAYS, seed=14)
    low, high = binomial_limits(0.05, DAYS)
    assert tally.refused == 0
    assert low <= tally.called <= high


def test_alone_with_a_history():
    """True neighbour differences of such a kart: two session deviations and the noise of two paces."""
    rng = np.random.default_rng(5)
    scenario = Scenario("ABBA", 0, track="none", tau=0.10)
    past = from_numbers(rng.normal(0, np.sqrt(2 * (0.10**2 + 0.15**2 + 0.1**2)), 12))
    tally = run(scenario, DAYS, seed=15, history=past)
    assert tally.refused == 0
    assert tally.called <= binomial_limits(0.05, DAYS)[1]


@pytest.mark.parametrize(
    "harder",
    [
        {"missing": 0.3}, {"rounding": 0.01}, {"rho": 0.4}, {"track": "step"}, {"track": "wave"},
    ],
    ids=str,
)  # fmt: skip
def test_less_kind_days(harder):
    """Missing sessions, hundredths, correlated laps, other tracks: at most 7.5 % false calls."""
    tally = run(Scenario("ABBA", 12, **harder), DAYS, seed=16)
    assert tally.called <= binomial_limits(0.075, DAYS)[1]


def test_own_progress_fools_blocks_not_alternation():
    """A driver who gains 0.8 s more than the others over the day: biased in blocks, not in ABBA."""
    assert run(Scenario("AABB", 12, learning=0.8), 100, seed=17).bias < -0.4
    assert abs(run(Scenario("ABBA", 12, learning=0.8), 100, seed=17).bias) < 0.07


def test_what_an_ordinary_user_would_do():
    """Best laps and Welch's t call most days on which nothing changed."""
    called = run_ordinary(Scenario("ABBA", 12), DAYS, seed=18)
    assert called["best laps"] > 0.6
    assert called["Welch on laps"] > 0.10
    assert called["Welch on clean laps"] > 0.25
