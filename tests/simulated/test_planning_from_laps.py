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
