"""A question is written down before its session, keeps the driver's words, and is counted once."""

from pathlib import Path

import polars as pl
import pytest
from readings_kit import make_laps, make_reading

from lapdelta.archive import Archive
from lapdelta.archive.question_schema import QUESTIONS
from lapdelta.errors import QuestionError

EVENT = "2026-05-16"


@pytest.fixture
def archive(tmp_path: Path) -> Archive:
    return Archive(tmp_path / "kept")


def test_a_question_is_kept_and_the_words_come_later(archive: Archive) -> None:
    entry = archive.put_question(
        EVENT,
        changed="axle 82 -> 81",
        after=["P2"],
        expected="faster",
        margin=0.1,
        wish="more on the straight",
    )
    archive.put_question(EVENT, entry, words="better out of turn 3")
    questions = archive.questions
    assert questions.schema == QUESTIONS
    row = questions.row(0, named=True)
    assert questions.height == 1
    assert (row["question"], row["changed"], row["after"], row["margin"]) == (
        entry,
        "axle 82 -> 81",
        ["P2"],
        0.1,
    )
    assert (row["wish"], row["words"], row["in_advance"]) == (
        "more on the straight",
        "better out of turn 3",
        True,
    )
    assert archive.history()["what"].to_list() == [
        f"asked in advance, {EVENT}: changed, after, expected, margin, wish, measure",
        f"question changed, {EVENT}: words",
    ]


def test_what_was_written_after_the_laps_came_in_is_not_in_advance(archive: Archive) -> None:
    early = archive.put_question(EVENT, after=["P2"], margin=0.1)
    archive.add(make_reading(make_laps(sessions=("P1",))))
    between = archive.put_question(EVENT, after=["P2"], margin=0.1)
    archive.add(make_reading(make_laps(sessions=("P2",))))
    late = archive.put_question(EVENT, after=["P2"], margin=0.1)
    said = dict(archive.questions.select("question", "in_advance").iter_rows())
    assert said == {early: True, between: True, late: False}
    archive.put_question(EVENT, early, words="fine")
    assert archive.questions["in_advance"].to_list()[0] is True
    archive.put_question(EVENT, early, margin=0.2)
    assert archive.questions["in_advance"].to_list()[0] is False


def test_the_history_says_in_advance_only_where_it_was(archive: Archive) -> None:
    archive.put_question(EVENT, after=["P2"], margin=0.1)
    came_in = archive.add(make_reading(make_laps(sessions=("P2",)))).entry
    archive.put_question(EVENT, after=["P2"], margin=0.2)
    assert came_in is not None
    archive.undo(came_in)  # what was seen once is known
    archive.put_question(EVENT, after=["P2"], margin=0.3)
    said = archive.history()["what"].to_list()
    assert [text.split(",")[0] for text in said if "margin" in text] == [
        "asked in advance",
        "question written when its laps were there",
        "question written when its laps were there",
    ]
    assert archive.questions["in_advance"].to_list() == [True, False, False]


def test_a_change_of_a_question_can_be_taken_back(archive: Archive) -> None:
    first = archive.put_question(EVENT, expected="faster", wish="grip")
    second = archive.put_question(EVENT, first, expected="slower", wish=None)
    assert archive.questions.select("expected", "wish").row(0) == ("slower", None)
    archive.undo(second)
    assert archive.questions.select("expected", "wish").row(0) == ("faster", "grip")
    archive.undo(first)
    assert archive.questions.is_empty()


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"margin": 0.0}, "not possible"),
        ({"margin": float("nan")}, "not possible"),
        ({"measure": "smoothness"}, "no measure"),
        ({"expected": "better"}, "no direction"),
        ({"mood": "good"}, "no field 'mood'"),
        ({}, "Nothing was said"),
        ({"before": "P1"}, "where a list is needed"),
    ],
)
def test_a_question_that_cannot_be_is_refused(archive: Archive, fields: dict[str, object], said: str) -> None:
    with pytest.raises(QuestionError, match=said):
        archive.put_question(EVENT, **fields)
    with pytest.raises(QuestionError, match="no question"):
        archive.put_question(EVENT, "2020", wish="x")
    assert archive.history().is_empty()


def test_the_question_that_fits_best_is_found(archive: Archive) -> None:
    wide = archive.put_question(EVENT, changed="axle", wish="grip")
    close = archive.put_question(EVENT, kart="07", before=["P1", "P4"], after=["P2"], measure="lap_time")
    archive.put_question("2026-05-17", kart="07")
    found = archive.question_for(EVENT, "07", "lap_time", ("P4", "P1"), ("P2",))
    assert found is not None
    assert found["question"] == close
    other = archive.question_for(EVENT, "07", "top_speed", ("P1", "P4"), ("P2",))
    assert other is not None
    assert other["question"] == wide
    assert archive.question_for("2026-06-01", "07", "lap_time", ("P1",), ("P2",)) is None


def test_each_question_counts_once_and_by_season(archive: Archive) -> None:
    archive.put_event("autumn", date="2025-10-04")
    archive.put_event("spring", date="2026-04-11")
    ask = archive.note_asked
    first = ask("spring", "07", "lap_time", ["P1", "P4"], ["P2", "P3"])
    assert ask("spring", "07", "lap_time", ["P4", "P1"], ["P3", "P2"]) == first
    assert ask("spring", "07", "lap_time", ["P2", "P3"], ["P1", "P4"]) == first
    ask("autumn", "07", "lap_time", ["P1"], ["P2"])
    ask("spring", "07", "sector_1", ["P1", "P4"], ["P2", "P3"])
    ask("spring", "12", "lap_time", ["P1", "P4"], ["P2", "P3"])
    asked = archive.asked()
    assert asked.select("season", "number").rows() == [(2026, 1), (2025, 1), (2026, 2), (2026, 3)]
    assert asked.filter(pl.col("entry") == first)["before"].to_list() == [["P1", "P4"]]
    assert archive.history()["what"].str.starts_with("asked").sum() == 0
    assert archive.history(asked=True)["what"].str.starts_with("asked").sum() == 4
