"""Seasons with a known truth: a flat response stays flat, intervals hold, odd days are named and left out."""

import json
from datetime import date

import numpy as np
import polars as pl
import pytest
from scipy.stats import binom
from simulated.season_trials import run_seasons
from simulated.simulated_seasons import SeasonScenario, simulate_season

from lapdelta.errors import QuestionError
from lapdelta.pictures.repeatability import repeatability
from lapdelta.pictures.response import response
from lapdelta.pictures.season_days import season_days
from lapdelta.seasons import season
from lapdelta.seasons.sweep import sweep

SEASONS = 16


def fewest(share: float, of: int) -> int:
    """A right method falls below this number of hits once in a thousand runs."""
    return int(binom.ppf(0.001, of, share))


def test_flat_is_not_called_a_best_value() -> None:
    """Nominal 5 %: claims about the best value of a flat response."""
    rates = run_seasons(SeasonScenario(sharpness=0.0, days=4), SEASONS, 11)
    assert SEASONS - sum(rates.states[state] for state in ("found", "beyond", "one side")) >= fewest(
        0.95, SEASONS
    )


def test_the_intervals_hold_the_truth() -> None:
    rates = run_seasons(SeasonScenario(), SEASONS, 12)
    assert rates.claims >= SEASONS // 3
    assert rates.best_covered >= fewest(0.95, rates.claims)
    assert rates.worth_covered >= 0.8 * rates.worth_count  # steps of one season are not independent


def test_a_best_value_beyond_what_was_tried_is_not_put_inside() -> None:
    rates = run_seasons(SeasonScenario(best_teeth=(75.5, 76.5), teeth=(79, 84)), 12, 13)
    assert rates.best_covered >= fewest(0.95, rates.claims)
    assert rates.states["beyond"] >= 4


@pytest.fixture(scope="module")
def made():
    return simulate_season(SeasonScenario(days=4), np.random.default_rng(5))


def events_of(made, **layouts) -> pl.DataFrame:
    names = made.laps["event"].unique(maintain_order=True).to_list()
    rows = [(name, date.fromisoformat(name), "Home", layouts.get(name), None, "07") for name in names]
    return pl.DataFrame(
        rows, schema=["event", "date", "track", "layout", "direction", "our_kart"], orient="row"
    )


def test_two_tracks_under_one_name_are_told_apart(made) -> None:
    odd = made.laps["event"][0]
    laps = made.laps.with_columns(
        lap_time_s=pl.when(pl.col("event") == odd)
        .then(pl.col("lap_time_s") * 1.3)
        .otherwise(pl.col("lap_time_s"))
    )
    found = season(laps, setups=made.setups, events=events_of(made))
    assert [(row["event"], row["session"]) for row in found.left_out] == [(odd, None)]
    assert "another track or layout" in found.left_out[0]["reason"]
    assert odd not in found.tracks[0]["events"]


def test_a_wet_day_among_dry_ones_is_left_out(made) -> None:
    wet = made.laps["event"][0]
    sheet = made.setups.with_columns(track_state=pl.when(pl.col("event") == wet).then(pl.lit("wet")))
    found = season(made.laps, setups=sheet, events=events_of(made))
    assert {row["event"] for row in found.left_out} == {wet}
    assert {row["reason"] for row in found.left_out} == {"track state: wet"}
    assert found.counts["sessions_left_out"] == len(found.left_out)


def test_missing_teeth_are_named_and_counted(made) -> None:
    gone = made.setups["event"][0]
    sheet = made.setups.filter(pl.col("event") != gone)
    found = season(made.laps, setups=sheet, events=events_of(made))
    assert {(row["event"], row["reason"]) for row in found.left_out} == {
        (gone, "axle teeth not written down")
    }


def test_another_layout_is_another_circuit(made) -> None:
    other = made.laps["event"][0]
    found = season(made.laps, setups=made.setups, events=events_of(made, **{other: "short"}))
    assert [track["track"] for track in found.tracks] == ["Home, short", "Home"]


def test_one_value_only_says_so(made) -> None:
    sheet = made.setups.with_columns(axle_teeth=pl.lit(80))
    found = season(made.laps, kart="07", setups=sheet)
    assert found.tracks[0]["state"] == "cannot be told"
    assert found.tracks[0]["reason"] == "only one value was ever run"
    json.loads(found.to_json())


@pytest.mark.parametrize(
    "wrong",
    [{"kart": "99"}, {"factor": "colour"}, {"measure": "smell"}, {"confidence": 2.0}, {"margin": -1.0}],
)
def test_questions_that_cannot_be_asked(made, wrong) -> None:
    with pytest.raises(QuestionError):
        season(made.laps, **({"kart": "07", "setups": made.setups} | wrong))


def test_pictures_have_title_and_text_alternative(made) -> None:
    found = season(made.laps, kart="07", setups=made.setups)
    for chart in (response(found, found.tracks[0]["track"]), season_days(found), repeatability(found)):
        spec = chart.to_dict()
        assert " ".join(spec["title"]["text"]).strip()
        assert spec["description"].strip()


def test_a_sweep_prints_no_numbers_unless_asked(made) -> None:
    rows = sweep(made.laps, setups=made.setups)
    assert not {row["kart"] for row in rows} & set(made.laps["kart"])
    named = sweep(made.laps, setups=made.setups, named=True)
    assert {row["kart"] for row in named} == set(made.laps["kart"])
    assert [row["repeatability"] for row in named] == [row["repeatability"] for row in rows]
