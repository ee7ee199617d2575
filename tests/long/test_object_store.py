"""An archive in an object store, read and changed; a mock server of S3 on this machine stands for one."""

import json
import os
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import duckdb
import object_store
import polars as pl
import pytest
from deltalake import DeltaTable
from object_store import REFUSED, TROUBLE, Server, at_write, cut_at, upload
from polars.testing import assert_frame_equal
from readings_kit import make_laps, make_reading
from sample_archive import DAYS, make_archive

import lapdelta
from lapdelta.archive import Archive, ArchiveBusy, objects, restore
from lapdelta.archive.draws import reveal, seal, sealed_draws
from lapdelta.archive.latest import event_change
from lapdelta.archive.parts_table import parts_table, put_part
from lapdelta.asking.sweep import sweep
from lapdelta.cli.main import run
from lapdelta.errors import ArchiveError
from sample_sessions import FOLDER

pytestmark = [
    # The mock server and the client that fills it warn about what is theirs.
    pytest.mark.filterwarnings("ignore::DeprecationWarning"),
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
]

EVENT = "2026-05-16"
ADDRESS = "s3://club/kept"

#: Laps of a range in a made-up reading, a lap number: three karts in two sessions.
A_LAP = 6


@pytest.fixture(name="server", scope="module")
def _server() -> Iterator[Server]:
    with pytest.MonkeyPatch.context() as patch, object_store.running(patch) as server:
        yield server


@pytest.fixture(autouse=True)
def _emptied(server: Server) -> Iterator[None]:
    yield
    server.quiet()
    plain = object_store.client(server)
    for page in plain.get_paginator("list_objects_v2").paginate(Bucket="club"):
        for found in page.get("Contents", []):
            plain.delete_object(Bucket="club", Key=found["Key"])


def reading(first: int, last: int, name: str = "saturday.csv"):
    return make_reading(make_laps(range(first, last + 1)), source_name=name)


def started(address: str = ADDRESS) -> Archive:
    archive = Archive(address, new=True)
    archive.add(reading(1, 4))
    return archive


def rows_of(address: str, table: str) -> pl.DataFrame:
    """All rows of a table, as anybody's reader of Delta tables sees them."""
    options = {key.lower(): value for key, value in os.environ.items() if key.startswith("AWS_")}
    return pl.read_delta(f"{address}/{table}", storage_options=options)


def whole(address: str, laps: int) -> None:
    """Each lap is there once, to us and to others, and nothing is wrong or left over."""
    there = Archive(address)
    assert there.check() == ()
    assert there.laps(with_set_aside=True).height == laps
    known = rows_of(address, "entries")["entry"]
    assert known.is_unique().all()
    rows = rows_of(address, "laps")
    assert rows.height == laps
    assert rows["entry"].is_in(known.implode()).all()


def test_a_copy_is_read_without_the_client_and_changed_with_it(
    tmp_path: Path, server: Server, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    kept = make_archive(tmp_path / "kept")
    upload(server, kept.folder, "kept")
    with monkeypatch.context() as patch:
        patch.setattr(objects, "_CLIENT", "no_such_library")
        there = Archive("s3://club/kept/")
        assert there.location == ADDRESS
        assert_frame_equal(there.laps(DAYS[0]), kept.laps(DAYS[0]))
        assert_frame_equal(there.sessions(), kept.sessions())
        assert_frame_equal(there.setups, kept.setups)
        assert_frame_equal(there.history(), kept.history())
        assert_frame_equal(sweep(there, events=[DAYS[0]]), sweep(kept, events=[DAYS[0]]))
        assert not there.writable
        for refused in (lambda: there.put_event(DAYS[0], notes="x"), lambda: there.put_units("psi")):
            with pytest.raises(ArchiveError, match="client library") as told:
                refused()
            assert "lapdelta[remote]" in told.value.mend
    with pytest.raises(ArchiveError, match="no archive here"):
        Archive("s3://club/nothing")
    assert run(["sessions", "--archive", ADDRESS]) == 0
    assert DAYS[0] in capsys.readouterr().out
    there.put_event(DAYS[0], notes="x")
    assert Archive(ADDRESS).history().height == kept.history().height + 1
    assert there.check() == ()
    assert not Path("s3:").exists()


def lived_in(archive: Archive) -> Archive:
    """All kinds of changes, one after another."""
    archive.add(reading(1, 8), why="practice")
    assert archive.add(reading(1, 8)).already
    added = archive.add(reading(5, 12, "later.csv"))
    assert (added.laps_added, added.laps_known) == (4 * A_LAP, 4 * A_LAP)
    archive.put_event(EVENT, our_kart="07", notes="dry")
    sheet = {"event": [EVENT], "session": ["P1"], "kart": ["07"], "axle_teeth": [82]}
    archive.put_setups(pl.DataFrame(sheet))
    wrong = archive.put_setups(pl.DataFrame({**sheet, "axle_teeth": [28]}))
    back = archive.undo(wrong)
    archive.undo(archive.undo(back))
    archive.put_question(EVENT, changed="axle", words="grippy")
    archive.note_asked(EVENT, "07", "lap_time", ["P1"], ["P2"])
    archive.set_aside_laps(EVENT, "P1", "07", [3])
    archive.put_units("psi")
    put_part(archive.folder, "the 82", new=True, kind="axle sprocket", size=82)
    seal(archive.folder, order="ABBA", orders=("ABBA", "BAAB"), seed=1, measure="lap_time", margin=0.1)
    reveal(archive.folder, "last")
    return archive


def same(one: Archive, two: Archive, *, ids: bool = True) -> None:
    """The same content; without ``ids`` apart from the ids and times of entries."""
    for table in ("events", "setups", "set_aside"):
        frames = [getattr(archive, table) for archive in (one, two)]
        assert_frame_equal(*(frame if ids else frame.drop("entry", strict=False) for frame in frames))
    assert_frame_equal(one.laps(), two.laps())
    histories = [archive.history(asked=True) for archive in (one, two)]
    if not ids:
        named = pl.col("what").str.replace(r"\d{8}T\d+-\w+", "ID")
        histories = [history.drop("entry", "at").with_columns(named) for history in histories]
    assert_frame_equal(*histories)
    assert_frame_equal(*(archive.asked().drop("at", "entry") for archive in (one, two)))


@pytest.mark.usefixtures("server")
def test_all_changes_are_as_on_this_machine(tmp_path: Path) -> None:
    there, here = lived_in(Archive(ADDRESS, new=True)), lived_in(Archive(tmp_path / "here"))
    again = Archive(ADDRESS)
    same(again, here, ids=False)
    assert again.units == here.units
    assert again.writable
    assert again.setups["axle_teeth"].to_list() == [82]
    assert parts_table(again.folder)["part"].to_list() == ["the 82"]
    assert [draw.told for draw in sealed_draws(again.folder)] == ["A"]
    kept = again.readings.row(0, named=True)
    assert again.original(kept["sha256"]) == reading(1, 8).data
    whole(ADDRESS, 12 * A_LAP)
    there.backup(tmp_path / "kept.zip")
    restore(tmp_path / "kept.zip", tmp_path / "restored")
    restored = Archive(tmp_path / "restored")
    same(restored, there)
    assert restored.units == there.units
    assert restored.check() == ()
    with pytest.raises(ArchiveError, match="folder on this machine"):
        restore(tmp_path / "kept.zip", Path(ADDRESS))
    assert not Path("s3:").exists()


@pytest.mark.usefixtures("server")
def test_others_read_the_same_laps() -> None:
    started().add(reading(3, 9, "later.csv"))
    options = {key.lower(): value for key, value in os.environ.items() if key.startswith("AWS_")}
    ours = Archive(ADDRESS).sessions()["laps"].sum()
    assert ours == 9 * A_LAP
    laps, entries = rows_of(ADDRESS, "laps"), rows_of(ADDRESS, "entries")  # polars
    assert laps.filter(pl.col("entry").is_in(entries["entry"].implode())).height == ours
    assert duckdb.sql("select count(*) from laps semi join entries using (entry)").fetchall() == [(ours,)]
    added = pl.DataFrame(DeltaTable(f"{ADDRESS}/laps", storage_options=options).get_add_actions(flatten=True))
    assert added["num_records"].sum() == ours  # deltalake, from its log


def write_late(archive: Archive, notes: str, meanwhile: Callable[[], object]) -> None:
    """A change, not tried again; something else happens when its rows lie there and its entry is to come."""
    with archive._store.changing() as change:
        change.append("events", event_change(EVENT, {"notes": notes}))
        meanwhile()
        change.commit("event", notes, None, 1)


def test_of_two_changes_begun_on_one_state_one_is_kept(server: Server) -> None:
    one, two = started(), Archive(ADDRESS)
    with pytest.raises(ArchiveBusy, match="Somebody else changed"):
        write_late(one, "mine", lambda: two.put_event(EVENT, our_kart="07"))
    assert rows_of(ADDRESS, "events")["notes"].to_list() == [None]  # mine are taken out again
    assert Archive(ADDRESS).history().height == 2

    def commit_first(name: str) -> None:
        """Between our look at the log and our commit: then it is the server that refuses ours."""
        if "/entries/_delta_log/" in name:
            server.quiet()
            two.put_event(EVENT, our_kart="12")

    server.before = commit_first
    with pytest.raises(ArchiveBusy, match="Somebody else changed"):
        write_late(one, "mine", lambda: None)
    assert rows_of(ADDRESS, "events")["notes"].to_list() == [None, None]
    assert Archive(ADDRESS).events["our_kart"].to_list() == ["12"]
    whole(ADDRESS, 4 * A_LAP)


@pytest.mark.parametrize("same_file", [True, False])
def test_another_writer_at_any_moment_of_an_import(server: Server, same_file: bool) -> None:
    """Before each of the writes of an import somebody else brings in a file that overlaps it."""
    writes = _writes_of_an_import(server)
    assert writes > 6
    theirs = reading(3, 8) if same_file else reading(5, 10, "theirs.csv")
    for number in range(writes):
        address = f"s3://club/at-{number}"
        one, two = started(address), Archive(address)
        told = []
        server.before = at_write(number, lambda two=two, told=told: told.append(two.add(theirs)))
        mine = one.add(reading(3, 8))
        server.quiet()
        assert len(told) == 1
        assert (mine.already, told[0].already) == (same_file, False)
        whole(address, (8 if same_file else 10) * A_LAP)
        assert Archive(address).readings.height == (2 if same_file else 3)


def _writes_of_an_import(server: Server) -> int:
    archive = started("s3://club/counted")
    server.quiet()
    archive.add(reading(3, 8))
    return len(server.written)


def test_a_writer_cut_off_at_any_moment_leaves_nothing_that_counts(server: Server) -> None:
    """From each write of an import on the store takes nothing more of it, as if its program were gone."""
    for number in range(_writes_of_an_import(server)):
        address = f"s3://club/cut-{number}"
        archive = started(address)
        server.before = cut_at(number)
        with pytest.raises(ArchiveError, match=r"object store|kept"):
            archive.add(reading(3, 8))
        server.quiet()
        there = Archive(address)
        assert there.check() == ()
        assert there.laps().height == 4 * A_LAP
        assert there.history().height == 1
        assert there.add(reading(3, 8)).laps_added == 4 * A_LAP
        assert there.check() == ()
        assert there.laps().height == 8 * A_LAP


KILLED = """
import os, sys
from lapdelta.archive import Archive
from lapdelta.archive.store import Change
sys.path.insert(0, sys.argv[1])
from readings_kit import make_laps, make_reading
archive = Archive(sys.argv[2])
Change.commit = lambda *given: os._exit(9)
archive.add(make_reading(make_laps(range(3, 9))))
"""


@pytest.mark.usefixtures("server")
def test_a_killed_program_leaves_nothing_that_counts(tmp_path: Path) -> None:
    started()
    tests = str(Path(object_store.__file__).parent)
    killed = subprocess.run([sys.executable, "-c", KILLED, tests, ADDRESS], check=False)
    assert killed.returncode == 9
    assert rows_of(ADDRESS, "laps").height == 8 * A_LAP  # they lie there ...
    there = Archive(ADDRESS)
    assert there.laps().height == 4 * A_LAP  # ... and do not count
    assert there.check() == ()
    there.backup(tmp_path / "kept.zip")
    restore(tmp_path / "kept.zip", tmp_path / "restored")
    assert Archive(tmp_path / "restored").check() == ()
    assert there.add(reading(3, 8)).laps_added == 4 * A_LAP
    assert Archive(ADDRESS).laps().height == 8 * A_LAP


def test_a_commit_whose_answer_was_lost_is_found(server: Server) -> None:
    archive = started()
    server.after = lambda name: (
        (server.quiet() or TROUBLE) if "/entries/_delta_log/" in name and name.endswith(".json") else None
    )
    archive.add(reading(3, 8))
    whole(ADDRESS, 8 * A_LAP)
    assert Archive(ADDRESS).history().height == 2
    # Not written, and nobody else's change either: it cannot be told, so nothing is taken out.
    server.before = lambda name: REFUSED if "/entries/_delta_log/" in name else None
    with pytest.raises(ArchiveError, match="did not say whether"):
        archive.put_event(EVENT, notes="x")
    server.quiet()
    assert Archive(ADDRESS).history().height == 2
    assert rows_of(ADDRESS, "events").height == 1


def test_a_store_that_overwrites_is_not_written_to(server: Server) -> None:
    started()
    server.heeds = False
    there = Archive(ADDRESS)
    assert not there.writable
    with pytest.raises(ArchiveError, match="writes over what is there"):
        there.add(reading(3, 8))
    server.quiet()
    whole(ADDRESS, 4 * A_LAP)


@pytest.mark.usefixtures("server")
def test_many_writers_at_once() -> None:
    started()
    failed: list[Exception] = []

    def write(number: int) -> None:
        try:
            archive = Archive(ADDRESS)
            archive.add(reading(number, number + 5, f"{number}.csv"))
            archive.put_event(f"day {number}", notes="x")
        except Exception as error:  # noqa: BLE001 - told below, by the test
            failed.append(error)

    writers = [threading.Thread(target=write, args=(number,)) for number in (2, 4, 6)]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    assert not failed
    whole(ADDRESS, 11 * A_LAP)
    assert Archive(ADDRESS).history().height == 7


def test_archives_are_merged_there_and_back(tmp_path: Path, server: Server) -> None:
    here = lived_in(Archive(tmp_path / "here"))
    there = Archive(ADDRESS, new=True)
    there.merge(here.folder)
    same(there, here)
    assert there.merge(here.folder).entries == ()
    with pytest.raises(ArchiveError, match="with itself"):
        there.merge(ADDRESS + "/")
    other = Archive(tmp_path / "other")
    other.merge(ADDRESS)
    same(there, other)
    assert other.check() == ()


def small(folder: Path) -> Archive:
    archive = Archive(folder)
    archive.add(reading(1, 4))
    archive.undo(archive.add(reading(3, 6, "later.csv")).entry or "")
    archive.put_setups(
        pl.DataFrame({"event": [EVENT], "session": ["P1"], "kart": ["07"], "axle_teeth": [82]})
    )
    return archive


def test_another_merges_the_same_archive_meanwhile(tmp_path: Path, server: Server) -> None:
    """Before a write of a merge somebody else brings the same entries, and enough more to have files joined."""
    here = small(tmp_path / "here")
    counted = {"laps": 6 * A_LAP, "laps_known": 2 * A_LAP, "setups": 1, "entries": 4}
    for number in range(0, _writes_of_a_merge(server, here), 2):
        address = f"s3://club/merge-{number}"
        one, two = Archive(address, new=True), Archive(address)
        more = 17 if number < 4 else 0

        def theirs(two: Archive = two, more: int = more) -> None:
            two.merge(here.folder)
            for teeth in range(more):
                two.put_setups(here.setups.with_columns(axle_teeth=pl.lit(60 + teeth)))

        server.before = at_write(number, theirs)
        one.merge(here.folder)
        server.quiet()
        expected = {**counted, "setups": 1 + more, "entries": 4 + more}
        assert {name: rows_of(address, name).height for name in counted} == expected
        assert Archive(address).check() == ()


def test_a_merge_cut_off_is_made_good_by_the_next(tmp_path: Path, server: Server) -> None:
    here = small(tmp_path / "here")
    counted = {"laps": 6 * A_LAP, "laps_known": 2 * A_LAP, "setups": 1, "entries": 4}
    for number in range(0, _writes_of_a_merge(server, here), 2):
        address = f"s3://club/merge-cut-{number}"
        archive = Archive(address, new=True)
        server.before = cut_at(number)
        with pytest.raises(ArchiveError, match=r"object store|kept"):
            archive.merge(here.folder)
        server.quiet()
        assert Archive(address).history().is_empty()
        Archive(address).merge(here.folder)
        assert {name: rows_of(address, name).height for name in counted} == counted
        assert Archive(address).check() == ()


def _writes_of_a_merge(server: Server, here: Archive) -> int:
    archive = Archive("s3://club/counted", new=True)
    server.quiet()
    archive.merge(here.folder)
    return len(server.written)


@pytest.mark.usefixtures("server")
def test_small_files_become_larger_ones() -> None:
    one, two = started(), Archive(ADDRESS)
    with pytest.raises(ArchiveBusy):
        write_late(two, "late", lambda: [one.put_event(EVENT, notes=str(number)) for number in range(40)])
    there = Archive(ADDRESS)
    assert there.history().height == 41
    assert there.events["notes"].to_list() == ["39"]
    assert there.check() == ()
    files = there._store.place.tables
    assert files["entries"].files().height < 20
    assert files["events"].files().height < 20
    assert rows_of(ADDRESS, "events").height == 40


@pytest.mark.usefixtures("server")
def test_the_command_line_works_there(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = str(FOLDER / DAYS[0] / "practice.csv")
    command = ["import", file, "--event", DAYS[0], "--archive", ADDRESS]
    assert run(command) == 1
    assert "no archive here" in capsys.readouterr().err
    assert run([*command, "--new", "--json"]) in (0, 3)
    told = json.loads(capsys.readouterr().out)
    assert told["archive"] == ADDRESS
    laps = told["kept"][0]["laps_added"]
    assert laps == Archive(tmp_path / "here").add(lapdelta.read_timing(file), event=DAYS[0]).laps_added
    assert run([*command, "--json"]) in (0, 3)
    assert json.loads(capsys.readouterr().out)["kept"][0]["already"]
    entry = told["kept"][0]["entry"]
    for words in (
        ["setup", DAYS[0], "P1", "axle=82", "--kart", "07"],
        ["check"],
        ["undo", entry],
        ["history"],
    ):
        assert run([*words, "--archive", ADDRESS]) == 0, words
    assert "took back" in capsys.readouterr().out
    assert Archive(ADDRESS).laps().is_empty()
    assert run(["demo", "--no-dashboard", "--archive", ADDRESS]) == 2
    assert run(["merge", ADDRESS, "--archive", str(tmp_path / "home")]) == 0
    assert Archive(tmp_path / "home").history().height == Archive(ADDRESS).history().height
    assert not Path("s3:").exists()
