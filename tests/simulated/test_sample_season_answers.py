"""The sample season's questions, files to verdict, against the truth that made them."""

import json
from functools import cache
from typing import Any

import polars as pl
import pytest
from statsmodels.stats.multitest import multipletests

import lapdelta
from sample_sessions import FOLDER, SETUP_SHEET, TRUTH

TRUE: dict[str, Any] = json.loads(TRUTH.read_text(encoding="utf-8"))
ASKED = [(question, measure) for question in TRUE["questions"] for measure in question["measures"]]


@cache
def laps_of(event: str) -> pl.DataFrame:
    files = [file["file"] for file in TRUE["files"] if file["event"] == event]
    return pl.concat([lapdelta.read_timing(FOLDER / file).laps for file in files])


def name(value: Any) -> str:
    return value if isinstance(value, str) else f"{value['event']} {value['about']}"


def own_progress(question: dict[str, Any]) -> float:
    """What our driver gained on the others between the sessions before and those after, s."""
    event = TRUE["events"][question["event"]]
    place = {session: i for i, session in enumerate(entry["session"] for entry in event["sessions"])}
    before, after = (
        sum(place[session] for session in question[side]) / len(question[side])
        for side in ("before", "after")
    )
    return event["our_own_progress_s_over_the_day"] * (after - before) / (len(place) - 1)


@pytest.mark.parametrize(("question", "measure"), ASKED, ids=name)
def test_the_answer_agrees_with_the_truth(question: dict[str, Any], measure: str) -> None:
    """The interval covers the true shift, and the verdict is the stated one where one is stated.

    Where all of one setting came first the finding says that our own progress is part of the answer: then the
    interval has to cover the shift with that progress, a straight line over the day.
    """
    finding = lapdelta.compare(
        laps_of(question["event"]),
        kart=question["kart"],
        before=question["before"],
        after=question["after"],
        measure=measure,
    )
    expected = question["expected_verdict"].get(measure)
    assert expected in (None, finding.verdict)
    if finding.low is not None and finding.high is not None:
        progress = (
            own_progress(question) if "own_progress" in finding.flags and measure == "lap_time" else 0.0
        )
        assert finding.low <= question["true_shift"][measure] + progress <= finding.high


def test_what_was_fitted_is_known_for_every_session_asked_about() -> None:
    sheet = pl.read_csv(SETUP_SHEET, infer_schema=False)
    fitted = set(sheet.select("event", "session", "kart").iter_rows())
    for question in TRUE["questions"]:
        for session in (*question["before"], *question["after"]):
            assert (question["event"], session, question["kart"]) in fitted


def test_a_sector_is_named_by_its_holm_p_value() -> None:
    """Holm's adjusted p values as statsmodels has them; what is in no sector is never named."""
    named: list[bool] = []
    for question in TRUE["questions"]:
        asked = {key: question[key] for key in ("kart", "before", "after")}
        rows = lapdelta.compare(laps_of(question["event"]), **asked).sectors
        inside = [row for row in rows if row["measure"].startswith("sector_")]
        if not inside:
            continue
        adjusted = multipletests([row["p_value"] for row in inside], method="holm")[1]
        assert [row["holm_p"] for row in inside] == pytest.approx(adjusted.tolist())
        assert [row["named"] for row in inside] == [p < 0.05 for p in adjusted]
        assert not any(row["named"] or row["holm_p"] is not None for row in rows if row not in inside)
        named += [row["named"] for row in inside]
    assert set(named) == {True, False}
