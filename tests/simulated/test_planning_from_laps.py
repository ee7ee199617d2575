"""A plan made from a day's laps finds the scatter that was put into them."""

import math

import numpy as np
import polars as pl
import pytest

import lapdelta
from lapdelta.errors import QuestionError
from lapdelta.planning.day_noise import noise_of_the_day

TAU, SIGMA, LAPS = 0.10, 0.22, 12


def day(seed, karts=11, sessions=6, event=None):
    """Clean laps with an out lap, three sectors, top speed and rpm; kart 00 is ours and was changed."""
    rng = np.random.default_rng(seed)
    own, track = rng.normal(0, 0.5, karts), rng.normal(0, 0.3, sessions)
    rows = []
    for kart in range(karts):
        for session in range(sessions):
            pace = (
                55
                + own[kart]
                + track[session]
                + rng.normal(0, TAU)
                - (2.0 if kart == 0 and session > 2 else 0)
            )
            tow = rng.normal(0, 0.3)
            for lap in range(1, LAPS + 2):
                parts = pace / 3 + rng.normal(0, SIGMA / math.sqrt(3), 3) + (2 if lap == 1 else 0)
                speed, rpm = 96 + tow + rng.normal(0, 0.5), 13_800 + rng.normal(0, 40)
                rows.append((f"P{session + 1}", f"{kart:02d}", lap, parts.sum(), parts.tolist(), speed, rpm))
    names = ["session", "kart", "lap", "lap_time_s", "sector_times_s", "top_speed_kmh", "peak_rpm"]
    table = pl.DataFrame(rows, schema=names, orient="row")
    return table if event is None else table.select(pl.lit(event).alias("event"), pl.all())


def test_scatter_of_sessions_and_laps_comes_back():
    found = [noise_of_the_day(day(seed), "00", None, None, 1.1)[0]["lap_time"] for seed in range(12)]
    assert np.mean([noise.lap_sd for noise in found]) == pytest.approx(SIGMA, rel=0.1)
    total = math.sqrt(np.mean([noise.session_variance(LAPS) for noise in found]))
    assert total == pytest.approx(math.sqrt(TAU**2 + 1.1 * SIGMA**2 / LAPS), rel=0.1)


def test_our_own_change_does_not_count_as_scatter():
    """Kart 00 moved by 2 s in the middle of the day: with its name given the plan must not see it."""
    named = lapdelta.plan_test(day(1), kart="00", sessions_left=4)
    unnamed = lapdelta.plan_test(day(1), sessions_left=4)
    assert named.other_karts == 10
    assert unnamed.other_karts == 10  # one of the eleven is ours, whichever
    assert named.smallest_effect < 0.6 < unnamed.smallest_effect


def test_other_measures_stand_beside_the_lap_time():
    plan = lapdelta.plan_test(day(2), kart="00", sessions_left=4)
    rows = {row["measure"]: row for row in plan.also}
    assert set(rows) == {"sector_1", "sector_2", "sector_3", "top_speed", "peak_rpm"}
    # a third of the lap with a third of its variance: a change in one sector shows better there
    assert rows["sector_2"]["smallest_effect"] < 0.8 * plan.smallest_effect
    assert rows["top_speed"]["unit"] == "km/h"
    speed = lapdelta.plan_test(day(2), kart="00", sessions_left=4, measure="top_speed")
    assert speed.smallest_effect == pytest.approx(rows["top_speed"]["smallest_effect"])
    assert speed.unit == "km/h"


def test_stated_numbers_win_and_the_expected_size_is_held_against_the_plan():
    plan = lapdelta.plan_test(day(3), kart="00", sessions_left=4, session_sd=0.3, lap_sd=0.4, expected=0.04)
    assert (plan.noise.session_sd, plan.noise.lap_sd, plan.noise.source) == (0.3, 0.4, "stated")
    assert any("expected to do 0.04 s at most" in sentence for sentence in plan.sentences)


@pytest.mark.parametrize(
    ("laps", "wrong", "where"),
    [
        (day(4), {"kart": "99"}, "kart"),
        (day(4), {"sessions": ["P9"]}, "sessions"),
        (day(4), {"kart": "00", "sessions": ["P1"]}, "laps"),
        (day(4, karts=2), {"kart": "00"}, "laps"),
        (day(4, event="spring"), {"event": "autumn"}, "event"),
        (pl.concat([day(4, event="spring"), day(5, event="autumn")]), {"kart": "00"}, "event"),
        (day(4).clear(), {"kart": "00"}, "kart"),
    ],
)
def test_laps_that_cannot_be_learnt_from(laps, wrong, where):
    with pytest.raises(QuestionError) as caught:
        lapdelta.plan_test(laps, sessions_left=4, **wrong)
    assert caught.value.where == where


def test_one_of_several_events_is_enough():
    both = pl.concat([day(4, event="spring"), day(5, event="autumn")])
    one = lapdelta.plan_test(both, kart="00", event="autumn", sessions_left=4)
    alone = lapdelta.plan_test(day(5), kart="00", sessions_left=4)
    assert one.smallest_effect == pytest.approx(alone.smallest_effect)


def season_of(seeds, tau=TAU, ours=None, karts=11, sessions=4):
    """Other days on which nobody changed anything, and the sheet that says so for kart 00."""
    frames, sheet = [], []
    for seed in seeds:
        event = f"day {seed}"
        rng = np.random.default_rng([77, seed])
        spread = np.full((karts, 1), tau)
        spread[0] = tau if ours is None else ours
        pace = 55 + rng.normal(0, 0.5, (karts, 1)) + rng.normal(0, 0.3, sessions)
        pace = pace + spread * rng.normal(size=(karts, sessions))
        time = pace[..., None] + rng.normal(0, SIGMA, (karts, sessions, LAPS + 1))
        time[..., 0] += 6
        kart, session, lap = np.nonzero(np.ones(time.shape))
        frames.append(
            pl.DataFrame(
                {
                    "event": event,
                    "session": [f"P{s + 1}" for s in session],
                    "kart": [f"{k:02d}" for k in kart],
                    "lap": (lap + 1).astype(np.int32),
                    "lap_time_s": time[kart, session, lap],
                },
                schema_overrides={"event": pl.String},
            )
        )
        sheet += [(event, f"P{s + 1}", "00", 80) for s in range(sessions)]
    setups = pl.DataFrame(sheet, schema=["event", "session", "kart", "axle_teeth"], orient="row")
    return pl.concat(frames), setups


def test_other_days_alone_tell_the_scatter_that_was_put_into_them():
    """No lap of the day yet: tau 0.10, sigma 0.22 come back from neighbours without a change."""
    laps, setups = season_of(range(16))
    plan = lapdelta.plan_test(
        sessions_left=4, kart="00", history=laps, setups=setups, laps_per_session=LAPS + 1
    )
    # lap noise of a mean of 12 clean laps is 1.1 sigma^2/12 (the pace is that of the quickest 70 %)
    whole = math.sqrt(TAU**2 + 1.1 * SIGMA**2 / LAPS)
    assert math.sqrt(plan.noise.session_variance(LAPS)) == pytest.approx(whole, rel=0.08)
    assert plan.noise.lap_sd == pytest.approx(SIGMA, rel=0.08)
    for side in ("ours", "others"):
        found = plan.learned[side]
        assert found["low"] <= whole <= found["high"] or found["session_sd"] == pytest.approx(whole, rel=0.1)
    assert len(plan.learned["events"]) == 16
    assert any(sentence.startswith("On other days, with nothing changed") for sentence in plan.sentences)


def test_a_small_day_leans_on_the_other_days():
    laps, setups = season_of(range(8))
    small = season_of([99], karts=4, sessions=2)[0].drop("event")
    wanted = {"kart": "00", "sessions_left": 2, "laps_per_session": LAPS + 1}
    alone = lapdelta.plan_test(small, **wanted)
    helped = lapdelta.plan_test(small, **wanted, history=laps, setups=setups)
    assert alone.noise.dof < 5 < 100 < helped.noise.dof
    # our kart's 24 neighbours, four to a chain of three, count 8 times 2 * 9 / 8 (method of chained differences)
    assert helped.learned["history_dof"] == pytest.approx(8 * 2 * 9 / 8)
    block = {one.order: one for one in helped.options}["AB"]
    assert block.dof == pytest.approx(3 - 1 + 8 * 2 * 9 / 8)


def test_a_day_that_contradicts_the_others_stands_for_itself():
    quiet, setups = season_of(range(8), tau=0.03)
    wild = season_of([99], tau=0.40, sessions=6)[0].drop("event")
    plan = lapdelta.plan_test(wild, kart="00", sessions_left=4, history=quiet, setups=setups)
    alone = lapdelta.plan_test(wild, kart="00", sessions_left=4)
    assert plan.learned["conflict"] == "the day"
    assert plan.learned["used"] is False
    assert plan.noise == alone.noise
    assert plan.smallest_effect == alone.smallest_effect
    assert any("this day alone" in sentence for sentence in plan.sentences)


def test_a_kart_more_erratic_than_the_others_is_planned_for_as_it_is():
    laps, setups = season_of(range(8), ours=0.40)
    day_laps = season_of([99])[0].drop("event")
    wanted = {"kart": "00", "sessions_left": 4, "laps_per_session": LAPS + 1}
    plan = lapdelta.plan_test(day_laps, **wanted, history=laps, setups=setups)
    assert plan.learned["conflict"] == "our kart"
    assert plan.smallest_effect > 2 * lapdelta.plan_test(day_laps, **wanted).smallest_effect
    # its own scatter, and a tenth of the others': (s_0^2 + s^2/K) with K = 10
    own, other = 0.40**2 + 1.1 * SIGMA**2 / LAPS, TAU**2 + 1.1 * SIGMA**2 / LAPS
    abba = {one.order: one for one in plan.options}["ABBA"]
    assert abba.standard_error == pytest.approx(math.sqrt(own + other / 10), rel=0.25)
    assert any("rests on its own scatter" in sentence for sentence in plan.sentences)


def test_sessions_with_a_change_between_them_tell_nothing_of_our_kart():
    laps, setups = season_of(range(4))
    changed = setups.with_columns(axle_teeth=pl.col("session").str.slice(1).cast(pl.Int64) + 77)
    plan = lapdelta.plan_test(sessions_left=4, kart="00", history=laps, setups=changed)
    assert plan.learned["ours"] is None
    assert plan.learned["others"]["differences"] == 4 * 10 * 3
    unwritten = lapdelta.plan_test(sessions_left=4, kart="00", history=laps, setups=setups.clear())
    assert unwritten.learned["ours"] is None


def test_the_plan_promises_what_compare_then_finds_with_the_same_history():
    laps, setups = season_of(range(8))
    wanted = {"kart": "00", "sessions_left": 4, "laps_per_session": LAPS + 1}
    plan = lapdelta.plan_test(history=laps, setups=setups, other_karts=10, **wanted)
    abba = {one.order: one for one in plan.options}["ABBA"]
    errors = []
    for seed in range(200, 206):
        fresh, sheet = season_of([seed])
        found = lapdelta.compare(
            fresh,
            kart="00",
            before=["P1", "P4"],
            after=["P2", "P3"],
            history=laps,
            setups=pl.concat([setups, sheet]),
        )
        if "history" in " ".join(found.reasons):  # a day that contradicts its history stands for itself
            continue
        errors.append(found.standard_error)
        assert found.dof == pytest.approx(abba.dof)
    assert len(errors) >= 3
    # c of the plan counts traffic that these laps do not have, but learnt scatter already stands for it
    assert np.mean(errors) == pytest.approx(abba.standard_error, rel=0.15)


def test_other_days_without_the_measure_are_no_obstacle():
    laps, setups = season_of(range(3))
    wanted = {"kart": "00", "sessions_left": 4}
    for measure in ("sector_2", "top_speed"):
        alone = lapdelta.plan_test(day(2), measure=measure, **wanted)
        beside = lapdelta.plan_test(day(2), measure=measure, history=laps, setups=setups, **wanted)
        assert beside.learned is None
        assert beside.smallest_effect == alone.smallest_effect
