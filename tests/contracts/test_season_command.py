"""``lapdelta season``: its JSON, its errors, and input that cannot be put together: named, left out, counted."""

import json

import numpy as np
import polars as pl
import pytest
from command_in_process import command
from simulated.simulated_seasons import SeasonScenario, simulate_season

import lapdelta
from lapdelta.effect.season_finding import SeasonFinding
from lapdelta.seasons.sentences import _left_out
from lapdelta.seasons.sweep import sweep
from lapdelta.words import in_language

SMALL = SeasonScenario(days=8, others=(4, 4), laps=(8, 8))
#: What is wrong with each of the later days; the first three are as they should be.
ODD = ("two tracks", "wet", "no teeth", "one session", "alone")
ENTRIES = 3


def csv_of(laps: pl.DataFrame) -> bytes:
    table = laps.select(
        pl.col("session").alias("Session"), pl.col("kart").alias("Kart"), pl.col("lap").alias("Lap"),
        pl.col("lap_time_s").round(3).alias("Lap time (s)"),
    )  # fmt: skip
    return table.write_csv().encode()


def spoilt(laps: pl.DataFrame, what: str) -> pl.DataFrame:
    """A day's laps with one thing wrong."""
    if what == "two tracks":
        return laps.with_columns(pl.col("lap_time_s") * 1.3)
    if what == "one session":
        return laps.filter(pl.col("session") == "P1")
    return laps.filter(pl.col("kart") == "07") if what == "alone" else laps


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    """(archive, event by what is wrong): a season with all that goes wrong in one."""
    made = simulate_season(SMALL, np.random.default_rng(8))
    archive = lapdelta.Archive(tmp_path_factory.mktemp("season") / "archive")
    events = made.laps["event"].unique(maintain_order=True).to_list()
    wrong = dict(zip(ODD, events[ENTRIES:], strict=True))
    what_of = {event: what for what, event in wrong.items()}
    for event in events:
        laps = spoilt(made.laps.filter(pl.col("event") == event), what_of.get(event, ""))
        archive.add(lapdelta.read_timing(csv_of(laps), name=f"{event}.csv"), event=event)
        archive.put_event(event, our_kart="07", track="Lindenring")
    sheet = made.setups.with_columns(
        track_state=pl.when(pl.col("event") == wrong["wet"]).then(pl.lit("wet")).otherwise(pl.lit("dry"))
    ).filter(pl.col("event") != wrong["no teeth"])
    there = archive.sessions().select("event", "session").unique()
    archive.put_setups(sheet.join(there, on=["event", "session"], maintain_order="left"))
    return archive, wrong


@pytest.fixture(scope="module")
def answer(kept):
    done = command("season", "--json", "--archive", kept[0].folder)
    assert done.status == 0, done.err
    return done.json


def test_the_keys_are_those_of_a_season(answer):
    assert set(answer) == set(SeasonFinding.__dataclass_fields__)
    track = answer["tracks"][0]
    assert {
        "track", "events", "sessions", "values", "reference", "state", "side", "best", "best_low", "best_high",
        "any_effect_p", "largest_difference", "curve", "worth", "candidates", "teaches_most", "best_chance",
        "points", "fits", "checks", "reason", "also", "leave_one_out", "next",
    } <= set(track)  # fmt: skip
    assert SeasonFinding.from_json(json.dumps(answer)).to_dict() == answer
    assert {"ours", "others", "events", "history", "session_sd", "lap_sd", "conflicts"} <= set(
        answer["repeatability"]
    )


@pytest.mark.parametrize(
    ("what", "reason"),
    [
        ("two tracks", "another track or layout under the same name"),
        ("wet", "track state: wet"),
        ("no teeth", "axle teeth not written down"),
        ("alone", "no other kart to compare with"),
    ],
)
def test_what_cannot_be_put_together_is_named_left_out_and_counted(kept, answer, what, reason):
    event = kept[1][what]
    rows = [row for row in answer["left_out"] if row["event"] == event]
    assert rows
    assert all(row["reason"].endswith(reason) and row["laps"] > 0 for row in rows)
    assert event not in answer["tracks"][0]["events"]
    said = [line for line in answer["sentences"] if line.startswith("Left out") and event in line]
    assert len(said) == 1
    assert reason in said[0]
    text = command("season", "--archive", kept[0].folder).out
    assert said[0] in text


def test_an_event_whose_written_down_kart_drove_no_lap_is_named(kept):
    archive, wrong = kept
    archive.put_event(wrong["two tracks"], our_kart="99")
    done = command("season", "--archive", archive.folder)
    archive.put_event(wrong["two tracks"], our_kart="07")
    assert done.status == 0, done.err
    assert f"{wrong['two tracks']} (no lap is of kart 99, written down as ours)." in done.out


def test_of_a_kart_that_is_not_ours_no_event_of_ours_is_missed(kept):
    archive, _ = kept
    other = archive.laps().filter(pl.col("kart") != "07")["kart"][0]
    done = command("season", "--kart", other, "--archive", archive.folder)
    assert done.status == 0, done.err
    assert "written down as ours" not in done.out


def test_a_single_session_is_used_but_says_nothing(kept, answer):
    event = kept[1]["one session"]
    assert event not in [row["event"] for row in answer["days"]]
    assert answer["tracks"][0]["fits"]["linear"]["days"] == ENTRIES


def test_the_counts_add_up(answer):
    counts = answer["counts"]
    assert counts["events"] == SMALL.days
    assert counts["sessions"] == counts["sessions_used"] + counts["sessions_left_out"]
    assert counts["laps"] > counts["our_laps_used"] > 0


def test_one_session_in_all_is_no_season(tmp_path):
    archive = lapdelta.Archive(tmp_path / "one")
    made = simulate_season(SeasonScenario(days=1), np.random.default_rng(1))
    archive.add(lapdelta.read_timing(csv_of(spoilt(made.laps, "one session")), name="a.csv"), event="once")
    archive.put_event("once", our_kart="07")
    command("setup", "once", "P1", "axle=80", "engine=11", "--archive", archive.folder)
    done = command("season", "--json", "--archive", archive.folder)
    assert done.status == 0
    assert done.json["tracks"][0]["state"] == "cannot be told"
    assert (
        done.json["sentences"][0] == "All days: cannot be told: no day has two usable sessions of this kart."
    )


@pytest.mark.parametrize(
    ("words", "status", "told"),
    [
        (("--kart", "99"), 1, "no kart 99"),
        (("--track", "Elsewhere"), 1, "no event at Elsewhere"),
        (("--factor", "colour"), 1, "colour"),
        (("--also", "colour"), 1, "colour"),
        (("--also", "axle_teeth"), 1, "part of axle_teeth itself"),
        (("--measure", "smell"), 1, "smell"),
        (("--confidence", 2), 1, "confidence of 2"),
        (("--margin", -1), 1, "margin of -1"),
        (("--numbers",), 2, "--all-karts"),
        (("--all-karts", "--also", "pressure_rear"), 2, "--also"),
    ],
)
def test_errors_name_the_value(kept, words, status, told):
    done = command("season", *words, "--json", "--archive", kept[0].folder)
    assert done.status == status
    assert told in done.json["error"]["what"]
    assert done.json["error"]["mend"]


def test_an_empty_archive_says_what_to_do(tmp_path):
    done = command("season", "--json", "--archive", tmp_path / "empty")
    assert done.status == 1
    assert "lapdelta import" in done.json["error"]["mend"]


def test_all_karts_have_letters_unless_numbers_are_asked_for(kept):
    found = command("season", "--all-karts", "--json", "--archive", kept[0].folder).json
    assert set(found) == {"karts"}
    for row in found["karts"]:
        assert set(row) == {"kart", "events", "sessions", "repeatability", "responses"}
    assert [row["kart"] for row in found["karts"]] == [f"kart {letter}" for letter in "ABCDE"]
    numbers = command("season", "--all-karts", "--numbers", "--json", "--archive", kept[0].folder).json
    assert "07" in [row["kart"] for row in numbers["karts"]]
    table = command("season", "--all-karts", "--archive", kept[0].folder).out
    for row in found["karts"]:
        if row["repeatability"]:
            assert f"{row['repeatability']['session_sd']:.2f} s" in table
        for one in row["responses"]:
            assert one["best"] is None or f"{one['best']:.1f} teeth" in table


def test_all_karts_are_those_whose_sheet_tells_the_factor_asked_about():
    made = simulate_season(SMALL, np.random.default_rng(8))
    bar = 0.6 + 0.01 * pl.col("axle_teeth").rank("dense")
    sheet = made.setups.with_columns(pressure_rear_left_bar=bar, pressure_rear_right_bar=bar).drop(
        "axle_teeth"
    )
    told = {
        factor: [
            row["kart"]
            for row in sweep(made.laps, setups=sheet, factor=factor, named=True)
            if row["responses"]
        ]
        for factor in ("pressure_rear", "axle_teeth")
    }
    assert told == {"pressure_rear": ["07"], "axle_teeth": []}


def test_sessions_left_out_are_named_without_those_between_them():
    rows = [{"event": "day", "session": f"P{n}", "reason": "track state: wet"} for n in (1, 3, 5, 7)]
    sentence = _left_out(rows)
    assert sentence == ["Left out, 4: day P1, P3, P5 .. (track state: wet)."]
    assert in_language(sentence[0], "de") == "Weggelassen, 4: day P1, P3, P5 .. (Streckenzustand: nass)."
