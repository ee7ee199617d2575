"""What was written before the session, the driver's words and the number of the question stand beside the answer."""

import json
from pathlib import Path

import pytest
from readings_kit import make_reading
from sample_archive import DAYS, make_archive

from lapdelta.archive import Archive, lock
from lapdelta.asking.archive_question import ask
from lapdelta.asking.beside import beside, say_beside
from lapdelta.asking.pulled import ask_pulled
from lapdelta.cli.main import run
from lapdelta.what_next.answer import what_next

DAY = DAYS[0]


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Archive:
    return make_archive(tmp_path_factory.mktemp("archive") / "kept")


def test_the_command_line_writes_lists_and_answers_with_it(
    archive: Archive, capsys: pytest.CaptureFixture[str]
) -> None:
    place = ["--archive", str(archive.folder)]
    words = ["question", DAY, "--changed", "axle", "--before", "P1", "--after", "P2", "--margin", "0.2"]
    assert run([*words, "--expect", "faster", "--wish", "more at the end of the straight", *place]) == 0
    assert run(["question", DAY, "--words", "flew out of the hairpin", *place, "--json"]) == 0
    listed = json.loads(capsys.readouterr().out.splitlines()[-1])
    assert [row["words"] for row in listed["questions"]] == ["flew out of the hairpin"]
    assert [row["after"] for row in listed["questions"]] == [["P2"]]
    compare = ["compare", "--event", DAY, "--before", "P1", "--after", "P2", *place]
    assert run([*compare, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["margin"] == 0.2
    assert run(compare) == 0
    said = capsys.readouterr().out
    assert 'The driver wished for: "more at the end of the straight"' in said
    assert 'The driver said: "flew out of the hairpin"' in said
    assert "when its laps were there already" in said
    assert "This is question 1 of the season 2025." in said
    assert run([*compare, "--measure", "sector_1"]) == 0
    assert "This is question 2 of the season 2025." in capsys.readouterr().out


def test_usage_that_names_nothing_is_said(archive: Archive, capsys: pytest.CaptureFixture[str]) -> None:
    place = ["--archive", str(archive.folder), "--json"]
    for wrong, status in (
        (["--wish", "grip"], 2),
        ([DAYS[1], "--number", "7", "--words", "x"], 1),
        ([DAYS[1], "--words", "of no question"], 1),
        ([DAY, "--expect", "better"], 2),
    ):
        assert run(["question", *wrong, *place]) == status
        assert "error" in json.loads(capsys.readouterr().out)
    assert run(["question", DAYS[1], "--margin", "-1", *place]) == 1
    assert json.loads(capsys.readouterr().out)["error"]["where"] == "margin"


def test_an_answer_asked_again_has_the_same_number(archive: Archive) -> None:
    question = {"event": DAYS[1], "before": ["P1"], "after": ["P2"]}
    first = beside(archive, ask(archive, **question))
    again = beside(archive, ask(archive, **question, margin=0.3, use_history=False))
    assert first == again
    assert first.number == first.asked == archive.asked().height
    assert first.written is None
    assert say_beside(first) == [
        f"This is question {first.number} of the season 2025. "
        "Of twenty questions about changes that did nothing, one will look real."
    ]


def test_an_answer_does_not_wait_long_for_a_writer_and_stays_uncounted(
    archive: Archive, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("lapdelta.asking.beside._PATIENCE_S", 0.0)
    before = archive.asked().height
    with lock.locked(archive.folder / "lock"):
        finding = ask(archive, event=DAYS[1], before=["P1"], after=["P3"])
    assert archive.asked().height == before
    assert beside(archive, finding).number is None
    assert say_beside(beside(archive, finding)) == []


def test_a_question_that_is_not_to_count_does_not(archive: Archive) -> None:
    before = archive.asked().height
    ask(archive, event=DAYS[1], before=["P1"], after=["P4"], count=False)
    ask(archive, event=DAYS[1], before=["P1", "P2"], after=["P2", "P3"])  # a session on both sides is a slip
    what_next(archive, event=DAYS[1], before=(), after=())
    assert archive.asked().height == before


def test_whether_the_engine_pulled_is_no_question_of_the_season(archive: Archive) -> None:
    before = archive.asked().height
    answer = ask_pulled(
        archive, event=DAY, before=["P1"], after=["P2"],
        engine_before=11, axle_before=84, engine_after=11, axle_after=82,
    )  # fmt: skip
    assert answer.top_speed is not None
    assert archive.asked().height == before


def test_words_of_a_question_without_laps(tmp_path: Path) -> None:
    archive = Archive(tmp_path / "kept")
    archive.put_question("2026-05-16", changed="axle 82 -> 81", expected="faster", margin=0.1)
    archive.add(make_reading())
    written = archive.question_for("2026-05-16", "07", "lap_time", ["P1"], ["P2"])
    assert written is not None
    assert written["in_advance"]
