"""Seasons with more in them than one setting: further factors, a wild day, a day on which the answer hangs."""

import numpy as np
import polars as pl
import pytest
from simulated.simulated_seasons import SeasonScenario, simulate_season

from lapdelta.effect.season_repeat import Steps, odd_days
from lapdelta.seasons import season

#: Long days with two teeth apart, so that an effect of 0.1 s can be seen.
STEADY = SeasonScenario(
    days=6,
    others=(8, 8),
    laps=(12, 12),
    steps=(2, 3),
    tau=0.04,
    our_tau=0.04,
    sigma=(0.15, 0.2),
    sharpness=0.0,
)


def with_pressure(made, choose, s_per_bar):
    """The season with a rear pressure by (event, session, teeth), and what it does to our times."""
    sheet = made.setups.with_columns(
        pressure=pl.Series(
            [choose(*row) for row in made.setups.select("event", "session", "axle_teeth").rows()]
        )
    )
    moved = made.laps.join(sheet.select("event", "session", "kart", "pressure"), on=["event", "session", "kart"],
                           how="left", maintain_order="left")  # fmt: skip
    shift = s_per_bar * (pl.col("pressure").fill_null(0.6) - 0.6)
    laps = moved.with_columns(pl.col("lap_time_s") + shift).drop("pressure")
    both = [pl.col("pressure").alias(f"pressure_rear_{side}_bar") for side in ("left", "right")]
    return laps, sheet.with_columns(both).drop("pressure")


@pytest.fixture(scope="module")
def made():
    return simulate_season(STEADY, np.random.default_rng(17))


def test_a_pressure_that_varied_apart_is_told_with_the_gearing_held(made):
    """2 s a bar, 0.05 bar a step: 0.10 s a step."""
    laps, sheet = with_pressure(made, lambda _, session, __: 0.6 + 0.1 * (session in ("P2", "P4")), 2.0)
    found = season(laps, kart="07", setups=sheet, also=["pressure_rear"])
    row = found.tracks[0]["also"][0]
    assert row["reason"] is None
    assert row["low"] <= 0.10 <= row["high"]
    assert row["low"] > 0
    assert (row["factor"], row["step"], row["moves_worth"]) == ("pressure_rear", 0.05, False)
    assert any(line.startswith("0.05 bar more rear pressure, all else the same") for line in found.sentences)
    assert found.settings["also"] == ["pressure_rear"]


def test_no_ballast_is_a_value_like_any_other_and_less_than_none_is_not(made):
    """Where the teeth were, there is ballast from 0 kg on: the same season by another name."""
    lowest = made.setups["axle_teeth"].min()
    kilos = made.setups.with_columns(
        ballast_kg=(pl.col("axle_teeth") - lowest).cast(pl.Float64), axle_teeth=pl.lit(80)
    )
    track = season(made.laps, kart="07", setups=kilos, factor="ballast_kg").tracks[0]
    for rows in ("curve", "candidates", "worth"):
        assert all(row["value"] >= 0 for row in track[rows])
    assert track["values"][0]["value"] == 0.0
    assert track["curve"][0]["value"] == 0.0
    assert track["worth"][0]["value"] == 0.0
    assert 0.0 in {track["reference"], *(row["value"] for row in track["candidates"])}


def test_a_curve_of_pressures_off_the_grid_says_what_a_step_from_the_reference_is_worth(made):
    """Teeth as hundredths of a bar, from 0.62 bar on: the reference lies between two steps of 0.05 bar."""
    lowest = made.setups["axle_teeth"].min()
    bar = 0.62 + 0.03 * (pl.col("axle_teeth") - lowest)
    sheet = made.setups.with_columns(
        pressure_rear_left_bar=bar, pressure_rear_right_bar=bar, axle_teeth=pl.lit(80)
    )
    found = season(made.laps, kart="07", setups=sheet, factor="pressure_rear")
    track = found.tracks[0]
    assert track["fits"]["quadratic"]["reason"] is None
    assert track["reference"] in [row["value"] for row in track["worth"]]
    # the line of the picture goes from the lowest value tried to the highest
    assert {row["value"] for row in track["values"]} <= {round(row["value"], 6) for row in track["curve"]}
    more = f"0.05 bar more than {track['reference']:.2f} bar: "
    assert [line for line in found.sentences if line.startswith(more)]
    tried = [row["value"] for row in track["values"]]
    # one step beyond what was tried, no further
    assert min(row["value"] for row in track["candidates"]) >= min(tried) - 0.05 - 1e-6
    assert max(row["value"] for row in track["candidates"]) <= max(tried) + 0.05 + 1e-6


def test_a_pressure_that_never_varied_apart_is_said_to_be_so(made):
    first = dict(made.setups.group_by("event").agg(pl.col("axle_teeth").first()).rows())
    laps, sheet = with_pressure(made, lambda event, _, teeth: 0.6 + 0.1 * (teeth != first[event]), 2.0)
    # the steps differ by day, in teeth and not in bar: make them the same change everywhere
    same = sheet.with_columns(
        axle_teeth=pl.when(pl.col("pressure_rear_left_bar") > 0.65).then(82).otherwise(80)
    )
    found = season(laps, kart="07", setups=same, also=["pressure_rear"])
    row = found.tracks[0]["also"][0]
    assert row["estimate"] is None
    assert row["reason"] == "rear pressure never varied apart from axle teeth or the day's other changes"
    assert any("What rear pressure does cannot be told" in line for line in found.sentences)
    assert any("what each did cannot be told apart" in line for line in found.sentences)
    assert found.tracks[0]["worth"]  # the gearing (with all that went with it) is still told


def test_a_pressure_that_nobody_changed_and_one_that_nobody_wrote_down(made):
    laps, sheet = with_pressure(made, lambda *_: 0.6, 0.0)
    still = season(laps, kart="07", setups=sheet, also=["pressure_rear"])
    assert still.tracks[0]["also"][0]["reason"] == "rear pressure never varied within a day"
    unwritten = season(made.laps, kart="07", setups=made.setups, also=["pressure_rear"])
    assert {row["reason"] for row in unwritten.left_out} == {"rear pressure not written down"}
    assert unwritten.counts["sessions_left_out"] == made.setups.height


def test_the_weather_moves_the_worth_of_a_tooth(made):
    """0.03 s a tooth more for every 5 degrees, put into our times as ln(ratio) times temperature."""
    days = made.setups["event"].unique(maintain_order=True).to_list()
    degrees = {event: 12.0 + 4 * i for i, event in enumerate(days)}
    warm = made.setups.with_columns(
        air_temperature_c=pl.col("event").replace_strict(degrees, return_dtype=pl.Float64)
    )
    slope = 0.03 * 81 / 5
    x = (pl.col("axle_teeth") / 80).log() * (pl.col("air_temperature_c") - 22) * slope
    extra = warm.select("event", "session", "kart", extra=x)
    laps = made.laps.join(extra, on=["event", "session", "kart"], how="left", maintain_order="left")
    laps = laps.with_columns(pl.col("lap_time_s") + pl.col("extra").fill_null(0.0)).drop("extra")
    found = season(laps, kart="07", setups=warm, also=["air_temperature_c"])
    row = found.tracks[0]["also"][0]
    assert row["moves_worth"] is True
    assert row["low"] <= 0.03 <= row["high"]
    assert row["high"] - row["low"] < 0.12
    few = season(
        laps.filter(pl.col("event").is_in(days[:3])), kart="07", setups=warm, also=["air_temperature_c"]
    )
    assert "at least 4 days" in few.tracks[0]["also"][0]["reason"]


def test_each_day_is_left_out_in_turn():
    made = simulate_season(SeasonScenario(days=4, sharpness=600.0), np.random.default_rng(7))
    found = season(made.laps, kart="07", setups=made.setups)
    rows = found.tracks[0]["leave_one_out"]
    assert [row["event"] for row in rows] == found.tracks[0]["events"]
    by_hand = season(
        made.laps.filter(pl.col("event") != rows[0]["event"]), kart="07", setups=made.setups
    ).tracks[0]
    assert rows[0]["state"] == by_hand["state"] or by_hand["state"] == "cannot be told"
    if rows[0]["best"] is not None and by_hand["best"] is not None:
        assert rows[0]["best"] == pytest.approx(by_hand["best"], abs=0.3)  # tau^2 there is that of fewer days
    named = [row["event"] for row in rows if row["turns"]]
    assert named
    assert found.tracks[0]["state"] != "cannot be told"
    said = [line for line in found.sentences if line.startswith("The answer hangs on")]
    assert len(said) == len(named)
    assert all(event in line for event, line in zip(named, said, strict=True))


def test_a_day_on_which_everybody_was_erratic_is_named():
    calm = simulate_season(SeasonScenario(days=5, others=(8, 8), tau=0.05), np.random.default_rng(5))
    wild = simulate_season(SeasonScenario(days=5, others=(8, 8), tau=0.60), np.random.default_rng(5))
    odd = calm.laps["event"].unique(maintain_order=True)[2]
    laps = pl.concat([calm.laps.filter(pl.col("event") != odd), wild.laps.filter(pl.col("event") == odd)])
    found = season(laps, kart="07", setups=calm.setups)
    rows = found.repeatability["conflicts"]
    assert [(row["event"], row["who"]) for row in rows] == [(odd, "others")]
    assert rows[0]["session_sd"] > 3 * rows[0]["rest_sd"]
    assert any(line.startswith(f"On {odd} the other karts' sessions differed") for line in found.sentences)
    assert season(calm.laps, kart="07", setups=calm.setups).repeatability["conflicts"] == []


def test_days_that_are_alike_are_rarely_called_odd():
    """Two-sided F times the number of days: at most 5 % of seasons by chance (200 of eight days, 3 sd above)."""
    rng = np.random.default_rng(6)
    called = 0
    for _ in range(200):
        values = rng.normal(0, 0.2, (8, 9))
        days = [[Steps((v,), (v * v / 2,), 1.0, 0.0) for v in day] for day in values]
        called += bool(odd_days(days, 0.95))
    assert called <= 200 * 0.05 + 3 * np.sqrt(200 * 0.05 * 0.95)
    assert called > 0


def test_what_to_try_next_is_a_value_and_a_sentence(made):
    track = season(made.laps, kart="07", setups=made.setups).tracks[0]
    steps = {row["what"]: row for row in track["next"]}
    assert steps["teaches most"]["value"] == track["teaches_most"]
    assert steps["best chance"]["value"] == track["best_chance"]
    for row in steps.values():
        assert f"{row['value']:.0f} teeth" in row["sentence"]
        assert f"{row['against']:.0f} teeth" in row["sentence"]
    widths = {row["value"]: row["best_width"] or row["curve_width"] for row in track["candidates"]}
    told = int(steps["teaches most"]["sentence"].split("about ")[1].split(" %")[0])
    assert told == pytest.approx(100 * (1 - widths[track["teaches_most"]]), abs=0.5)


def test_days_without_the_sector_asked_for_are_named_and_left_out(made):
    """Sectors are thirds of the lap; one day has none, one has two."""
    days = made.laps["event"].unique(maintain_order=True).to_list()
    third = pl.concat_list([(pl.col("lap_time_s") / 3).round(3)] * 2 + [pl.col("lap_time_s")
                            - 2 * (pl.col("lap_time_s") / 3).round(3)])  # fmt: skip
    laps = made.laps.with_columns(sector_times_s=third).with_columns(
        sector_times_s=pl.when(pl.col("event") == days[0]).then(pl.lit([], dtype=pl.List(pl.Float64)))
        .when(pl.col("event") == days[1]).then(pl.col("sector_times_s").list.head(2))
        .otherwise(pl.col("sector_times_s"))
    )  # fmt: skip
    found = season(laps, kart="07", setups=made.setups, measure="sector_3")
    assert {(row["event"], row["reason"]) for row in found.left_out} == {
        (days[0], "sectors missing"), (days[1], "sectors missing"),
    }  # fmt: skip
    assert found.tracks[0]["events"] == days[2:]
    assert {row["event"] for row in found.days if row["estimate"] is not None} <= set(days[2:])
    assert [row["others"] for row in found.repeatability["events"][:2]] == [None, None]
