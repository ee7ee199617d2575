"""What stands beside an answer: fair karts and sessions, checks, flags and reasons, worked by hand.

Our own arithmetic on invented paces; thresholds are those of the method (5 % pace, 2 % track, 20 points of traffic).
"""

from dataclasses import replace

import numpy as np
import pytest
from simulated.karts_on_track import Practice, simulate_days
from simulated.simulator import Scenario, simulate

from lapdelta.effect.answer import Question, answer, find_shift, gather
from lapdelta.effect.arrays import SLOW
from lapdelta.effect.checks import Evidence, all_checks, flags_of
from lapdelta.effect.choices import HUBER, choices_table
from lapdelta.effect.day import Recipe, prepare
from lapdelta.effect.design import Design
from lapdelta.effect.fairness import comparable_karts, track_state, track_state_alone_explains
from lapdelta.effect.fitted import in_words, say_differences
from lapdelta.effect.history import NO_HISTORY, History
from lapdelta.effect.measures import find_measure
from lapdelta.effect.pace import lap_noise
from lapdelta.effect.reasons import reasons_of, session_spread
from lapdelta.effect.sharp import LAPS
from lapdelta.effect.sideviews import placebo_table
from lapdelta.effect.source import about_lap_noise
from lapdelta.effect.verdict import judge

NAN = float("nan")
LAP_TIME = find_measure("lap_time", 0)


def test_comparable_karts_are_within_five_percent_over_sessions_both_ran():
    """52.4 / 50 = 1.048; 47.4 / 50 = .948; the third met us in the second session only, where it was 2 % away."""
    pace = np.array([[50.0, 55.0, NAN], [52.4, 57.6, 99.0], [47.4, NAN, 50.0], [NAN, 56.1, 70.0], [NAN] * 3])
    assert comparable_karts(pace).tolist() == [True, True, False, True, False]
    assert comparable_karts(pace, 0.06).tolist() == [True, True, True, True, False]
    assert comparable_karts(pace, 0.03).tolist() == [True, False, False, True, False]


def test_a_kart_that_never_met_us_is_compared_by_its_mean():
    pace = np.array([[50.0, NAN], [NAN, 52.0], [NAN, 53.0]])
    assert comparable_karts(pace).tolist() == [True, True, False]


def paces(terms, karts=4):
    """Ours and others with the same session terms and no scatter."""
    return 50.0 + np.arange(karts)[:, None] / 10 + np.array(terms)


EVERY = np.ones(4, bool)


@pytest.mark.parametrize(
    ("terms", "left_out", "doubtful"),
    [
        ([0.0, 0.1, 1.5, 0.2, 0.1], [2], []),
        ([0.0, 0.1, 0.9, 0.2, 0.1], [], []),
        ([1.5, 0.0, 0.1, 0.2, 0.1], [], [0]),
        ([0.0, 0.1, 0.2, 0.1, 1.5], [], [4]),
        ([0.0, 1.5, 0.1, 1.6, 0.1], [1, 2, 3], []),
        ([0.0, 0.1, 1.5, 1.5, 0.1, 0.2], [], []),
        ([0.0, -1.5, 0.0, 0.1, 1.4], [1], [4]),
        ([1.5, 0.0], [], [0, 1]),
    ],
)
def test_sessions_that_stand_out_by_two_percent_of_our_pace(terms, left_out, doubtful):
    """2 % of about 50 s is 1.0 s. Two wet sessions in a row stand out from one neighbour only and stay."""
    found = track_state(paces(terms), EVERY)
    assert np.flatnonzero(found.left_out).tolist() == left_out
    assert np.flatnonzero(found.doubtful).tolist() == doubtful
    assert np.diff(found.terms) == pytest.approx(np.diff(terms))


def test_one_comparable_kart_shows_no_track():
    found = track_state(paces([0.0, 3.0, 0.0]), np.array([True, True, False, False]))
    assert np.isnan(found.terms).all()
    assert not found.left_out.any() | found.doubtful.any()


@pytest.mark.parametrize(
    ("order", "out", "whole"),
    [("ABA", [1], True), ("ABAB", [1], False), ("BAB", [1], True), ("ABA", [], False), ("AAA", [1], False)],
)
def test_a_setting_whose_every_session_stands_out_is_the_track_alone(order, out, whole):
    terms = np.zeros(len(order))
    terms[out] = 2.0
    design = Design(np.array([letter == "B" for letter in order]).astype(int), np.arange(4.0), np.arange(4))
    state = track_state(paces(terms), EVERY)
    assert track_state_alone_explains(state, design, np.ones(len(order), bool)) is whole


@pytest.mark.parametrize(
    ("left_out", "present", "whole"),
    [
        ("0110", "1111", True), ("1001", "1111", True), ("0100", "1111", False), ("1110", "1111", False),
        ("1111", "1111", False), ("0000", "1111", False), ("0100", "1101", True), ("0110", "0110", False),
    ],
)  # fmt: skip
def test_all_of_one_setting_and_none_of_the_other(left_out, present, whole):
    """ABBA; a session where ours did not run does not count, and a side without any says nothing."""
    design = Design(np.array([0, 1, 1, 0]), np.arange(4.0), np.arange(4))
    flags, there = (np.array([sign == "1" for sign in text]) for text in (left_out, present))
    state = replace(track_state(paces([0.0] * 4), EVERY), left_out=flags)
    assert track_state_alone_explains(state, design, there) is whole


def question(**more):
    return Question(LAP_TIME, 0.1, 0.95, ("P1",), ("P2",), **more)


def evidence_of(order="AABB", others=6, seed=5, history=NO_HISTORY, **more) -> Evidence:
    day = simulate(Scenario(order, others, effect=-0.3), np.random.default_rng(seed))
    asked, prepared = question(history=history, **more), prepare(day, LAP_TIME)
    shift = find_shift(day, prepared, asked)
    choices = choices_table(day, prepared, LAP_TIME, 0.1, 0.95, history)
    placebo = placebo_table(day, prepared, shift)
    return gather(day, prepared, asked, shift, judge(shift, LAP_TIME, 0.1, 0.95), placebo, choices)


@pytest.fixture(scope="module")
def told():
    return evidence_of()


def check(evidence, name):
    (found,) = [(passed, text) for one, passed, text in all_checks(evidence) if one == name]
    return found


def test_how_far_a_session_strays_is_the_scatter_of_the_others_changes(told):
    """AABB: each change has variance s^2 (1/2 + 1/2), so s is the standard deviation of the six changes."""
    pace = told.prepared.cells.pace[1:][told.prepared.comparable[1:]]
    changes = pace[:, 2:].mean(axis=1) - pace[:, :2].mean(axis=1)
    assert session_spread(told) == pytest.approx(changes.std(ddof=1))
    assert session_spread(evidence_of(others=2)) is None


def test_what_would_settle_it_is_computed_from_that(told):
    lost = replace(
        told, judged=replace(told.judged, verdict="not settled", half_width=0.31, smallest_margin=0.44)
    )
    said = " ".join(reasons_of(lost))
    assert (
        "The range reaches 0.31 s to each side; what can be ruled out is a change of more than 0.44 s" in said
    )
    reach = 1.96 * session_spread(told) * np.sqrt(1 + 1 / told.shift.others)
    assert (
        f"leaves a range of about {reach:.2f} s to each side, three such days together {reach / 3**0.5:.2f} s."
        in said
    )
    settled = replace(told, judged=replace(told.judged, verdict="faster"))
    assert "The range reaches" not in " ".join(reasons_of(settled))


def test_reasons_name_what_was_left_out_and_who_changed(told):
    state = replace(
        told.prepared.state, left_out=np.array([0, 1, 0, 0], bool), doubtful=np.array([0, 0, 0, 1], bool)
    )
    comparable = np.array([1, 1, 1, 1, 1, 1, 0], bool)
    odd = replace(
        told, prepared=replace(told.prepared, state=state, comparable=comparable), changed_karts=("3", "9")
    )
    said, names = " ".join(reasons_of(odd)), told.day.sessions
    assert f"Left out, more than 2 % away from both neighbours: {names[1]}." in said
    assert f"More than 2 % away from the only neighbour, kept with a doubt: {names[3]}." in said
    assert "1 other kart is more than 5 % away from our pace" in said
    assert "count as new karts from then on: 3, 9." in said
    two = replace(odd, prepared=replace(odd.prepared, comparable=comparable & (np.arange(7) != 2)))
    assert "2 other karts are more than 5 % away" in " ".join(reasons_of(two))
    left = replace(told, shift=replace(told.shift, history_left_out=True))
    assert "wanders less than this day shows, so it was left out" in " ".join(reasons_of(left))
    assert check(left, "history")[0] is False
    assert flags_of(odd)[-2:] == ("session_left_out", "track_state_doubtful")
    passed, text = check(odd, "track state")
    assert passed is False
    assert text.startswith(f"{names[1]}, {names[3]}: more than 2 %")


def test_reasons_end_with_how_much_is_lap_noise_and_what_the_other_steps_said(told):
    said = reasons_of(told)
    moved, total = told.moved_as_much
    assert f"{moved} of {total} other karts moved as much without a known change." in said
    assert not any("other karts moved as much" in line for line in reasons_of(replace(told, placebo=())))
    assert any(
        f"{round(100 * told.shift.lap_noise_share)} % of the uncertainty is lap noise" in line
        for line in said
    )
    unknown = replace(told, shift=replace(told.shift, lap_noise_share=NAN))
    assert not any("lap noise" in line for line in reasons_of(unknown))
    for name, words in (
        ("steps_used", "says how far chance goes"),
        ("steps_left_out", "those sessions were left out"),
    ):
        assert not any(words in line for line in said)
        assert any(
            words in line for line in reasons_of(replace(told, shift=replace(told.shift, **{name: True})))
        )


def test_three_other_karts_say_how_far_a_session_strays():
    assert session_spread(evidence_of(others=3)) is not None


def slow(told, before, after):
    """So many of ten usable laps set aside as slow in every session of a side."""
    usable = np.zeros_like(told.day.cube.reason)
    usable[0, :, 10:] = 1  # everything but ten laps is out of use otherwise
    reason = np.zeros_like(told.prepared.screened.reason)
    for session, count in enumerate((before, before, after, after)):
        reason[0, session, :count] = SLOW
    cube = replace(told.day.cube, exists=np.ones_like(told.day.cube.exists), reason=usable)
    screened = replace(told.prepared.screened, reason=reason)
    return replace(told, day=replace(told.day, cube=cube), prepared=replace(told.prepared, screened=screened))


@pytest.mark.parametrize(
    ("before", "after", "differed"), [(1, 3, False), (1, 4, True), (4, 1, True), (2, 2, False)]
)
def test_traffic_differs_by_more_than_twenty_points_of_slow_laps(told, before, after, differed):
    found = slow(told, before, after)
    assert found.slow_shares == pytest.approx((before / 10, after / 10))
    passed, text = check(found, "traffic")
    assert passed is not differed
    assert text.startswith(f"Laps far slower than the others: {10 * before} % before, {10 * after} % after")
    assert ("traffic_differed" in flags_of(found)) is differed


def test_a_side_without_laps_tells_no_traffic(told):
    nothing = replace(
        told, day=replace(told.day, cube=replace(told.day.cube, exists=np.zeros_like(told.day.cube.exists)))
    )
    assert nothing.slow_shares is None
    assert check(nothing, "traffic") == (None, "One side has no usable laps, so traffic cannot be compared.")
    assert not nothing.traffic_differed


@pytest.mark.parametrize(("away", "consistency"), [(0.029, False), (0.031, True), (-0.031, True)])
def test_part_of_the_change_is_consistency_beyond_three_hundredths(told, away, consistency):
    found = replace(told, from_laps=-0.3, companion=-0.3 + away)
    assert found.part_is_consistency is consistency
    assert check(found, "consistency")[0] is not consistency
    assert ("part_is_consistency" in flags_of(found)) is consistency


def test_the_companion_is_the_row_of_the_table_of_choices(told):
    rows = {(row["choice"], row["setting"]): row["estimate"] for row in told.choices}
    assert told.companion == rows[HUBER]
    assert told.from_laps == told.shift.estimate  # no clocks, no sectors: the pace is that from laps
    assert replace(told, companion=None).part_is_consistency is False


def moved(told, ours, *others):
    rows = [{"kart": "1", "ours": True, "shift": ours}] + [
        {"kart": "x", "ours": False, "shift": s} for s in others
    ]
    return replace(told, shift=replace(told.shift, estimate=ours), placebo=tuple(rows))


def test_placebo_counts_karts_that_moved_at_least_as_far_either_way(told):
    one_in_five = moved(told, -0.3, 0.3, 0.1, -0.29, 0.0, 0.2)
    assert one_in_five.moved_as_much == (1, 5)
    assert check(one_in_five, "placebo") == (True, "1 of 5 other karts moved as much without a known change.")
    assert check(moved(told, -0.3, -0.31, 0.5, 0.1, 0.1), "placebo")[0] is False
    assert check(moved(told, -0.3), "placebo")[0] is None


@pytest.mark.parametrize(("dof", "few"), [(5.9, True), (6.0, False)])
def test_fewer_than_six_df_are_few_other_karts(told, dof, few):
    found = replace(told, shift=replace(told.shift, dof=dof))
    assert ("few_other_karts" in flags_of(found)) is few
    passed, text = check(found, "other karts")
    assert passed is not few
    assert text.endswith("which is few: the interval is wide for it.") is few


@pytest.mark.parametrize(("times", "steady"), [(1.95, True), (2.05, False)])
def test_steadiness_is_our_clean_laps_scatter_against_twice_the_middle_of_the_others(told, times, steady):
    screened = told.prepared.screened
    sigma = lap_noise(screened.time_s, screened.kept)
    usual = np.median(sigma[1:])
    wild = screened.time_s.copy()
    wild[0] = 50 + (wild[0] - 50) * times * usual / sigma[0]
    found = replace(told, prepared=replace(told.prepared, screened=replace(screened, time_s=wild)))
    passed, text = check(found, "steadiness")
    assert passed is steady
    assert text.startswith(
        f"Our clean laps scatter by {times * usual:.2f} s, the other karts' by {usual:.2f} s"
    )
    lonely = replace(told, prepared=replace(told.prepared, comparable=np.arange(7) == 0))
    assert check(lonely, "steadiness")[0] is None


def test_a_history_is_said_to_be_used_or_not(told):
    past = History(raw=(0.1, -0.2, 0.1), raw_count=2.0)
    used = replace(told, history=past, shift=replace(told.shift, history_used=True))
    assert check(used, "history") == (
        True,
        "3 neighbouring sessions of other days say how much this kart wanders.",
    )
    assert check(replace(told, history=past), "history") == (None, "No history of this kart was used.")
    assert "rests_on_history" in flags_of(used)
    assert "rests_on_history" not in flags_of(replace(told, history=past))


def test_the_pace_is_spoken_of_for_lap_times_and_sectors_only(told):
    assert check(told, "pace")[1].startswith("Pace from laps: ")
    speed = replace(told, measure=find_measure("top_speed", 0))
    assert check(speed, "pace") == (None, "Clocks and sectors sharpen the lap time and the sectors only.")
    assert not any(line.startswith("Pace from") for line in reasons_of(speed))
    sector = replace(told, measure=find_measure("sector_1", 3))
    assert check(sector, "pace")[1].startswith("Pace from laps: ")
    assert any(line.startswith("Pace from") for line in reasons_of(sector))


@pytest.mark.parametrize(
    ("karts", "said"),
    [(1, "No other karts on track"), (2, "One other kart on track"), (5, "4 other karts on track")],
)
def test_too_few_other_karts_are_counted(told, karts, said):
    few = replace(
        told, day=replace(told.day, karts=told.day.karts[:karts]), shift=replace(told.shift, others=1)
    )
    passed, text = check(few, "other karts")
    assert (passed, text) == (None, f"{said}: too few comparable ones to judge by.")


def test_a_changed_choice_with_another_verdict_is_named(told):
    rows = [dict(row, verdict="faster") for row in told.choices]
    same = check(replace(told, choices=tuple(rows)), "choices")
    assert same == (True, f"The verdict stays the same with each of {len(rows) - 1} choices changed.")
    rows[2]["verdict"] = "not settled"
    passed, text = check(replace(told, choices=tuple(rows)), "choices")
    assert passed is False
    first = f"{rows[2]['choice']}: {rows[2]['setting']}"
    assert text == f"1 of {len(rows) - 1} changed choices gives another verdict, first: {first}."
    assert check(replace(told, choices=()), "choices")[0] is None


RECIPES = {
    ("slow laps", "set aside sooner (2.5)"): {"constant": 2.5},
    ("slow laps", "set aside later (4)"): {"constant": 4.0},
    ("warm-up laps", "as they were driven"): {"warm_up": False},
    ("other karts", "within 3 % of our pace"): {"tolerance": 0.03},
    ("other karts", "all, however fast"): {"tolerance": 9.0},
    ("pace", "quickest half of the laps"): {"fraction": 0.5},
    ("pace", "all kept laps"): {"fraction": 1.0},
}


def far(day):
    """The day with one kart 4 % and one 12 % slower than it was."""
    time = day.cube.time_s.copy()
    time[2] *= 1.04
    time[3] *= 1.12
    return replace(day, cube=replace(day.cube, time_s=time))


def test_each_recipe_changed_is_the_question_asked_with_it():
    """Up to the quicker search for the variance between sessions that the table makes: .002 s."""
    day = far(simulate(Scenario("ABBA", 7, effect=-0.3, laps=(12, 14)), np.random.default_rng(8)))
    rows = {(row["choice"], row["setting"]): row for row in answer(day, question()).choices}
    estimates = set()
    for key, changed in RECIPES.items():
        prepared = prepare(day, LAP_TIME, Recipe(source=LAPS, **changed))
        assert rows[key]["estimate"] == pytest.approx(
            find_shift(day, prepared, question()).estimate, abs=2e-3
        )
        estimates.add(round(rows[key]["estimate"], 3))
    assert len(estimates) >= 6
    assert ("pace", "from laps") not in rows  # that is the answer itself


@pytest.mark.parametrize("name", ["lap_time", "sector_2"])
def test_a_sharper_pace_has_its_own_choices_and_says_which_are_of_laps(name):
    day = simulate_days(Practice("ABBA", 8, laps=(12, 14)), 1, np.random.default_rng(3))[0]
    measure = find_measure(name, 3)
    asked = Question(measure, 0.1, 0.95, ("P1",), ("P2",))
    rows = {(row["choice"], row["setting"]): row["estimate"] for row in answer(day, asked).choices}
    for (choice, setting), changed in {**RECIPES, ("pace", "from laps"): {}}.items():
        of_laps = f"{setting}, pace from laps" if choice in ("slow laps", "warm-up laps") else setting
        source = None if choice == "other karts" else LAPS
        prepared = prepare(day, measure, Recipe(source=source, **changed))
        expected = find_shift(day, prepared, asked).estimate
        assert rows[choice, of_laps] == pytest.approx(expected, abs=2e-3), (choice, setting)


def test_every_choice_changed_gives_what_the_question_gives_without_it(told):
    """A kart or session left out of the table equals the day asked again without it."""
    rows = [row for row in told.choices if row["choice"] == "kart left out"]
    assert [row["setting"] for row in rows] == list(told.day.karts[1:])
    without = told.prepared.cells.pace.copy()
    without[3] = NAN
    cells = replace(told.prepared.cells, pace=without)
    again = find_shift(told.day, replace(told.prepared, cells=cells), question())
    assert rows[2]["estimate"] == pytest.approx(again.estimate)
    sessions = [row["setting"] for row in told.choices if row["choice"] == "session left out"]
    assert sessions == list(told.day.sessions)


@pytest.mark.parametrize(("order", "passed"), [("ABBA", True), ("AABB", False)])
def test_the_order_says_whether_progress_cancels(order, passed):
    found = evidence_of(order)
    assert check(found, "order")[0] is passed
    assert ("own_progress" in flags_of(found)) is not passed


def test_an_own_improvement_an_hour_that_alone_would_explain_it():
    """AABB, a session apart each: 2 sessions between the middles of both sides."""
    day = simulate(Scenario("AABB", 6, effect=-0.3), np.random.default_rng(5))
    found = answer(day, question())
    step = np.diff([day.design.time[:2].mean(), day.design.time[2:].mean()])[0]
    assert found.tipping_rate == pytest.approx(found.estimate / step)
    assert answer(simulate(Scenario("ABBA", 6), np.random.default_rng(5)), question()).tipping_rate is None


def test_a_session_named_on_both_sides_is_refused():
    day = simulate(Scenario("ABBA", 6), np.random.default_rng(5))
    both = answer(day, question(both=("P2",)))
    assert (both.verdict, both.estimate, both.choices, both.placebo) == ("cannot be told", None, (), ())
    assert both.reasons[0] == "Session P2 is named both before and after the change."
    assert "Name each session once" in " ".join(both.reasons)


@pytest.mark.parametrize(
    ("share", "told"),
    [
        (0.24, "more laps hardly help"),
        (0.26, "help a little"),
        (0.49, "help a little"),
        (0.51, "more laps a session help."),
    ],
)
def test_whether_more_laps_help(share, told):
    text = about_lap_noise(share)
    assert text.startswith(f"{round(100 * share)} % of the uncertainty is lap noise")
    assert told in text


@pytest.mark.parametrize(
    ("items", "bundle", "passed", "told"),
    [
        ([], False, None, "The setup sheet names no difference between before and after."),
        (["track_state"], False, None, "Nothing fitted differs on the setup sheet, only what is around it: track"),
        (["axle_teeth"], False, True, "Only one thing that is fitted differs on the setup sheet: axle teeth."),
        (["pressure_front_left_bar", "axle_teeth"], True, False, "differs (front left pressure, axle teeth): the"),
        (["a_mm", "b_kg"], False, True, "What differs on the setup sheet belongs together as one change: a, b."),
        (["axle_teeth", "air_temperature_c"], False, True, "axle teeth. Beside it differ: air temperature."),
    ],
)  # fmt: skip
def test_what_differs_on_the_sheet_in_words(items, bundle, passed, told):
    found = say_differences(items, bundle)
    assert found[0] is passed
    assert told in found[1]
    assert "_" not in in_words(items)


def test_speeds_have_no_other_paces_and_a_kart_that_missed_a_session_is_left_out_in_turn_too():
    day = simulate(Scenario("ABBA", 5, laps=(12, 12)), np.random.default_rng(9))
    speed = 95 + np.random.default_rng(1).normal(0, 0.5, day.cube.time_s.shape)
    gone = day.cube.exists.copy()
    gone[2, 1] = False
    cube = replace(day.cube, top_speed_kmh=speed, exists=gone)
    measure = find_measure("top_speed", 0)
    rows = answer(replace(day, cube=cube), Question(measure, 1.0, 0.95, ("P1",), ("P2",))).choices
    assert {row["choice"] for row in rows} == {
        "as asked", "slow laps", "warm-up laps", "other karts", "kart left out", "session left out"
    }  # fmt: skip
    assert [row["setting"] for row in rows if row["choice"] == "kart left out"] == list(day.karts[1:])
