"""A finding asked again: the same numbers, or what changed since; laps set aside by hand are said."""

import json
import shutil
from pathlib import Path

import polars as pl
import pytest
from sample_archive import DAYS, make_archive

from lapdelta.archive import Archive
from lapdelta.asking.again import read_finding, repeat
from lapdelta.asking.archive_question import ask
from lapdelta.asking.which import our_kart
from lapdelta.cli.main import run
from lapdelta.effect.finding import FLAGS, Finding
from lapdelta.errors import QuestionError

DAY = DAYS[0]


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_archive(tmp_path_factory.mktemp("archive") / "kept").folder


@pytest.fixture
def archive(kept: Path, tmp_path: Path) -> Archive:
    return Archive(shutil.copytree(kept, tmp_path / "kept"))


def written(archive: Archive, file: Path, *more: str) -> Finding:
    """The finding that the command line prints, kept in a file."""
    finding = ask(archive, event=DAY, before=["P1"], after=["P2"], use_history="--no-history" not in more)
    file.write_text(finding.to_json(), encoding="utf-8")
    return finding


def told(capsys: pytest.CaptureFixture[str], archive: Archive, file: Path, *more: str) -> str:
    assert run(["compare", "--repeat", str(file), "--archive", str(archive.folder), *more]) == 0
    return capsys.readouterr().out


def test_nothing_changed(archive: Archive, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "finding.json"
    place = ["--archive", str(archive.folder)]
    assert run(["compare", "--event", DAY, "--before", "P1", "--after", "P2", "--json", *place]) == 0
    file.write_text(capsys.readouterr().out, encoding="utf-8")
    asked = archive.asked().height
    again = json.loads(told(capsys, archive, file, "--json"))
    assert again["same"] is True
    assert again["changed"] == []
    assert again["finding"]["fingerprint"] == json.loads(file.read_text())["fingerprint"]
    assert "The same numbers" in told(capsys, archive, file)
    assert archive.asked().height == asked  # no further question of the season


def test_a_lap_set_aside_since(archive: Archive, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    old = written(archive, tmp_path / "finding.json")
    ours = our_kart(archive, DAY)
    archive.set_aside_laps(DAY, "P2", ours, [5], "missed a gear")
    again = json.loads(told(capsys, archive, tmp_path / "finding.json", "--json"))
    assert again["same"] is False
    changed = " ".join(again["changed"])
    assert "The laps are others" in changed
    assert "hands used" in changed
    new = Finding.from_json(json.dumps(again["finding"]))
    assert new.flags == tuple(flag for flag in FLAGS if flag in {*old.flags, "hands_used"})
    assert any("1 lap of ours was set aside by hand (P2)" in reason for reason in new.reasons)
    assert [check[1] for check in new.checks if check[0] == "laps by hand"] == [False]
    archive.put_back_laps(DAY, "P2", ours, [5])
    assert json.loads(told(capsys, archive, tmp_path / "finding.json", "--json"))["same"] is True


def test_other_version_and_settings_are_said(archive: Archive, tmp_path: Path) -> None:
    old = written(archive, tmp_path / "finding.json")
    values = old.to_dict() | {"version": "0.0.1"}
    values["settings"] = values["settings"] | {"screen_constant": 2.5}
    found = repeat(archive, Finding.from_json(json.dumps(values)))
    assert found.same
    assert len(found.changed) == 2
    assert "0.0.1" in " ".join(found.changed)
    assert "screen constant was 2.5" in " ".join(found.changed)


@pytest.mark.parametrize(
    ("values", "told"),
    [
        ({"verdict": "slower"}, "The verdict was 'slower', now it is '"),
        ({"method": "interleaved"}, "It was computed as 'interleaved', now as '"),
        ({"estimate": None}, "The estimate was not known, now it is "),
        ({"flags": []}, "The flags were: none; now: "),
        ({"tipping_rate": 9.25}, "The tipping rate was 9.25, now it is "),
    ],
)
def test_what_came_out_otherwise_is_said(archive: Archive, tmp_path: Path, values: dict, told: str) -> None:
    """As if another version had computed it: told number by number, and not the same."""
    old = written(archive, tmp_path / "finding.json")
    found = repeat(archive, Finding.from_json(json.dumps(old.to_dict() | values)))
    assert not found.same
    assert [line for line in found.changed if line.startswith(told)] == list(found.changed)


def test_rounding_of_another_processor_is_the_same(archive: Archive, tmp_path: Path) -> None:
    old = written(archive, tmp_path / "finding.json")
    close = old.to_dict() | {"estimate": old.estimate * (1 + 1e-8)}
    assert repeat(archive, Finding.from_json(json.dumps(close))).same
    apart = old.to_dict() | {"estimate": old.estimate * (1 + 1e-5)}
    assert not repeat(archive, Finding.from_json(json.dumps(apart))).same


def test_a_setup_sheet_written_since_is_said(archive: Archive, tmp_path: Path) -> None:
    old = written(archive, tmp_path / "finding.json")
    row = {"event": DAY, "session": "P2", "kart": our_kart(archive, DAY), "axle_teeth": 70}
    archive.put_setups(pl.DataFrame([row]))
    found = repeat(archive, old)
    assert "The setup sheet says something else about before and after." in found.changed


def test_history_is_asked_for_as_it_was(archive: Archive, tmp_path: Path) -> None:
    old = written(archive, tmp_path / "finding.json", "--no-history")
    assert old.settings["history_asked"] is False
    assert repeat(archive, old).same
    assert repeat(archive, written(archive, tmp_path / "finding.json")).same


@pytest.mark.parametrize(
    "text", ["", "[1, 2]", '{"version": "9.9"}', "not json", '{"kart": "1"}', "null", "\ufeff{}"]
)
def test_not_a_finding(text: str, tmp_path: Path) -> None:
    (tmp_path / "other.json").write_text(text, encoding="utf-8")
    with pytest.raises(QuestionError, match="not a finding") as caught:
        read_finding(tmp_path / "other.json")
    assert "--json" in caught.value.mend
    assert ("9.9" in caught.value.what) == ("9.9" in text)


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(QuestionError, match="cannot be read"):
        read_finding(tmp_path / "none.json")


def test_repeat_holds_the_question(
    archive: Archive, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "finding.json"
    written(archive, file)
    place = ["--archive", str(archive.folder)]
    assert run(["compare", "--repeat", str(file), "--before", "P1", *place]) == 2
    assert "--before cannot stand beside --repeat" in capsys.readouterr().err
    assert run(["compare", "--before", "P1", *place]) == 2
    assert "--after" in capsys.readouterr().err


def test_laps_of_other_karts_set_aside(archive: Archive) -> None:
    ours = our_kart(archive, DAY)
    laps = archive.laps(DAY).filter((pl.col("session") == "P1") & (pl.col("kart") != ours))
    kart = laps["kart"][0]
    numbers = laps.filter(pl.col("kart") == kart)["lap"].to_list()[2:4]
    archive.set_aside_laps(DAY, "P1", kart, numbers)
    archive.set_aside_laps(DAY, "P1", ours, [4])
    finding = ask(archive, event=DAY, before=["P1"], after=["P2"])
    assert "1 lap of ours and 2 of other karts were set aside by hand (P1)" in finding.reasons[-1]
