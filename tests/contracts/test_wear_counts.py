"""Laps on tyres, chain and sprockets are the laps that were driven on them, counted by hand here."""

from datetime import date

import polars as pl
import pytest
from readings_kit import make_laps

from lapdelta.errors import SetupError
from lapdelta.parts.laps_counted import COUNTS, OURS, laps_on, totals
from lapdelta.tables import EVENTS, SETUPS


def day(event: str, when: date, kart: str, sessions: tuple[str, ...], laps: int) -> pl.DataFrame:
    made = make_laps(range(1, laps + 1), (kart, "55"), sessions, when)
    return made.select(pl.lit(event).alias("event"), pl.all())


def sheet(*rows: dict[str, object]) -> pl.DataFrame:
    return pl.DataFrame(rows, schema=SETUPS)


#: Imported in the wrong order; our kart is 07 in April and 27 in May.
LAPS = pl.concat(
    [
        day("May", date(2026, 5, 2), "27", ("P1", "P2"), 8),
        day("April", date(2026, 4, 4), "07", ("P1", "P2", "P3"), 10),
    ]
)
SHEET = sheet(
    {"event": "April", "session": "P1", "kart": "07", "tyre_set": "A", "axle_teeth": 82, "chain_links": 106},
    {"event": "April", "session": "P2", "kart": "07", "tyre_set": "A", "axle_teeth": 81, "chain_links": 106},
    {"event": "May", "session": "P1", "kart": "27", "tyre_set": "A", "axle_teeth": 82, "chain_links": 106},
    {"event": "May", "session": "P2", "kart": "27", "tyre_set": "B", "tyre_laps": 30, "axle_teeth": 82,
     "other": [{"key": "chain_name", "value": "C2"}]},
)  # fmt: skip
HELD = pl.DataFrame([{"event": "April", "our_kart": "07"}, {"event": "May", "our_kart": "27"}], schema=EVENTS)


def test_our_kart_is_one_kart_under_both_numbers_and_days_follow_by_date() -> None:
    counts = laps_on(SHEET, LAPS, "tyre_set", HELD)
    assert counts.schema == COUNTS
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


def test_without_the_events_each_number_is_a_kart_of_its_own() -> None:
    counts = laps_on(SHEET, LAPS, "axle_teeth")
    found = totals(counts).filter(pl.col("value").is_not_null())
    assert sorted(found.select("owner", "value", "laps").rows()) == [
        ("07", "81", 10),
        ("07", "82", 10),
        ("27", "82", 16),
    ]


def test_a_part_told_apart_by_a_name_of_its_own() -> None:
    counts = laps_on(SHEET, LAPS, "chain_name", HELD)
    assert counts.filter(pl.col("value") == "C2").select("event", "session", "laps_after").rows() == [
        ("May", "P2", 8)
    ]
    with pytest.raises(SetupError, match="nothing written for 'gearbox'"):
        laps_on(SHEET, LAPS, "gearbox", HELD)
    with pytest.raises(SetupError, match="nothing written for 'session'"):
        laps_on(SHEET, LAPS, "session")


def test_two_karts_of_a_team_count_their_own_tyres() -> None:
    laps = pl.concat(
        [day("April", date(2026, 4, 4), "07", ("P1",), 10), day("April", date(2026, 4, 4), "08", ("P1",), 6)]
    )
    both = sheet(
        {"event": "April", "session": "P1", "kart": "07", "tyre_set": "A"},
        {"event": "April", "session": "P1", "kart": "08", "tyre_set": "A"},
    )
    found = totals(laps_on(both, laps, "tyre_set", HELD))
    assert sorted(found.select("owner", "value", "laps").rows()) == [("08", "A", 6), (OURS, "A", 10)]


def test_a_day_without_a_date_comes_last_and_an_empty_archive_has_no_counts() -> None:
    undated = LAPS.with_columns(
        pl.when(pl.col("event") == "April").then(None).otherwise("date").alias("date")
    )
    assert laps_on(SHEET, undated, "tyre_set", HELD)["event"].to_list()[:2] == ["May", "May"]
    assert laps_on(SHEET, LAPS.clear(), "tyre_set", HELD).is_empty()
