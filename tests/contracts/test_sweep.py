"""A sweep answers each change as ``compare`` does, in this process or in others."""

import json
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import polars as pl
import pytest
from polars.testing import assert_frame_equal
from sample_archive import DAYS, make_archive

import lapdelta
from lapdelta.archive import Archive
from lapdelta.asking.sweep import SWEPT, sweep
from lapdelta.cli.main import run
from lapdelta.errors import QuestionError
from lapdelta.setups import proposed_questions


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Archive:
    return make_archive(tmp_path_factory.mktemp("sweep") / "kept")


def test_each_change_is_answered_as_compare_does(archive: Archive) -> None:
    found = sweep(archive)
    assert found.schema == SWEPT
    assert found["event"].unique().sort().to_list() == list(DAYS)
    row = found.row(0, named=True)
    asked = {name: row[name] for name in ("kart", "before", "after")}
    alone = lapdelta.compare(
        archive.laps(row["event"]), **asked, setups=archive.setups.filter(pl.col("event") == row["event"])
    )
    assert (row["estimate"], row["low"], row["verdict"]) == (alone.estimate, alone.low, alone.verdict)
    labels = archive.sessions(DAYS[0])["session"].to_list()
    expected = proposed_questions(archive.setups, labels, DAYS[0], "07")
    mine = found.filter(pl.col("event") == DAYS[0], pl.col("kart") == "07")
    assert mine["change"].to_list() == [change["text"] for change in expected]


def test_any_executor_gives_the_same_and_counts_no_question(archive: Archive) -> None:
    before = archive.asked().height
    with ThreadPoolExecutor(2) as executor:
        assert_frame_equal(sweep(archive, executor=executor), sweep(archive))
    assert archive.asked().height == before


def test_names_are_left_out_on_request(archive: Archive) -> None:
    drivers = set(archive.laps()["driver"].drop_nulls())
    assert drivers
    assert set(sweep(archive, events=[DAYS[0]])["driver"]) & drivers
    without = sweep(archive, events=[DAYS[0]], names=False)
    assert without["driver"].null_count() == without.height
    assert not any(name in json.dumps(without.to_dicts()) for name in drivers)


def test_a_measure_that_an_event_does_not_have_is_a_row_that_says_so(archive: Archive) -> None:
    found = sweep(archive, measure="sector_9", events=[DAYS[0]])
    assert set(found["verdict"]) == {"cannot be told"}
    assert found["reason"].str.contains("sector_9").all()
    with pytest.raises(QuestionError, match="no measure"):
        sweep(archive, measure="smoothness")


def test_two_processes_on_the_command_line_give_the_same(
    archive: Archive, capsys: pytest.CaptureFixture[str]
) -> None:
    place = ["--archive", str(archive.folder), "--json"]
    assert run(["sweep", "--jobs", "2", "--without-names", *place]) == 0
    rows = json.loads(capsys.readouterr().out)["changes"]
    assert rows == sweep(archive, names=False).to_dicts()
    assert run(["sweep", "--event", DAYS[0], *place[:2]]) == 0
    assert "of twenty changes that did nothing, one will look real" in capsys.readouterr().out


def test_an_archive_without_a_setup_sheet_has_nothing_to_sweep(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["sweep", "--archive", str(tmp_path / "new")]) == 0
    assert "tells of no change yet" in capsys.readouterr().out
