"""Backup, restore, merge, export and check: an archive moves whole, and says when it is not."""

import json
import os
import stat
import zipfile
from pathlib import Path

import polars as pl
import pytest
from polars.testing import assert_frame_equal
from readings_kit import make_laps, make_reading

from lapdelta.archive import TABLES, Archive, export, restore
from lapdelta.archive.draws import reveal, seal
from lapdelta.archive.originals import pack
from lapdelta.archive.parts_table import put_lap_length, put_part
from lapdelta.cli.main import run
from lapdelta.errors import ArchiveError

EVENT = "2026-05-16"


def filled(folder: Path) -> Archive:
    archive = Archive(folder)
    archive.add(make_reading(make_laps(range(1, 9))), why="practice")
    archive.add(make_reading(make_laps(range(5, 13)), source_name="later.csv"))
    archive.put_event(EVENT, our_kart="07", notes="=HYPERLINK(1)")
    archive.put_setups(
        pl.DataFrame({"event": [EVENT], "session": ["P1"], "kart": ["07"], "axle_teeth": [82]})
    )
    archive.put_question(EVENT, changed="axle", words="grippy")
    archive.set_aside_laps(EVENT, "P1", "07", [3])
    return archive


def same(one: Archive, two: Archive) -> None:
    for table in ("events", "setups", "questions", "readings", "set_aside"):
        assert_frame_equal(getattr(one, table), getattr(two, table))
    assert_frame_equal(one.laps(), two.laps())
    assert_frame_equal(one.history(asked=True), two.history(asked=True))


def test_a_backup_restored_is_the_same_archive(tmp_path: Path) -> None:
    archive = filled(tmp_path / "kept")
    file = tmp_path / "kept.zip"
    archive.backup(file)
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    restore(file, tmp_path / "new")
    new = Archive(tmp_path / "new")
    same(archive, new)
    assert new.check() == ()
    assert stat.S_IMODE(new.folder.stat().st_mode) == 0o700
    new.put_event(EVENT, notes="goes on")
    with pytest.raises(ArchiveError, match="there already"):
        archive.backup(file)
    with pytest.raises(ArchiveError, match="cannot lie in the archive"):
        archive.backup(archive.folder / "x.zip")
    with pytest.raises(ArchiveError, match="in use"):
        restore(file, tmp_path / "new")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["kept", "kept.zip", "new"]


def damaged(file: Path, how: str) -> None:
    data = file.read_bytes()
    if how == "cut off":
        file.write_bytes(data[: len(data) // 2])
    elif how == "one bit":
        with zipfile.ZipFile(file) as backup:
            info = next(item for item in backup.infolist() if item.filename.endswith(".parquet"))
        place = info.header_offset + 400
        file.write_bytes(data[:place] + bytes([data[place] ^ 1]) + data[place + 1 :])
    elif how == "another zip":
        with zipfile.ZipFile(file, "w") as other:
            other.writestr("letter.txt", "dear")
    else:
        with zipfile.ZipFile(file, "w") as other:
            name = "../escaped.txt"
            other.writestr(name, "x")
            other.writestr("sha256.json", json.dumps({name: "0", "lapdelta-archive.json": "0"}))


@pytest.mark.parametrize("how", ["cut off", "one bit", "another zip", "out of the folder"])
def test_a_bad_backup_is_refused_and_leaves_nothing(tmp_path: Path, how: str) -> None:
    file = tmp_path / "kept.zip"
    filled(tmp_path / "kept").backup(file)
    damaged(file, how)
    with pytest.raises(ArchiveError, match=r"not a whole backup|damaged"):
        restore(file, tmp_path / "in" / "new")
    assert list((tmp_path / "in").iterdir()) == []
    assert not (tmp_path / "escaped.txt").exists()


def test_two_laptops_become_one_archive(tmp_path: Path) -> None:
    home = filled(tmp_path / "home")
    home.backup(tmp_path / "copy.zip")
    restore(tmp_path / "copy.zip", tmp_path / "track")
    track = Archive(tmp_path / "track")
    at_track = track.add(make_reading(make_laps(range(11, 21)), source_name="track.csv"))
    track.put_event(EVENT, notes="written at the track")
    taken_back = track.history()["entry"][0]
    track.undo(taken_back)
    merged = home.merge(track.folder)
    assert (len(merged.entries), merged.originals, merged.same_files) == (3, 1, ())
    assert merged.laps == at_track.laps_added == 8 * 6
    same(home, track)
    assert home.check() == ()
    assert home.merge(track.folder).entries == ()
    assert home.history().row(0, named=True)["undone"]
    assert home.original(home.readings["sha256"][-1]) == track.original(track.readings["sha256"][-1])


def test_the_same_file_brought_in_on_both_counts_once(tmp_path: Path) -> None:
    home, track = Archive(tmp_path / "home"), Archive(tmp_path / "track")
    home.add(make_reading())
    track.put_event(EVENT, track="Oakhollow")
    entry = track.add(make_reading(), event="another name").entry
    track.add(make_reading(make_laps(range(5, 15)), source_name="more.csv"))
    assert entry is not None
    track.undo(entry)
    merged = home.merge(track.folder)
    assert merged.same_files == ("saturday.csv",)
    assert home.laps().height == 14 * 6
    assert home.events["event"].to_list() == [EVENT]
    assert home.check() == ()
    assert home.merge(track.folder).entries == ()


def test_a_merge_cut_short_or_from_a_damaged_archive_brings_nothing(tmp_path: Path) -> None:
    home, track = filled(tmp_path / "home"), filled(tmp_path / "track")
    track.add(make_reading(make_laps(range(30, 40)), source_name="track.csv"))
    original = track._store.place.original(track.readings["sha256"][-1])
    original.write_bytes(pack([b"other bytes"])[0])
    before = home.history(asked=True)
    with pytest.raises(ArchiveError, match="are damaged"):
        home.merge(track.folder)
    for wrong in (home.folder, tmp_path / "nowhere"):
        with pytest.raises(ArchiveError):
            home.merge(wrong)
    assert not (tmp_path / "nowhere").exists()
    assert_frame_equal(Archive(home.folder).history(asked=True), before)
    assert home.check() == ()


def test_exports_hold_the_tables_and_are_safe_to_open(tmp_path: Path) -> None:
    archive = filled(tmp_path / "kept")
    export(archive, "laps", tmp_path / "laps.parquet")
    assert_frame_equal(pl.read_parquet(tmp_path / "laps.parquet"), archive.laps())
    export(archive, "laps", tmp_path / "laps.csv", names=False, event=EVENT)
    laps = pl.read_csv(tmp_path / "laps.csv", schema_overrides={"kart": pl.String()})
    assert laps.height == archive.laps().height
    assert "driver" not in laps.columns
    assert "Ada" not in (tmp_path / "laps.csv").read_text()
    assert laps.columns[5:9] == ["sector_1_s", "sector_2_s", "sector_3_s", "top_speed_kmh"]
    assert laps["lap_time_s"].to_list() == archive.laps()["lap_time_s"].to_list()
    put_part(archive.folder, "axle red", new=True, kind="axle sprocket", size=82, pitch_mm=7.774)
    put_lap_length(archive.folder, "event", EVENT, 900.0)
    seal(
        archive.folder,
        order="ABBA",
        orders=["ABBA", "BAAB"],
        seed=1,
        measure="lap_time",
        margin=0.1,
        event=EVENT,
    )
    reveal(archive.folder, "last")
    for table in TABLES:
        if table != "laps":
            export(archive, table, tmp_path / f"{table}.csv")
    assert "axle red" in (tmp_path / "parts.csv").read_text()
    assert ",900.0" in (tmp_path / "lap-lengths.csv").read_text()
    draw = pl.read_csv(tmp_path / "draws.csv").row(0, named=True)
    assert (draw["sessions"], draw["told"]) == (4, "A")
    assert "ABBA" not in (tmp_path / "draws.csv").read_text()
    assert "'=HYPERLINK" in (tmp_path / "events.csv").read_text()
    with pytest.raises(ArchiveError, match="there already"):
        export(archive, "events", tmp_path / "events.csv")
    for table, name in (("wheels", "x.csv"), ("laps", "x.txt")):
        with pytest.raises(ArchiveError):
            export(archive, table, tmp_path / name)
    with pytest.raises(ArchiveError, match="not by event"):
        export(archive, "history", tmp_path / "x.csv", event=EVENT)


def one(folder: Path, pattern: str) -> Path:
    return sorted(folder.glob(pattern))[0]


def lost_row(folder: Path) -> None:
    """A file of the right size in the log, with a row less: as if somebody had written over it."""
    path = one(folder, "laps/**/*.parquet")
    pl.read_parquet(path, hive_partitioning=False).head(-1).write_parquet(path, compression="zstd")
    log = one(folder, "laps/_delta_log/*1.json")
    lines = [json.loads(line) for line in log.read_text().splitlines()]
    for line in lines:
        if "add" in line:
            line["add"]["size"] = path.stat().st_size
    log.write_text("\n".join(json.dumps(line) for line in lines))


DAMAGE = {
    "missing": (lambda folder: one(folder, "laps/**/*.parquet").unlink(), "is missing"),
    "cut off": (lambda folder: os.truncate(one(folder, "setups/*.parquet"), 100), "has 100 bytes where"),
    "zeros": (
        lambda folder: (path := one(folder, "readings/*.parquet")).write_bytes(bytes(path.stat().st_size)),
        "damaged, missing",
    ),
    "log": (lambda folder: os.truncate(one(folder, "laps/_delta_log/*1.json"), 40), "damaged, missing"),
    "original": (
        lambda folder: one(folder, "originals/*").write_bytes(pack([b"x"])[0]),
        "not those that came",
    ),
    "original cut off": (lambda folder: os.truncate(one(folder, "originals/*"), 30), "not those that came"),
    "original missing": (lambda folder: one(folder, "originals/*").unlink(), "are missing"),
    "stranger": (lambda folder: (folder / "originals" / "letter.txt").write_text("dear"), "No reading knows"),
    "lost row": (lost_row, "rows where"),
}


@pytest.mark.parametrize("what", DAMAGE)
def test_check_says_what_is_wrong(tmp_path: Path, what: str, capsys: pytest.CaptureFixture[str]) -> None:
    folder = filled(tmp_path / "kept").folder
    place = ["--archive", str(folder), "--json"]
    assert run(["check", *place]) == 0
    assert json.loads(capsys.readouterr().out)["clean"] is True
    damage, said = DAMAGE[what]
    damage(folder)
    assert run(["check", *place]) == 1
    found = json.loads(capsys.readouterr().out)
    assert found["clean"] is False
    assert any(said in problem["what"] for problem in found["problems"]), found["problems"]


def test_the_commands(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    kept, new = filled(tmp_path / "kept").folder, tmp_path / "new"
    file = tmp_path / "kept.zip"
    assert run(["backup", str(file), "--archive", str(kept)]) == 0
    assert run(["restore", str(file)]) == 2
    assert run(["restore", str(file), "--archive", str(new), "--json"]) == 0
    assert json.loads(capsys.readouterr().out.splitlines()[-1])["laps"] == 72
    assert run(["merge", str(kept), "--archive", str(new), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["entries"] == []
    out = tmp_path / "laps.csv"
    assert run(["export", "laps", "--to", str(out), "--without-names", "--archive", str(new), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["rows"] == 71
    assert run(["check", "--archive", str(new)]) == 0
    assert capsys.readouterr().out == "All is well: 72 laps, 6 changes in the history.\n"
