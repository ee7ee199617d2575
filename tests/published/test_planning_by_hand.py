"""A plan's numbers by hand, by scipy's noncentral t, by statsmodels' two-way fit and by trying every order."""

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats
from statsmodels.regression.linear_model import OLS

from lapdelta.effect.planning import Wish, declared_looks, make_plan, recommend
from lapdelta.effect.power import (
    Noise,
    Setting,
    days_until,
    noise_from_paces,
    option,
    order_error,
    smallest_effect,
    split_noise,
)
from lapdelta.effect.randomisation import (
    balanced_orders,
    best_order,
    draw_order,
    exact_p_value,
    orders_that_fit,
)
from lapdelta.errors import QuestionError

NOISE = Noise(0.1, 0.3, 2.8, "stated")
SETTING = Setting(NOISE, 9, 4, 0.95, 0.8)
#: tau^2 + c sigma^2 / n with the numbers above
SESSION = 0.1**2 + 2.8 * 0.3**2 / 9


@pytest.mark.parametrize(
    ("order", "karts", "squared", "dof"),
    [
        ("AB", 4, SESSION * 2 * (1 + 1 / 4), 3),
        ("AABB", 4, SESSION * 1 * (1 + 1 / 4), 3),
        ("AABBB", 3, SESSION * (1 / 2 + 1 / 3) * (1 + 1 / 3), 2),
        ("ABA", 2, SESSION * (1 / 2 + 1) * (1 + 1 / 2), 3 * 3 - 2 - 3 - 1),  # three sessions: no own trend
        ("ABBA", 4, SESSION * (1 + 1 / 4), 5 * 4 - 4 - 4 - 2),
        ("ABAB", 2, SESSION * 1.25 * (1 + 1 / 2), 3 * 4 - 2 - 4 - 2),
        ("ABABAB", 6, SESSION * (2 / 3) * 1.09375 * (1 + 1 / 6), 7 * 6 - 6 - 6 - 2),
    ],
)
def test_standard_errors_of_orders(order, karts, squared, dof):
    """The formula of the module's docstring; cells minus karts, sessions, the change and an own trend."""
    error, found = order_error(order, replace(SETTING, other_karts=karts))
    assert error == pytest.approx(math.sqrt(squared))
    assert found == dof


def test_alone_the_track_counts_as_noise_of_ours():
    setting = replace(SETTING, other_karts=1, track_sd=0.2)
    assert order_error("ABBAB", setting) == pytest.approx(
        (
            math.sqrt(
                (SESSION + 0.04) * (1 / 2 + 1 / 3) / (1 - np.corrcoef([0, 1, 1, 0, 1], range(5))[0, 1] ** 2)
            ),
            2,
        )
    )


@pytest.mark.parametrize(
    ("order", "karts", "reason"),
    [
        ("AAAA", 12, "It needs sessions on both settings"),
        ("BB", 12, "It needs sessions on both settings"),
        ("AABB", 2, "needs at least three other karts"),
        ("ABBA", 1, "Without other karts it needs at least five sessions"),
        ("ABBAB", 1, "state track_sd to plan for it"),
    ],
)
def test_orders_that_give_no_interval_say_why(order, karts, reason):
    found = order_error(order, replace(SETTING, other_karts=karts))
    assert reason in found
    shown = option(order, replace(SETTING, other_karts=karts), 0.1)
    assert (shown.reason, shown.standard_error, shown.smallest_effect, shown.days) == (
        found,
        None,
        None,
        None,
    )
    assert not shown.settles


@pytest.mark.parametrize(
    ("dof", "confidence", "power"), [(2, 0.95, 0.8), (6, 0.9, 0.5), (34, 0.99, 0.9), (126, 0.95, 0.95)]
)
def test_the_smallest_effect_is_found_with_the_power_asked(dof, confidence, power):
    effect = smallest_effect(0.2, dof, confidence, power)
    critical = stats.t.ppf(0.5 + confidence / 2, dof)
    assert stats.nct.sf(critical, dof, effect / 0.2) == pytest.approx(power, abs=1e-6)


@pytest.mark.parametrize(
    ("margin", "history"), [(0.3, 0.0), (0.15, 0.0), (0.1, 6.0), (0.05, 0.0), (0.6, 0.0), (0.01, 0.0)]
)
def test_days_until_a_margin_is_seen_one_by_one(margin, history):
    setting = replace(SETTING, history_dof=history)
    error, dof = order_error("ABBA", setting)
    seen = [
        days
        for days in range(1, 61)
        if smallest_effect(error / math.sqrt(days), dof * days + history, 0.95, 0.8) <= margin
    ]
    assert days_until(margin, error, dof, setting) == (seen[0] if seen else None)


def test_an_option_says_what_its_order_is():
    found = option("ABAB", replace(SETTING, history_dof=5.0), 0.6)
    assert (found.sessions, found.swaps, found.interleaved) == (4, 3, True)
    assert found.inflation == pytest.approx(1.25)
    assert found.dof == 5 * 4 - 4 - 4 - 2 + 5
    assert found.smallest_effect == pytest.approx(smallest_effect(found.standard_error, found.dof))
    assert found.settles == (found.smallest_effect <= 0.6)
    block = option("AB", replace(SETTING, history_dof=5.0), 0.6)
    assert (block.inflation, block.swaps, block.interleaved, block.dof) == (None, 1, False, 3 + 5)
    alone = option("ABBAB", replace(SETTING, other_karts=1, track_sd=0.1, history_dof=5.0), 0.6)
    assert alone.dof == 2  # nothing to hold other days against


def test_noise_of_a_day_is_what_kart_and_session_leave_over():
    """statsmodels OLS on kart and session indicators."""
    rng = np.random.default_rng(2)
    paces = 50 + rng.normal(0, 0.5, (5, 1)) + rng.normal(0, 0.3, 4) + rng.normal(0, 0.2, (5, 4))
    paces[1, 2] = paces[4, 0] = np.nan
    kart, session = np.nonzero(np.isfinite(paces))
    fitted = OLS(paces[kart, session], np.hstack([np.eye(5)[kart], np.eye(4)[session][:, 1:]])).fit()
    found = noise_from_paces(paces, 0.1, 8.0, 2.8)
    assert found.dof == fitted.df_resid
    assert found.session_variance(8) == pytest.approx(fitted.ssr / fitted.df_resid)
    assert found.lap_share_variance(8) == pytest.approx(2.8 * 0.01 / 8)
    assert found.source == f"taken from the day's own karts (worth {found.dof:.0f} comparisons of sessions)"
    for few in (paces[:1], paces[:, :1], np.full((3, 3), np.nan)):
        with pytest.raises(QuestionError, match="too few other karts"):
            noise_from_paces(few, 0.1, 8.0, 2.8)


def test_lap_noise_is_at_most_the_whole():
    whole = split_noise(0.01, 0.5, 8.0, 2.8, "day", 7.0)
    assert (whole.session_sd, whole.dof, whole.laps) == (0, 7, 8)
    assert whole.session_variance(8) == pytest.approx(0.01)
    assert split_noise(0.01, 0.0, 8.0, 2.8, "day", 7.0).lap_factor == 2.8
    part = split_noise(0.05, 0.1, 8.0, 2.8, "day", 7.0)
    assert (part.lap_factor, part.session_sd**2) == pytest.approx((2.8, 0.05 - 2.8 * 0.01 / 8))


@pytest.mark.parametrize(
    ("numbers", "where"),
    [
        ((-0.1, 0.3, 2.8), "session_sd"),
        ((0.1, math.nan, 2.8), "lap_sd"),
        ((0.1, 0.3, math.inf), "lap_factor"),
        ((0, 0, 2), "lap_sd"),
    ],
)
def test_noise_that_cannot_be(numbers, where):
    with pytest.raises(QuestionError, match="cannot be") as error:
        Noise(*numbers, "stated")
    assert error.value.where == where


@pytest.mark.parametrize("sessions", range(3, 10))
def test_the_best_order_among_all_of_its_length(sessions):
    """Smallest variance with an own trend fitted (numpy), then least of the bend left, then fewest swaps."""

    def rank(order):
        after = np.array([letter == "B" for letter in order], float)
        place = np.arange(sessions, dtype=float)
        X = np.column_stack([np.ones(sessions), after, place])
        if np.linalg.matrix_rank(X) < 3:
            return None
        bend = (place - place.mean()) ** 2
        bend -= bend.mean()
        return (
            round(float(np.linalg.inv(X.T @ X)[1, 1]), 6),
            round(abs(float(bend @ after)) / max(abs(bend).max(), 1e-12), 6),
            sum(a != b for a, b in itertools.pairwise(order)),
            order,
        )

    orders = ["A" + "".join(rest) for rest in itertools.product("AB", repeat=sessions - 1)]
    assert best_order(sessions) == min(filter(None, map(rank, orders)))[3]


def test_orders_on_offer_are_the_usual_blocks_and_the_best_of_each_length():
    assert orders_that_fit(2) == ("AB",)
    assert orders_that_fit(4) == ("AB", "ABA", "AABB", "ABAB", "ABBA")
    assert [len(order) for order in orders_that_fit(14)][-1] == 12


@pytest.mark.parametrize(("sessions", "count"), [(2, 0), (4, 4), (6, 18)])
def test_balanced_orders_with_a_variance_inflation_of_two_at_most(sessions, count):
    """1/(1 - r^2) with numpy's correlation, every order tried."""
    every = set(itertools.permutations("A" * (sessions // 2) + "B" * (sessions // 2)))
    fitting = [
        "".join(order)
        for order in every
        if np.corrcoef([letter == "B" for letter in order], range(sessions))[0, 1] ** 2 <= 0.5 + 1e-12
    ]
    assert list(balanced_orders(sessions)) == sorted(fitting)
    assert len(fitting) == count


@pytest.mark.parametrize("sessions", [0, 5, 14])
def test_sessions_that_cannot_be_split_evenly(sessions):
    with pytest.raises(QuestionError, match=f"{sessions} sessions cannot be split evenly"):
        balanced_orders(sessions)


def test_a_draw_of_too_few_orders_is_refused_with_the_chance_of_luck():
    """Of 18 orders two, each other's mirror, are the farthest out: 11 %."""
    with pytest.raises(QuestionError, match=r"6 sessions give 18 orders .* in 11% of such draws"):
        draw_order(6)
    facts = draw_order(8, seed=1).to_dict()
    assert facts["orders"] == list(balanced_orders(8))
    assert facts["smallest_p"] == 2 / 66


@pytest.mark.parametrize(("tail", "hits"), [("both", 2), ("greater", 1), ("less", 4)])
def test_the_exact_test_counts_orders_as_far_out(tail, hits):
    """Four sessions, four orders: B minus A is 3 for ABAB, -3 for BABA, 1 for ABBA and -1 for BAAB."""
    orders = ("ABAB", "ABBA", "BAAB", "BABA")
    assert exact_p_value([1.0, 3.0, 1.0, 5.0], "ABAB", orders, tail) == hits / 4
    with pytest.raises(QuestionError, match="not in the sealed list"):
        exact_p_value([1.0, 3.0, 1.0], "ABAB", orders)


def offered(order, sessions, effect, settles, interleaved=True, swaps=2):
    return replace(
        option("ABBA", SETTING, 0.1), order=order, sessions=sessions, smallest_effect=effect, settles=settles,
        interleaved=interleaved, swaps=swaps,
    )  # fmt: skip


def test_which_order_is_recommended():
    blocked = offered("AB", 2, 0.05, True, interleaved=False)
    short, long = offered("ABA", 3, 0.09, True), offered("ABBA", 4, 0.05, True)
    blunt, finer = offered("ABA", 3, 0.9, False), offered("ABBA", 4, 0.5, False)
    none = replace(long, smallest_effect=None, settles=False)
    assert recommend((blocked, long, short)) is short
    assert recommend((blocked, blunt, finer)) is finer
    assert recommend((blocked, none)) is blocked
    assert recommend((none,)) is None
    few, many = offered("ABBA", 4, 0.05, True, swaps=2), offered("ABAB", 4, 0.05, True, swaps=3)
    assert recommend((many, few)) is few


def test_what_else_could_be_turned_is_the_same_order_with_one_thing_changed():
    plan = make_plan(Wish("lap_time", "s", 0.1, 4, 10), SETTING)
    levers = {one["lever"]: one["smallest_effect"] for one in plan.levers}
    order, effect = plan.recommended, plan.smallest_effect
    assert levers["twice the laps a session"] == option(order, replace(SETTING, laps=18), 0.1).smallest_effect
    quiet = replace(SETTING, noise=replace(NOISE, session_sd=0.05))
    assert levers["half the session-to-session scatter"] == option(order, quiet, 0.1).smallest_effect
    sharp = replace(SETTING, noise=replace(NOISE, lap_factor=1.7))
    assert levers["pace from sectors and clocks"] == option(order, sharp, 0.1).smallest_effect
    error, dof = order_error(order, SETTING)
    assert levers["a second day"] == pytest.approx(smallest_effect(error / math.sqrt(2), 2 * dof))
    assert [one["steps"] for one in plan.steps] == [1, 2, 3]
    assert [one["smallest_effect_per_step"] for one in plan.steps] == pytest.approx(
        [effect, effect / 2, effect / 3]
    )
    assert plan.lap_share == pytest.approx((SESSION - 0.01) / SESSION)
    middle = make_plan(
        Wish("top_speed", "km/h", 0.1, 4, 10), replace(SETTING, noise=replace(NOISE, lap_factor=1.3))
    )
    assert "pace from sectors and clocks" not in {one["lever"] for one in middle.levers}


def test_a_bigger_step_is_named_only_where_it_could_settle_what_one_cannot():
    effect = make_plan(Wish("lap_time", "s", 0.1, 4, 10), SETTING).smallest_effect
    steps = [
        make_plan(Wish("lap_time", "s", margin, 4, 10), SETTING).bigger_step
        for margin in (effect * 1.01, effect * 0.51, effect * 0.34, effect * 0.33)
    ]
    assert steps == [None, 2, 3, None]


def false_calls(looks):
    """Chance that one of the looks calls a change that is not there: means of more and more sessions, all normal."""
    sessions, p = np.array(looks, float).T
    limits = stats.norm.isf(p / 2)
    together = np.sqrt(np.minimum.outer(sessions, sessions) / np.maximum.outer(sessions, sessions))
    return 1 - stats.multivariate_normal(np.zeros(len(p)), together).cdf(limits, lower_limit=-limits)


def test_declared_looks_call_what_is_not_there_in_one_of_twenty_tests_at_most():
    """Lan & DeMets 1983 (from memory), half way: 4 (1 - Phi(z_.9875/sqrt(1/2))) = .0031, then what makes 5 %."""
    half = declared_looks("half way", 8)
    assert 4 * stats.norm.sf(stats.norm.isf(0.0125) / np.sqrt(0.5)) == pytest.approx(half[0][1], abs=6e-5)
    assert false_calls(half) == pytest.approx(0.05, abs=1e-4)
    every = declared_looks("every two", 8)
    assert [sessions for sessions, _ in every] == [2, 4, 6, 8]
    assert 0.045 < false_calls(every) < 0.05
    assert [p for _, p in every] == sorted(p for _, p in every)


def test_declared_looks_are_for_eight_sessions():
    """Lan & DeMets 1983, spending of the O'Brien-Fleming kind, half way: .0031 and .0490 (from memory)."""
    assert declared_looks("at the end", 5) == ()
    assert declared_looks("half way", 8) == ((4, 0.0031), (8, 0.0490))
    with pytest.raises(QuestionError, match="worked out for 8 sessions, not for 6"):
        declared_looks("half way", 6)
    with pytest.raises(QuestionError, match="'often' is not a plan of looks"):
        declared_looks("often", 8)
