"""``lapdelta check`` on an archive of which a part was put back from an older copy: each table whole, together not."""

import json
import shutil
from pathlib import Path

import polars as pl
import pytest
from command_in_process import command
from deltalake import DeltaTable, write_deltalake
from readings_kit import make_laps, make_reading

from lapdelta.archive import Archive
from lapdelta.errors import ArchiveError, SetupError

EVENT = "2026-05-16"


def grown(folder: Path, part: str) -> Archive:
    """An archive of two files, with one table as it was after the first."""
    archive = Archive(folder)
    archive.add(make_reading(make_laps(range(1, 9))))
    older = folder.parent / "older"
    shutil.copytree(folder / part, older)
    archive.add(make_reading(make_laps(range(5, 13)), source_name="later.csv"))
    shutil.rmtree(folder / part)
    older.rename(folder / part)
    return Archive(folder)


@pytest.mark.parametrize(
    ("part", "told"),
    [
        ("laps", "later.csv: laps of 2026-05-16 holds 0 rows where it had 24."),
        ("readings", "There are 24 rows in laps of 2026-05-16 that no reading accounts for."),
        ("entries", "Rows in laps belong to no change."),
    ],
)
def test_tables_of_different_age_do_not_add_up(tmp_path: Path, part: str, told: str) -> None:
    folder = grown(tmp_path / "kept", part).folder
    done = command("check", "--archive", folder)
    problems = command("check", "--archive", folder, "--json").json["problems"]
    assert done.status == 1
    assert told in [problem["what"] for problem in problems]
    assert all(problem["mend"] for problem in problems)
    assert told in done.err
    things = f"{len(problems)} thing{'s' if len(problems) > 1 else ''}"
    assert done.err.splitlines()[-1] == f"{things} wrong; nothing was changed."


def rewritten(folder: Path, table: str, change) -> None:
    """The table with other rows, whole in itself: as another program would write it."""
    rows = change(pl.from_arrow(DeltaTable(folder / table).to_pyarrow_table()))
    write_deltalake(folder / table, rows.to_arrow(), mode="overwrite", schema_mode="overwrite")


def whats(folder: Path) -> str:
    return " ".join(error.what for error in Archive(folder).check())


def test_a_change_taken_back_that_is_not_there_and_one_that_is_there_twice(tmp_path: Path) -> None:
    archive = Archive(tmp_path / "kept")
    archive.put_event(EVENT, track="Elm")
    archive.undo(archive.history()["entry"][0])
    rewritten(archive.folder, "entries", lambda rows: rows.filter(pl.col("undoes").is_not_null()))
    assert "It takes back " in whats(archive.folder)
    rewritten(archive.folder, "entries", lambda rows: pl.concat([rows, rows]))
    assert "An entry is in the history twice." in whats(archive.folder)


def test_an_account_that_says_other_than_what_is_held(tmp_path: Path) -> None:
    laps = make_laps(range(1, 9))
    archive = Archive(tmp_path / "kept")
    archive.add(make_reading(laps, account={"lines": 49, "laps": laps.height}))
    assert archive.check() == ()
    said = json.dumps({"lines": 49, "laps": laps.height + 1})
    rewritten(archive.folder, "readings", lambda rows: rows.with_columns(account=pl.lit(said)))
    assert f"was read as {laps.height + 1} laps but {laps.height} are accounted for" in whats(archive.folder)


@pytest.mark.parametrize(
    ("fields", "what"),
    [
        ({"weather": "dry"}, "An event has no field 'weather'"),
        ({}, "Nothing was said about the event"),
        ({"date": "soon"}, "'soon' is not a date"),
    ],
)
def test_what_cannot_be_said_of_an_event_is_refused(
    tmp_path: Path, fields: dict[str, str], what: str
) -> None:
    archive = Archive(tmp_path / "kept")
    with pytest.raises(ArchiveError) as error:
        archive.put_event(EVENT, **fields)
    assert what in error.value.what
    assert archive.history().is_empty()


def test_what_cannot_be_written_into_a_setup_sheet_is_refused(tmp_path: Path) -> None:
    archive = Archive(tmp_path / "kept")
    row = pl.DataFrame({"event": [EVENT], "session": ["P1"], "kart": ["07"], "axle_teeth": [82]})
    with pytest.raises(SetupError, match="no column 'wheels' to empty"):
        archive.put_setups(row, clear=["wheels"])
    with pytest.raises(SetupError, match="There is no row to write"):
        archive.put_setups(row.clear())
    assert archive.history().is_empty()
