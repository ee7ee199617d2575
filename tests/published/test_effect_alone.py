"""A kart that ran with nobody else: least squares on its own sessions, a past to judge by, and refusals."""

import numpy as np
import pytest
from statsmodels.regression.linear_model import OLS

from lapdelta.effect.alone import boundary_step, parts_alone, shift
from lapdelta.effect.design import Design
from lapdelta.effect.history import NO_HISTORY, History, from_numbers

PACE = np.array([50.31, 49.88, 50.12, 50.44, 49.72, 50.19])
PAST = from_numbers([0.1, -0.2, 0.15, -0.05, 0.2])


def design(order):
    level = np.array(["ABC".index(letter) for letter in order])
    return Design(level, np.arange(len(order), dtype=float), np.arange(len(order)))


def alone(order, history=NO_HISTORY, pace=PACE, noise=0.001):
    pace = pace[: len(order)]
    return shift(pace, np.full(len(pace), noise), design(order), history)


@pytest.mark.parametrize("order", ["ABBAAB", "ABBAB", "ABCBAB"])
def test_five_sessions_in_turns_are_least_squares_with_an_own_trend(order):
    """statsmodels OLS on 1, B, C, t."""
    used = design(order)
    X = np.column_stack(
        [np.ones(len(order)), *(used.level == k for k in range(1, used.level.max() + 1)), used.time]
    )
    expected = OLS(PACE[: len(order)], X.astype(float)).fit()
    found = alone(order)
    assert found.route == "alone with trend"
    assert found.estimate == pytest.approx(expected.params[1])
    assert found.standard_error == pytest.approx(expected.bse[1])
    assert found.dof == expected.df_resid
    assert found.lap_noise_share == pytest.approx(0.001 / expected.mse_resid)


def test_more_lap_noise_than_scatter_is_all_of_it():
    assert alone("ABBAAB", noise=9.0).lap_noise_share == 1.0


def test_sessions_without_scatter_have_no_share():
    flat = np.full(6, 50.0)
    found = alone("ABBAAB", pace=flat)
    assert (found.estimate, found.standard_error) == (0, 0)
    assert np.isnan(found.lap_noise_share)


@pytest.mark.parametrize(
    ("order", "history", "reason"),
    [
        ("ABBA", NO_HISTORY, "fewer than five own sessions without a history"),
        ("AABB", NO_HISTORY, "a history of this kart with too few neighbouring sessions"),
        ("AABB", History(raw=(0.1, 0.2, -0.1, 0.0), raw_count=2.9), "too few neighbouring sessions"),
        ("ACB", PAST, "no session before the change lies next to one after it"),
    ],
)
def test_refusals_say_what_is_missing(order, history, reason):
    found = alone(order, history)
    assert not found.told
    assert reason in found.reason


def test_a_past_makes_three_sessions_in_turns_enough():
    """A, B, A leaves one degree of freedom; five of the past are added."""
    found = alone("ABA", PAST)
    assert found.route == "alone with history"
    assert found.estimate == pytest.approx(PACE[1] - (PACE[0] + PACE[2]) / 2)
    assert found.dof == 6
    assert found.history_used


def test_parts_of_the_lap_add_up_with_the_laps_own_columns():
    part = np.column_stack([PACE * 0.4 + np.array([0, 0.1, 0, -0.1, 0, 0.05]), PACE * 0.6]).T
    noise, order = np.full(6, 0.001), "ABBAAB"
    whole = shift(part.sum(axis=0), noise, design(order), NO_HISTORY)
    found = [parts_alone(values, noise, design(order), whole) for values in part]
    assert sum(one.estimate for one in found) == pytest.approx(whole.estimate, abs=1e-9)
    assert all(one.told and one.dof == whole.dof for one in found)


@pytest.mark.parametrize("order", ["ABBAAB", "ABCBAB"])
def test_a_part_of_the_lap_is_the_same_least_squares(order):
    """statsmodels OLS on 1, B, C, t, of the part; its own scatter sets its error."""
    used, part = design(order), 20 + np.array([0.02, 0.11, -0.05, 0.08, 0.01, 0.19])
    X = np.column_stack([np.ones(6), *(used.level == k for k in range(1, used.level.max() + 1)), used.time])
    expected = OLS(part, X.astype(float)).fit()
    found = parts_alone(part, np.full(6, 0.001), used, alone(order))
    assert (found.route, found.dof) == ("alone with trend", expected.df_resid)
    assert (found.estimate, found.standard_error) == pytest.approx((expected.params[1], expected.bse[1]))


def test_one_pair_of_sessions_is_a_single_case_among_the_past():
    """Crawford & Howell 1998 (from memory): s sqrt(1 + 1/n), n - 1 df; here chained differences count for less."""
    past = from_numbers([0.1, -0.1, 0.25, -0.2, 0.05])
    raw = np.array(past.raw)
    found = shift(PACE[:4], np.array([9.0, 0.002, 0.004, 9.0]), design("AABB"), past)
    assert found.estimate == pytest.approx(PACE[2] - PACE[1] - raw.mean())
    assert found.standard_error == pytest.approx(raw.std(ddof=1) * np.sqrt(1 + 1 / 5))
    assert found.dof == past.raw_count - 1
    # a difference holds the noise of two sessions, so half of its variance is one session's
    assert found.lap_noise_share == pytest.approx(0.003 / (raw.var(ddof=1) / 2))
    back = shift(PACE[:4], np.full(4, 0.001), design("BBAA"), past)
    assert back.estimate == pytest.approx(-(PACE[2] - PACE[1] - raw.mean()))


def test_one_pair_or_few_sessions_tell_no_parts():
    noise = np.full(6, 0.001)
    pair = alone("AABB", from_numbers([0.1, -0.1, 0.2, -0.2]))
    assert pair.route == "alone single case"
    told = parts_alone(PACE[:4], noise[:4], design("AABB"), pair)
    assert told.reason == "one pair of sessions cannot tell sectors apart"
    three = parts_alone(PACE[:3], noise[:3], design("ABA"), alone("ABA", PAST))
    assert three.reason == "too few own sessions for the sectors"


@pytest.mark.parametrize(("order", "step"), [("AABB", 1.0), ("BBAA", -1.0), ("ABBA", None), ("ACB", None)])
def test_time_between_the_two_sides_has_the_sign_of_the_change(order, step):
    assert boundary_step(PACE[: len(order)], design(order)) == step
