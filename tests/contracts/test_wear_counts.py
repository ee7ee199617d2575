"""Laps on tyres, chain and sprockets are the laps that were driven on them, counted by hand here."""

import re
from datetime import date, time
from pathlib import Path

import polars as pl
import pytest
from command_in_process import command
from polars.testing import assert_frame_equal
from readings_kit import make_laps, make_reading

from lapdelta.archive import Archive
from lapdelta.parts.beside_the_sheet import laps_run
from lapdelta.parts.box import add_part
from lapdelta.parts.laps_counted import OURS, THE_BOX, WORN, totals, worn
from lapdelta.tables import SETUPS

APRIL, MAY = date(2026, 4, 4), date(2026, 5, 2)


def bring_in(
    archive: Archive, event: str, when: date | None, kart: str, sessions: tuple[str, ...], laps: int
) -> None:
    archive.add(make_reading(make_laps(range(1, laps + 1), (kart, "55"), sessions, when)), event=event)


def write(archive: Archive, *rows: dict[str, object]) -> None:
    archive.put_setups(pl.DataFrame(rows, schema=SETUPS))


@pytest.fixture
def archive(tmp_path: Path) -> Archive:
    """Imported in the wrong order; our kart is 07 in April and 27 in May."""
    found = Archive(tmp_path / "kept")
    bring_in(found, "May", MAY, "27", ("P1", "P2"), 8)
    bring_in(found, "April", APRIL, "07", ("P1", "P2", "P3"), 10)
    found.put_event("April", our_kart="07")
    found.put_event("May", our_kart="27")
    april, may = {"event": "April", "kart": "07"}, {"event": "May", "kart": "27"}
    write(
        found,
        {**april, "session": "P1", "tyre_set": "A", "axle_teeth": 82, "chain_links": 106},
        {**april, "session": "P2", "tyre_set": "A", "axle_teeth": 81, "chain_links": 106},
        {**may, "session": "P1", "tyre_set": "A", "axle_teeth": 82, "chain_links": 106},
        {**may, "session": "P2", "tyre_set": "B", "tyre_laps": 30, "axle_teeth": 82,
         "other": [{"key": "chain_part", "value": "C2"}]},
    )  # fmt: skip
    return found


def of_kind(archive: Archive, kind: str) -> pl.DataFrame:
    return worn(archive).filter(pl.col("kind") == kind)


def test_our_kart_is_one_kart_under_both_numbers_and_days_follow_by_date(archive: Archive) -> None:
    counts = of_kind(archive, "tyre set")
    assert counts.schema == WORN
    assert counts.select("event", "session", "value", "laps_before", "laps", "laps_after").rows() == [
        ("April", "P1", "A", 0, 10, 10),
        ("April", "P2", "A", 10, 10, 20),
        ("April", "P3", None, None, 10, None),
        ("May", "P1", "A", 20, 8, 28),
        ("May", "P2", "B", 30, 8, 38),
    ]
    assert set(counts["owner"]) == {OURS}
    assert totals(counts).select("value", "laps", "sessions", "last_event").rows() == [
        ("A", 28, 3, "May"),
        (None, 10, 1, "April"),
        ("B", 38, 1, "May"),
    ]


def test_the_box_lists_the_tyre_sets_with_their_laps(archive: Archive) -> None:
    place = ("parts", "--archive", archive.folder)
    sets = command(*place, "--json").json["tyre_sets"]
    assert [(one["value"], one["laps"]) for one in sets] == [("A", 28), ("B", 38)]
    text = command(*place).out
    assert "Tyre set A: 28 laps (April to May)." in text
    assert "Tyre set B: 38 laps (May)." in text


def test_chain_and_sprockets_are_counted_by_teeth_and_links_or_by_their_name(archive: Archive) -> None:
    axle = of_kind(archive, "axle sprocket").filter(pl.col("value").is_not_null())
    assert axle.select("value", "laps_before", "laps_after").rows() == [
        ("82", 0, 10),
        ("81", 0, 10),
        ("82", 10, 18),
        ("82", 18, 26),
    ]
    chain = of_kind(archive, "chain").filter(pl.col("value").is_not_null())
    assert chain.select("value", "laps_after").rows() == [("106", 10), ("106", 20), ("106", 28), ("C2", 8)]


def test_laps_set_aside_by_hand_wear_as_well(archive: Archive) -> None:
    archive.set_aside_laps("May", "P1", "27")
    assert of_kind(archive, "tyre set")["laps_after"].to_list()[-2] == 28


def test_a_part_of_the_box_keeps_its_laps_on_both_karts_of_a_team(archive: Archive) -> None:
    add_part(archive, "axle red", "axle sprocket", 82, 7.774)
    bring_in(archive, "June", date(2026, 6, 6), "08", ("P1",), 5)
    write(archive, {"event": "June", "session": "P1", "kart": "08", "axle_teeth": 82})
    assert (
        of_kind(archive, "axle sprocket").row(-1, named=True)["owner"] == "08"
    )  # not ours: perhaps their own
    write(archive, {"event": "June", "session": "P1", "kart": "08",
                    "other": [{"key": "axle_part", "value": "axle red"}]})  # fmt: skip
    last = of_kind(archive, "axle sprocket").row(-1, named=True)
    assert (last["owner"], last["value"], last["laps_before"], last["laps_after"]) == (
        THE_BOX,
        "axle red",
        26,
        31,
    )


def test_a_session_still_to_come_tells_the_laps_so_far(archive: Archive) -> None:
    write(archive, {"event": "May", "session": "P3", "kart": "27", "tyre_set": "A"},
          {"event": "June", "session": "P1", "kart": "27", "tyre_set": "B"})  # fmt: skip
    tyres = of_kind(archive, "tyre set").filter(pl.col("laps") == 0)
    assert tyres.select("event", "session", "laps_before", "laps_after").rows()[0] == ("May", "P3", 28, 28)
    shown = command("setup", "May", "P3", "--archive", archive.folder).out.splitlines()
    assert next(line for line in shown if line.startswith("Laps on tyre set")).split()[-1] == "28"
    assert totals(of_kind(archive, "tyre set")).filter(pl.col("value") == "A")["sessions"].to_list() == [3]


def test_two_karts_of_a_team_count_their_own_tyres(archive: Archive) -> None:
    bring_in(archive, "April", APRIL, "08", ("P1",), 6)
    write(archive, {"event": "April", "session": "P1", "kart": "08", "tyre_set": "A"})
    found = totals(of_kind(archive, "tyre set")).filter(pl.col("value") == "A")
    assert sorted(found.select("owner", "laps").rows()) == [("08", 6), (OURS, 28)]


def test_sessions_follow_by_the_clock_when_their_files_came_in_later(tmp_path: Path) -> None:
    archive = Archive(tmp_path / "clocks")
    afternoon = make_laps(range(1, 5), ("07",), ("P2",), MAY).with_columns(clock=pl.lit(time(15, 0)))
    morning = make_laps(range(1, 4), ("07",), ("P1",), MAY).with_columns(clock=pl.lit(time(9, 0)))
    archive.add(make_reading(afternoon), event="May")
    archive.add(make_reading(morning), event="May")
    write(
        archive, *({"event": "May", "session": name, "kart": "07", "tyre_set": "A"} for name in ("P1", "P2"))
    )
    assert of_kind(archive, "tyre set").select("session", "laps_after").rows() == [("P1", 3), ("P2", 7)]


def test_a_day_without_a_date_comes_last_and_an_empty_archive_has_no_counts(tmp_path: Path) -> None:
    archive = Archive(tmp_path / "undated")
    assert worn(archive).is_empty()
    bring_in(archive, "April", None, "07", ("P1",), 10)
    bring_in(archive, "May", MAY, "07", ("P1",), 8)
    write(
        archive,
        *({"event": name, "session": "P1", "kart": "07", "tyre_set": "A"} for name in ("April", "May")),
    )
    assert of_kind(archive, "tyre set")["event"].to_list() == ["May", "April"]


def test_the_setup_command_shows_the_laps_beside_what_was_fitted(archive: Archive) -> None:
    shown = command("setup", "May", "--archive", archive.folder)
    name, head, *lines = shown.out.splitlines()
    assert name == "May, kart 27"
    assert head.split() == ["P1", "P2"]
    tyres = next(line for line in lines if line.startswith("Laps on tyre set"))
    assert re.split(r" {2,}", tyres) == ["Laps on tyre set", "20 -> 28", "30 -> 38"]
    everything = worn(archive).filter(pl.col("event") == "May", pl.col("value").is_not_null())
    assert_frame_equal(
        worn(archive, "May").filter(pl.col("event") == "May", pl.col("value").is_not_null()), everything
    )
    run = command("setup", "May", "--archive", archive.folder, "--json").json["laps_run"]
    assert run == laps_run(archive, "May")
    assert {"session": "P1", "kart": "27", "kind": "tyre set", "fitted": "A", "laps": 8, "laps_before": 20,
            "laps_after": 28} in run  # fmt: skip
    assert (
        command("setup", "May", "--kart", "55", "--archive", archive.folder, "--json").json["laps_run"] == []
    )
