"""What must not change a season's answer: order of rows, a constant on all times, names; and a day counted twice."""

import math

import numpy as np
import polars as pl
import pytest
from simulated.simulated_seasons import SeasonScenario, simulate_season

from lapdelta.errors import QuestionError
from lapdelta.seasons import season

SMALL = SeasonScenario(days=4, others=(4, 5), laps=(8, 9))


@pytest.fixture(scope="module", params=[1, 2])
def made(request):
    return simulate_season(SMALL, np.random.default_rng([91, request.param]))


@pytest.fixture(scope="module")
def plain(made):
    return season(made.laps, kart="07", setups=made.setups)


def close(one, other, path=""):
    """Equal up to rounding of sums; words and counts exactly."""
    if isinstance(one, dict):
        assert one.keys() == other.keys(), path
        for key in one:
            close(one[key], other[key], f"{path}.{key}")
    elif isinstance(one, (list, tuple)):
        assert len(one) == len(other), path
        for i, pair in enumerate(zip(one, other, strict=True)):
            close(*pair, f"{path}[{i}]")
    elif isinstance(one, float) and isinstance(other, float):
        assert math.isclose(one, other, rel_tol=1e-5, abs_tol=1e-6), (path, one, other)
    else:
        assert one == other, path


def answers(found):
    """All that is told, without the fingerprint of the laps."""
    facts = found.to_dict()
    del facts["fingerprint"]
    return facts


def test_the_order_of_days_and_sessions_does_not_matter(made, plain):
    days = made.laps.partition_by("event", "session", maintain_order=True)
    order = np.random.default_rng(3).permutation(len(days))
    laps = pl.concat([days[i] for i in order])
    sheet = made.setups.sample(fraction=1.0, shuffle=True, seed=4)
    close(answers(season(laps, kart="07", setups=sheet)), answers(plain))


def test_a_constant_on_all_times_changes_nothing(made, plain):
    laps = made.laps.with_columns(pl.col("lap_time_s") + 2.0)
    close(answers(season(laps, kart="07", setups=made.setups)), answers(plain))


def test_names_of_tracks_and_karts_change_nothing_but_names(made, plain):
    def at(place):
        names = made.laps["event"].unique(maintain_order=True)
        events = pl.DataFrame({"event": names, "track": place, "our_kart": "07"})
        return season(made.laps, setups=made.setups, events=events)

    here, there = (at(place).to_json() for place in ("Elm", "Oak"))
    assert here.replace("Elm", "Oak") == there
    ours = pl.when(pl.col("kart") == "07").then(pl.lit("27")).otherwise(pl.col("kart")).alias("kart")
    renamed = season(
        made.laps.with_columns(ours), kart="27", setups=made.setups.with_columns(kart=pl.lit("27"))
    )
    close(answers(renamed)["tracks"], answers(plain)["tracks"])


def test_the_same_day_under_two_names_counts_once(made, plain):
    first = made.laps["event"][0]
    again = made.laps.filter(pl.col("event") == first).with_columns(event=pl.lit(f"{first} again"))
    sheet = made.setups.filter(pl.col("event") == first).with_columns(event=pl.lit(f"{first} again"))
    found = season(pl.concat([made.laps, again]), kart="07", setups=pl.concat([made.setups, sheet]))
    close(answers(found)["tracks"], answers(plain)["tracks"])
    assert [(row["event"], row["reason"]) for row in found.left_out] == [
        (f"{first} again", f"the same laps as {first}")
    ]
    assert found.counts["events"] == plain.counts["events"] + 1
    assert found.counts["events_used"] == plain.counts["events_used"]


def test_lines_printed_twice_count_once(made, plain):
    twice = made.laps[np.repeat(np.arange(made.laps.height), 2)]
    close(answers(season(twice, kart="07", setups=made.setups))["tracks"], answers(plain)["tracks"])


def test_two_entries_for_one_session_are_refused(made):
    twice = pl.concat([made.setups, made.setups.head(1).with_columns(axle_teeth=pl.lit(70, dtype=pl.Int64))])
    with pytest.raises(QuestionError, match="two entries"):
        season(made.laps, kart="07", setups=twice)


def test_one_tooth_back_undoes_one_tooth_more(plain):
    """worth(a, b) + worth(b, c) is the curve's difference from a to c."""
    track = plain.tracks[0]
    curve = {row["value"]: row["estimate"] for row in track["curve"]}
    for row in track["worth"]:
        assert curve[row["next"]] - curve[row["value"]] == pytest.approx(row["estimate"], abs=1e-9)
