"""The sample season is what its script writes, is small, and agrees with the truth beside it."""

import csv
import json
from collections import defaultdict
from pathlib import Path
from typing import Any

import pytest

from lapdelta import tables
from sample_sessions import EVENTS, FOLDER, SETUP_SHEET, TRUTH, timing_files
from sample_sessions.make_season import make
from sample_sessions.season import EVENTS as DAYS
from sample_sessions.simulate import run_event

TRUE: dict[str, Any] = json.loads(TRUTH.read_text(encoding="utf-8"))
FILES: list[dict[str, Any]] = TRUE["files"]
LARGEST_BYTES = 3_000_000


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


def test_the_script_writes_the_same_bytes(tmp_path: Path) -> None:
    for path in make(tmp_path):
        assert path.read_bytes() == (FOLDER / path.relative_to(tmp_path)).read_bytes(), path.name


def test_no_file_lies_there_that_the_script_did_not_write() -> None:
    there = [f"{event}/{path.name}" for event, path in timing_files()]
    assert there == [file["file"] for file in FILES]


def test_the_season_is_small() -> None:
    assert sum(path.stat().st_size for path in FOLDER.rglob("*") if path.is_file()) < LARGEST_BYTES


def test_the_season_is_as_wide_as_promised() -> None:
    full = [e for e in TRUE["events"].values() if 4 <= len(e["sessions"]) <= 8]
    karts: dict[str, set[str]] = defaultdict(set)
    for file in FILES:
        karts[file["event"]] |= set(file["karts"])
    assert len(full) >= 6
    assert sum(9 <= len(numbers) <= 15 for numbers in karts.values()) >= 6
    assert any(session["wet"] for event in full for session in event["sessions"])
    assert len({file["layout"] for file in FILES}) == 8
    assert {file["encoding"] for file in FILES} >= {"utf-8", "utf-8-sig", "utf-16", "cp1252"}


def test_our_kart_drives_every_session_and_others_miss_some() -> None:
    driven = {(file["event"], session) for file in FILES for session in file["sessions"]}
    stated = {(name, s["session"]) for name, event in TRUE["events"].items() for s in event["sessions"]}
    assert driven == stated
    for day in DAYS:
        cells = {(lap.session, lap.kart) for lap in run_event(day)}
        ours = TRUE["events"][day.name]["our_kart"]
        assert {session for session, kart in cells if kart == ours} == {s.label for s in day.sessions}
        others = {kart for _, kart in cells} - {ours}
        if len(others) > 2:
            assert len(cells) < len(day.sessions) * (len(others) + 1)


@pytest.mark.parametrize("day", DAYS, ids=lambda day: day.name)
def test_clocks_and_laps_agree(day: Any) -> None:
    ends: dict[tuple[str, str], int] = {}
    for lap in run_event(day):
        before = ends.get((lap.session, lap.kart))
        assert before is None or lap.end_ms - lap.time_ms == before
        ends[lap.session, lap.kart] = lap.end_ms


def test_setup_sheet_and_events_have_canonical_columns_and_every_session() -> None:
    setups, events = rows_of(SETUP_SHEET), rows_of(EVENTS)
    assert set(setups[0]) <= set(tables.SETUPS)
    assert set(events[0]) <= set(tables.EVENTS)
    fitted = {(row["event"], row["session"], row["kart"]): row["axle_teeth"] for row in setups}
    stated = {
        (name, session["session"], event["our_kart"]): str(session["axle_teeth"])
        for name, event in TRUE["events"].items()
        for session in event["sessions"]
    }
    assert fitted == stated
    assert [row["event"] for row in events] == list(TRUE["events"])


def test_true_shifts_follow_from_the_stated_response() -> None:
    for question in TRUE["questions"]:
        event = TRUE["events"][question["event"]]
        losses = TRUE["tracks"][event["track"]]["gearing"]["loss_s_by_axle_teeth"]
        by_label = {session["session"]: session for session in event["sessions"]}
        befores, afters = ([by_label[label] for label in question[side]] for side in ("before", "after"))
        assert len({(s["axle_teeth"], s["rear_bar"]) for s in befores}) == 1
        assert len({(s["axle_teeth"], s["rear_bar"]) for s in afters}) == 1
        old, new = befores[0], afters[0]
        pressure = TRUE["pressure"]["s_per_bar"] * (new["rear_bar"] - old["rear_bar"])
        gearing = losses[str(new["axle_teeth"])] - losses[str(old["axle_teeth"])]
        assert question["true_shift"]["lap_time"] == pytest.approx(gearing + pressure, abs=2e-4)
        sectors = sum(question["true_shift"][f"sector_{q}"] for q in (1, 2, 3))
        assert sectors == pytest.approx(question["true_shift"]["lap_time"], abs=2e-4)


def test_the_demo_shows_one_question_of_each_kind() -> None:
    demo = [question for question in TRUE["questions"] if question["demo"]]
    assert [question["expected_verdict"]["lap_time"] for question in demo] == [
        "faster", "not settled", "cannot be told",
    ]  # fmt: skip
