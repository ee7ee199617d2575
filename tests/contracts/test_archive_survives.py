"""Whatever happens to a change, the archive holds exactly what was acknowledged."""

import os
import subprocess
import sys
import tempfile
from contextlib import suppress
from pathlib import Path

import polars as pl
import pytest
from power_cuts import Cut, cut_after, strays
from readings_kit import make_laps, make_reading

from lapdelta.archive import Archive, delta, durable, lock
from lapdelta.archive.latest import event_change
from lapdelta.errors import ArchiveError

EVENT = "2026-05-16"


def test_import_cut_short_at_every_step_is_there_whole_or_not_at_all(tmp_path: Path) -> None:
    reading = make_reading(make_laps(range(5, 13)), source_name="second.csv")
    archive = Archive(tmp_path / "kept")
    archive.add(make_reading(make_laps(range(1, 9))))
    cuts = 0
    for steps in range(60):
        with suppress(Cut), cut_after(steps):
            archive.add(reading)
        archive = Archive(archive.folder)
        entries = archive.history().height
        assert archive.laps().height == {1: 48, 2: 72}[entries]
        assert archive.readings.height == entries
        assert strays(archive.folder) == []
        assert len(list(archive.folder.glob("originals/*"))) == entries
        if entries == 2:
            break
        cuts += 1
    assert cuts > 10
    assert archive.add(reading).already


def test_merging_small_files_cut_short_loses_nothing(tmp_path: Path) -> None:
    archive = Archive(tmp_path / "kept")
    for number in range(16):
        archive.put_event(f"event {number:02}", notes="x")
    for steps in range(12):
        with suppress(Cut), cut_after(steps):
            archive.put_event(f"more {steps}", notes="x")
        archive = Archive(archive.folder)
        assert archive.events.height == archive.history().height
        assert strays(archive.folder) == []
    assert archive.events.height > 16
    assert archive.events["event"].str.starts_with("event ").sum() == 16


_CHANGES = """
import sys, time
import polars as pl
sys.path.insert(0, {tests!r})
from readings_kit import make_laps, make_reading
from lapdelta.archive import Archive
archive = Archive({folder!r})
print("ready", flush=True)
for number in range({first}, {last}):
    archive.add(make_reading(make_laps(range(number * 3, number * 3 + 3), ("07",), ("P1",))))
    archive.put_event("{name} " + str(number), notes=str(number))
    print(number, flush=True)
"""


def start(folder: Path, name: str, first: int, last: int) -> subprocess.Popen[str]:
    tests = str(Path(__file__).parent.parent)
    code = _CHANGES.format(tests=tests, folder=str(folder), first=first, last=last, name=name)
    root = str(Path(__file__).parent.parent.parent)
    path = os.pathsep.join([root, os.environ.get("PYTHONPATH", "")])
    return subprocess.Popen(
        [sys.executable, "-c", code],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": path},
    )


def test_two_programs_writing_at_once_both_succeed(tmp_path: Path) -> None:
    folder = tmp_path / "kept"
    programs = [start(folder, "one", 0, 12), start(folder, "two", 6, 18)]
    for program in programs:
        program.communicate(timeout=60)
        assert program.returncode == 0
    archive = Archive(folder)
    assert sorted(archive.laps()["lap"]) == list(range(54))
    assert archive.events.filter(pl.col("event").str.contains(" ")).height == 24
    assert strays(folder) == []


@pytest.mark.parametrize("lines", [1, 4])
def test_a_killed_program_leaves_what_it_acknowledged(tmp_path: Path, lines: int) -> None:
    folder = tmp_path / "kept"
    program = start(folder, "one", 0, 200)
    assert program.stdout is not None
    said = [program.stdout.readline() for _ in range(lines + 1)]
    program.kill()
    said += program.stdout.readlines()
    program.wait()
    program.stdout.close()
    done = len([line for line in said if line.strip().isdigit()])
    archive = Archive(folder)
    named = archive.events.filter(pl.col("event").str.starts_with("one")).height
    assert done <= named <= done + 1
    assert archive.laps().height in (3 * named, 3 * (named + 1))
    assert strays(folder) == []


def test_a_reader_sees_what_another_has_written_since(tmp_path: Path) -> None:
    one, two = Archive(tmp_path / "kept"), Archive(tmp_path / "kept")
    assert two.laps().is_empty()
    one.add(make_reading())
    assert two.laps(EVENT).height == 60
    two.put_event(EVENT, notes="seen")
    assert one.events["notes"].to_list() == ["seen"]


def test_a_change_waits_for_the_lock_and_says_why_it_gave_up(tmp_path: Path) -> None:
    archive = Archive(tmp_path / "kept")
    path = archive.folder / "lock"
    said = pytest.raises(ArchiveError, match="Another program has been writing")
    with lock.locked(path), said, lock.locked(path, patience_s=0.05):
        raise AssertionError("two at once")
    archive.put_event(EVENT, notes="free again")


def test_a_full_disk_leaves_the_archive_as_it_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    archive = Archive(tmp_path / "kept")
    archive.add(make_reading(make_laps(range(1, 9))))
    count = [0]
    real = durable.sync

    def full_once(path: Path) -> None:
        count[0] += 1
        if count[0] == 8:
            raise OSError(28, "No space left on device", str(path))
        real(path)

    with monkeypatch.context() as patch:
        patch.setattr(delta, "sync", full_once)
        with pytest.raises(ArchiveError, match="The disk is full"):
            archive.add(make_reading(make_laps(range(5, 13))))
    assert archive.laps().height == 48
    assert strays(archive.folder) == []
    assert archive.add(make_reading(make_laps(range(5, 13)))).laps_added == 24


def test_a_truncated_table_file_is_said_and_named(tmp_path: Path) -> None:
    archive = Archive(tmp_path / "kept")
    archive.add(make_reading())
    file = next(archive.folder.glob("laps/**/*.parquet"))
    file.write_bytes(file.read_bytes()[:200])
    with pytest.raises(ArchiveError, match="damaged, missing or cannot be used") as caught:
        Archive(archive.folder).laps()
    assert str(archive.folder / "laps") in str(caught.value.where)


def test_a_truncated_log_is_said(tmp_path: Path) -> None:
    archive = Archive(tmp_path / "kept")
    archive.add(make_reading())
    log = max(archive.folder.glob("laps/_delta_log/*.json"))
    log.write_bytes(log.read_bytes()[:40])
    with pytest.raises(ArchiveError, match="damaged, missing or cannot be used"):
        Archive(archive.folder).laps()


def test_a_folder_with_other_things_is_refused(tmp_path: Path) -> None:
    (tmp_path / "letter.txt").write_text("dear")
    with pytest.raises(ArchiveError, match="holds other things"):
        Archive(tmp_path)
    with pytest.raises(ArchiveError, match="a file, not a folder"):
        Archive(tmp_path / "letter.txt")
    assert [path.name for path in tmp_path.iterdir()] == ["letter.txt"]


def test_an_archive_of_a_newer_design_is_refused(tmp_path: Path) -> None:
    folder = Archive(tmp_path / "kept").folder
    (folder / "lapdelta-archive.json").write_text('{"format": 99}')
    with pytest.raises(ArchiveError, match="newer lapdelta"):
        Archive(folder)
    (folder / "lapdelta-archive.json").write_text("{")
    with pytest.raises(ArchiveError, match="is damaged"):
        Archive(folder)


_READ_ONLY = """
import os
from lapdelta.archive import Archive
from lapdelta.errors import ArchiveError
Archive({folder!r}).laps()  # loads all modules, which another user may not be able to
if os.getuid() == 0:  # root may write anywhere
    os.setgid(65534)
    os.setuid(65534)
archive = Archive({folder!r})
print(archive.laps().height)
for change in (lambda: archive.put_event("x", notes="y"), lambda: Archive({folder!r} + "/new")):
    try:
        change()
    except ArchiveError as error:
        print(error.what)
"""


def test_a_folder_that_cannot_be_written_can_be_read_and_says_so() -> None:
    root = str(Path(__file__).parent.parent.parent)
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "kept"
        Archive(folder).add(make_reading())
        everything = [Path(place), folder, *folder.rglob("*")]
        for path in everything:
            path.chmod(0o555 if path.is_dir() else 0o444)
        done = subprocess.run(
            [sys.executable, "-c", _READ_ONLY.format(folder=str(folder))],
            capture_output=True,
            text=True,
            check=False,
            cwd=root,
        )
        for path in everything:
            path.chmod(0o755 if path.is_dir() else 0o644)
    refused = "The archive cannot be read or written here."
    assert done.stdout.splitlines() == ["60", refused, refused], done.stderr


def test_opening_does_not_wait_for_somebody_who_is_writing(tmp_path: Path) -> None:
    archive = Archive(tmp_path / "kept")
    archive.add(make_reading())
    with archive._store.changing() as change:
        change.append("events", event_change("half written", {"notes": "x"}))
        assert Archive(archive.folder).events["event"].to_list() == [EVENT]
