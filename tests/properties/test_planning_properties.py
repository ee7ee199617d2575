"""What must hold for any plan: more is never worse, and what cannot be told is said."""

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import lapdelta
from lapdelta.effect.power import Noise, Setting, option
from lapdelta.effect.randomisation import balanced_orders, best_order, is_interleaved_order
from lapdelta.errors import QuestionError

noise = st.builds(Noise, st.floats(0.01, 0.5), st.floats(0.05, 1.0), st.just(2.8), st.just("stated"))


@settings(max_examples=40, deadline=None)
@given(noise, st.integers(3, 30), st.integers(4, 30), st.sampled_from(["AB", "ABA", "ABBA", "ABBABAAB"]))
def test_more_karts_laps_or_quieter_sessions_see_smaller_effects(level, karts, laps, order):
    now = option(order, Setting(level, laps, karts, 0.95, 0.8), 0.1).smallest_effect
    louder = Noise(level.session_sd * 1.5, level.lap_sd, level.lap_factor, "stated")
    assert option(order, Setting(level, laps, karts + 1, 0.95, 0.8), 0.1).smallest_effect < now
    assert option(order, Setting(level, laps + 5, karts, 0.95, 0.8), 0.1).smallest_effect < now
    assert option(order, Setting(louder, laps, karts, 0.95, 0.8), 0.1).smallest_effect > now
    assert option(order, Setting(level, laps, karts, 0.95, 0.9), 0.1).smallest_effect > now
    assert option(order, Setting(level, laps, karts, 0.99, 0.8), 0.1).smallest_effect > now


@settings(max_examples=25, deadline=None)
@given(
    st.integers(2, 12),
    st.integers(0, 20),
    st.floats(0.02, 2.0),
    st.floats(0.01, 0.4),
    st.floats(0.05, 1.0),
)
def test_any_plan_is_whole(sessions, karts, margin, session_sd, lap_sd):
    plan = lapdelta.plan_test(
        sessions_left=sessions, other_karts=karts, margin=margin, session_sd=session_sd, lap_sd=lap_sd
    )
    said = json.loads(plan.to_json())
    assert said == plan.to_dict()
    assert plan.sentences
    assert all(one.sessions <= sessions for one in plan.options)
    if plan.recommended is None:
        assert plan.sentences[0].startswith("This day cannot settle it")
        assert all(one.reason for one in plan.options)
    else:
        assert plan.settles == (plan.smallest_effect <= margin)
        assert plan.days is None or (plan.days == 1) == plan.settles
        assert (plan.bigger_step is None) or not plan.settles
        verdict = "is enough" if plan.settles else "cannot settle"
        assert any(verdict in sentence for sentence in plan.sentences)


@pytest.mark.parametrize("sessions", range(3, 13))
def test_best_order_is_interleaved_and_starts_with_what_is_fitted(sessions):
    order = best_order(sessions)
    assert order.startswith("A")
    assert is_interleaved_order(order)
    assert abs(order.count("A") - order.count("B")) <= 1


@pytest.mark.parametrize("sessions", [4, 6, 8, 10])
def test_sealed_list_holds_every_order_with_its_mirror(sessions):
    orders = set(balanced_orders(sessions))
    assert {order.translate(str.maketrans("AB", "BA")) for order in orders} == orders
    assert {order[::-1] for order in orders} == orders


@pytest.mark.parametrize(
    ("wrong", "where"),
    [
        ({"sessions_left": 1}, "sessions_left"),
        ({"sessions_left": 8, "laps_per_session": 3}, "laps_per_session"),
        ({"sessions_left": 8, "margin": 0}, "margin"),
        ({"sessions_left": 8, "margin": float("nan")}, "margin"),
        ({"sessions_left": 8, "margin": float("inf")}, "margin"),
        ({"sessions_left": 4.5}, "sessions_left"),
        ({"sessions_left": 8, "track_sd": -1}, "track_sd"),
        ({"sessions_left": 8, "expected": float("nan")}, "expected"),
        ({"sessions_left": 8, "power": 80}, "power"),
        ({"sessions_left": 8, "confidence": 95}, "confidence"),
        ({"sessions_left": 8, "measure": "happiness"}, "measure"),
        ({"sessions_left": 8, "measure": "top_speed"}, "session_sd"),
        ({"sessions_left": 8, "pace": "guess"}, "pace"),
        ({"sessions_left": 8, "looks": "often"}, "looks"),
        ({"sessions_left": 6, "looks": "half way"}, "looks"),
        ({"sessions_left": 6, "random_order": True}, "sessions"),
        ({"sessions_left": 8, "random_order": True, "looks": "half way"}, "looks"),
        ({"sessions_left": 8, "session_sd": 0, "lap_sd": 0}, "lap_sd"),
        ({"sessions_left": 8, "other_karts": -1}, "other_karts"),
        ({"sessions_left": 8, "session_sd": -0.1}, "session_sd"),
    ],
)
def test_plans_that_cannot_be_asked(wrong, where):
    with pytest.raises(QuestionError) as caught:
        lapdelta.plan_test(**wrong)
    assert caught.value.where == where
    assert caught.value.mend


def test_random_order_is_drawn_sealed_and_said():
    plan = lapdelta.plan_test(sessions_left=9, random_order=True, seed=4, other_karts=12)
    assert plan.recommended == plan.draw.order
    assert len(plan.recommended) == 8
    assert plan.recommended in plan.draw.orders
    assert any("drawn from 66" in sentence for sentence in plan.sentences)
    again = lapdelta.plan_test(sessions_left=9, random_order=True, seed=plan.draw.seed, other_karts=12)
    assert again == plan


def test_looks_make_the_plan_eight_sessions_long_and_are_said():
    plan = lapdelta.plan_test(sessions_left=10, looks="every two", margin=0.5, other_karts=12)
    assert plan.recommended == "ABBABAAB"
    assert [sessions for sessions, _ in plan.looks] == [2, 4, 6, 8]
    assert any("0.00005" in sentence for sentence in plan.sentences)


def test_two_sessions_warn_of_the_drivers_own_progress():
    plan = lapdelta.plan_test(sessions_left=2, other_karts=12)
    assert plan.recommended == "AB"
    assert any("own progress" in sentence for sentence in plan.sentences)


def test_bigger_step_or_none():
    could = lapdelta.plan_test(sessions_left=8, other_karts=12, margin=0.25)
    assert could.bigger_step == 2
    assert any("2 times as big" in sentence for sentence in could.sentences)
    never = lapdelta.plan_test(sessions_left=4, other_karts=4, margin=0.01)
    assert (never.bigger_step, never.days) == (None, None)
    assert any("Even a step three times" in sentence for sentence in never.sentences)


def test_alone_on_the_track_needs_the_tracks_own_unevenness():
    untold = lapdelta.plan_test(sessions_left=6, other_karts=0)
    assert untold.recommended is None
    assert any("track_sd" in sentence for sentence in untold.sentences)
    told = lapdelta.plan_test(sessions_left=6, other_karts=0, track_sd=0.2)
    company = lapdelta.plan_test(sessions_left=6, other_karts=8)
    assert told.smallest_effect > company.smallest_effect
    assert {one.order for one in told.options if one.smallest_effect} == {"ABABA", "ABBAAB"}


def test_sharper_pace_is_a_lever_until_it_is_pulled():
    levers = {one["lever"]: one["smallest_effect"] for one in lapdelta.plan_test(sessions_left=4).levers}
    sharp = lapdelta.plan_test(sessions_left=4, pace="sectors and clocks")
    assert levers["pace from sectors and clocks"] == pytest.approx(sharp.smallest_effect)
    assert "pace from sectors and clocks" not in {one["lever"] for one in sharp.levers}
