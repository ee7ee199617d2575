"""The archive gives back what it was given, once, and names events by rule."""

import stat
from datetime import date, timedelta
from pathlib import Path

import duckdb
import polars as pl
import pytest
from polars.testing import assert_frame_equal
from readings_kit import DAY, MadeReading, make_laps, make_reading

import lapdelta
from lapdelta.archive import Archive, default_folder
from lapdelta.errors import ArchiveError, OpenQuestions, SetupError
from lapdelta.tables import EVENT_LAPS, EVENTS, SETUPS

EVENT = "2026-05-16"


@pytest.fixture
def archive(tmp_path: Path) -> Archive:
    return Archive(tmp_path / "kept")


def test_laps_come_back_as_they_were_in_file_order(archive: Archive) -> None:
    laps = make_laps().sample(fraction=1, shuffle=True, seed=4)
    archive.add(make_reading(laps))
    kept = archive.laps(EVENT)
    assert kept.schema == EVENT_LAPS
    assert_frame_equal(kept.drop("event"), laps)
    assert_frame_equal(Archive(archive.folder).laps(), kept)


def test_public_name_is_this_class() -> None:
    assert lapdelta.Archive is Archive


def test_same_bytes_add_nothing(archive: Archive) -> None:
    first = archive.add(make_reading(), why="practice")
    again = archive.add(make_reading(), event="another name")
    assert (first.already, first.laps_added, first.laps_known) == (False, 60, 0)
    assert (again.already, again.entry, again.laps_added, again.laps_known) == (True, None, 0, 60)
    assert again.events == [EVENT]
    assert archive.laps().height == 60
    assert archive.history().height == 1


def test_overlapping_file_adds_only_new_laps(archive: Archive) -> None:
    archive.add(make_reading(make_laps(range(1, 9))))
    added = archive.add(make_reading(make_laps(range(5, 13)), source_name="later.csv"))
    assert (added.laps_added, added.laps_known) == (4 * 6, 4 * 6)
    assert archive.laps().height == 12 * 6
    assert archive.sessions()["laps"].to_list() == [36, 36]


def test_undoing_the_first_of_two_overlapping_files_keeps_the_laps_of_the_second(archive: Archive) -> None:
    first = archive.add(make_reading(make_laps(range(1, 9)))).entry
    archive.add(make_reading(make_laps(range(5, 13))))
    assert first is not None
    undo = archive.undo(first)
    assert sorted(set(archive.laps()["lap"])) == list(range(5, 13))
    assert archive.laps().height == 8 * 6
    archive.undo(undo)
    assert archive.laps().height == 12 * 6


def test_undone_import_may_come_in_again_and_never_doubles(archive: Archive) -> None:
    first = archive.add(make_reading()).entry
    assert first is not None
    undo = archive.undo(first)
    assert archive.laps().is_empty()
    again = archive.add(make_reading())
    assert (again.already, again.laps_added) == (False, 60)
    archive.undo(undo)
    assert archive.laps().height == 60


def test_equal_laps_within_one_file_are_all_kept(archive: Archive) -> None:
    lap = make_laps(range(1, 2), ("07",), ("P1",))
    archive.add(make_reading(pl.concat([lap, lap])))
    added = archive.add(make_reading(pl.concat([lap, lap, lap])))
    assert (added.laps_added, added.laps_known) == (1, 2)
    assert archive.laps().height == 3


@pytest.mark.parametrize(
    ("event", "facts", "named"),
    [
        (None, {}, EVENT),
        (None, {"track": "Long Meadow"}, f"{EVENT} Long Meadow"),
        (None, {"event": "Spring practice", "track": "Long Meadow"}, "Spring practice"),
        ("Club day", {"event": "Spring practice"}, "Club day"),
    ],
)
def test_event_is_named_by_rule(
    archive: Archive, event: str | None, facts: dict[str, str], named: str
) -> None:
    assert archive.add(make_reading(facts=facts), event=event).events == [named]
    assert archive.events["event"].to_list() == [named]


def test_several_dates_make_several_events(archive: Archive) -> None:
    sunday = DAY + timedelta(days=1)
    added = archive.add(make_reading(pl.concat([make_laps(), make_laps(day=sunday)])))
    assert added.events == [EVENT, "2026-05-17"]
    assert archive.events["date"].to_list() == [DAY, sunday]
    assert archive.laps("2026-05-17").height == 60


def test_without_a_date_the_event_is_asked(archive: Archive) -> None:
    reading = make_reading(make_laps(day=None))
    with pytest.raises(OpenQuestions) as caught:
        archive.add(reading)
    assert [question.key for question in caught.value.questions] == ["event"]
    assert archive.history().is_empty()
    archive.add(reading, event="Winter test")
    assert archive.events.rows() == [("Winter test", *[None] * 7)]


def test_open_questions_keep_a_reading_out(archive: Archive) -> None:
    question = lapdelta.archive.EventQuestion("kart", "Which kart?")
    with pytest.raises(OpenQuestions) as caught:
        archive.add(make_reading(questions=(question,)))
    assert caught.value.questions == (question,)
    assert archive.history().is_empty()


def test_original_bytes_and_account_are_kept(archive: Archive) -> None:
    reading: MadeReading = make_reading(data=b"kart;lap\r\n07;60,1\r\n")
    archive.add(reading)
    assert archive.original(reading.sha256) == reading.data
    row = archive.readings.row(0, named=True)
    assert (row["sha256"], row["source_name"], row["recipe"]) == (
        reading.sha256,
        "saturday.csv",
        reading.recipe.to_toml(),
    )


def test_event_record_changes_only_what_is_given(archive: Archive) -> None:
    archive.add(make_reading())
    archive.put_event(EVENT, track="Long Meadow", our_kart="07")
    second = archive.put_event(EVENT, track="Long Meadow East", date="2026-05-17")
    archive.put_event("2026-06-01", notes="planned")
    row = archive.events.row(0, named=True)
    assert (row["track"], row["our_kart"], row["date"]) == ("Long Meadow East", "07", date(2026, 5, 17))
    assert archive.events["event"].to_list() == [EVENT, "2026-06-01"]
    archive.undo(second)
    row = archive.events.row(0, named=True)
    assert (row["track"], row["our_kart"], row["date"]) == ("Long Meadow", "07", DAY)
    archive.put_event(EVENT, our_kart=None)
    assert archive.events["our_kart"].to_list() == [None, None]
    assert archive.events.schema == EVENTS
    assert archive.laps("2026-06-01").is_empty()


def test_setup_sheet_changes_only_what_is_given(archive: Archive) -> None:
    key = {"event": EVENT, "session": "P1", "kart": "07"}
    pairs = [{"key": "jet", "value": "128"}, {"key": "seat", "value": "back"}]
    archive.put_setups(pl.DataFrame([{**key, "axle_teeth": 82, "fuel": "A", "other": pairs}]))
    changed = archive.put_setups(
        pl.DataFrame([{**key, "axle_teeth": 81, "fuel": None, "other": [{"key": "jet", "value": "130"}]}])
    )
    row = archive.setups.row(0, named=True)
    assert (row["axle_teeth"], row["fuel"]) == (81, "A")
    assert {pair["key"]: pair["value"] for pair in row["other"]} == {"jet": "130", "seat": "back"}
    archive.put_setups(pl.DataFrame([key]), clear=["fuel"])
    assert archive.setups["fuel"].to_list() == [None]
    archive.undo(changed)
    row = archive.setups.row(0, named=True)
    assert (row["axle_teeth"], row["fuel"]) == (82, None)
    assert archive.setups.schema == SETUPS


def test_setup_that_cannot_be_is_refused_whole(archive: Archive) -> None:
    rows = [{"event": EVENT, "session": f"P{n}", "kart": "07", "axle_teeth": n} for n in (80, 3)]
    with pytest.raises(SetupError, match=r"axle = 3 cannot be\. Give a whole number from 6 to 150"):
        archive.put_setups(pl.DataFrame(rows))
    assert archive.history().is_empty()


def test_laps_set_aside_by_hand_are_listed_and_put_back(archive: Archive) -> None:
    archive.add(make_reading())
    entry = archive.set_aside_laps(EVENT, "P1", "07", [2, 3], why="spun")
    assert archive.laps(EVENT).height == 58
    assert archive.laps(EVENT, with_set_aside=True).height == 60
    assert archive.set_aside.select("session", "kart", "lap", "entry", "why").rows() == [
        ("P1", "07", 2, entry, "spun"),
        ("P1", "07", 3, entry, "spun"),
    ]
    back = archive.put_back_laps(EVENT, "P1", "07", [3])
    assert archive.set_aside["lap"].to_list() == [2]
    archive.undo(back)
    assert archive.set_aside["lap"].to_list() == [2, 3]
    archive.undo(entry)
    assert archive.laps(EVENT).height == 60
    with pytest.raises(ArchiveError, match="There is no lap 99"):
        archive.set_aside_laps(EVENT, "P1", "07", [99])


def test_history_tells_what_when_and_why(archive: Archive) -> None:
    archive.add(make_reading(), why="first day")
    entry = archive.put_event(EVENT, notes="windy")
    archive.undo(entry[-4:], why="it was not")
    history = archive.history()
    assert history.columns == ["entry", "at", "what", "why", "rows", "undone"]
    assert history["what"].to_list() == [
        "brought in saturday.csv: 60 new laps",
        f"event {EVENT}: notes",
        f"took back: event {EVENT}: notes",
    ]
    assert history["why"].to_list() == ["first day", None, "it was not"]
    assert history["undone"].to_list() == [False, True, False]
    with pytest.raises(ArchiveError, match="taken back already"):
        archive.undo(entry)
    with pytest.raises(ArchiveError, match="There is no entry 'nothing'"):
        archive.undo("nothing")


def test_undo_of_undo_of_undo(archive: Archive) -> None:
    last = archive.put_event(EVENT, notes="windy")
    for shown in (False, True, False, True):
        last = archive.undo(last)
        assert archive.events.height == int(shown)


def test_unknown_event_names_those_there_are(archive: Archive) -> None:
    archive.add(make_reading())
    with pytest.raises(ArchiveError, match=f"Events it has: {EVENT}"):
        archive.laps("2026-05-61")


def test_tables_are_readable_without_us(archive: Archive) -> None:
    archive.add(make_reading())
    archive.add(make_reading(make_laps(range(8, 14))))
    ours = archive.sessions()["laps"].sum()
    assert pl.read_delta(archive.folder / "laps").height == ours
    parquet = f"{archive.folder}/laps/**/*.parquet"
    entries = f"{archive.folder}/entries/*.parquet"
    query = f"select count(*) from '{parquet}' where entry in (select entry from '{entries}')"
    assert duckdb.sql(query).fetchall() == [(ours,)]


def test_many_small_files_are_merged(archive: Archive) -> None:
    for number in range(40):
        archive.put_event(f"event {number:02}", notes=str(number))
    assert archive.events["notes"].to_list() == [str(number) for number in range(40)]
    assert pl.read_delta(archive.folder / "events").height == 40
    assert len(archive._store.place.tables["events"].files()) < 20
    assert archive.history().height == 40


def test_folder_is_the_owners_only(archive: Archive) -> None:
    archive.add(make_reading())
    assert stat.S_IMODE(archive.folder.stat().st_mode) == 0o700


def test_default_folder_is_the_platforms(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    # XDG Base Directory Specification: user data lies under $XDG_DATA_HOME.
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert default_folder() == tmp_path / "lapdelta" / "archive"
