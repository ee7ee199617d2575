"""Every file of the sample season reads to the laps that were driven, and its lines add up."""

import json
from typing import Any

import pytest

import lapdelta
from sample_sessions import FOLDER, TRUTH
from sample_sessions.season import EVENTS
from sample_sessions.simulate import Lap, clock_ms, run_event

FILES: list[dict[str, Any]] = json.loads(TRUTH.read_text(encoding="utf-8"))["files"]
DRIVEN = {event.name: run_event(event) for event in EVENTS}


def driven(file: dict[str, Any]) -> dict[tuple[str, str, int], Lap]:
    laps = [lap for lap in DRIVEN[file["event"]] if lap.session in file["sessions"]]
    return {(lap.session, lap.kart, lap.number): lap for lap in laps}


@pytest.mark.parametrize("file", FILES, ids=lambda file: file["file"])
def test_the_file_reads_to_the_laps_that_were_driven(file: dict[str, Any]) -> None:
    reading = lapdelta.read_timing(FOLDER / file["file"])
    assert not reading.questions
    laps, account = reading.laps, reading.account
    assert laps.height == account["laps"] == file["laps"]
    assert (
        account["lines"] == account["lap_lines"] + sum(account["known"].values()) + account["set_aside_lines"]
    )
    assert account["set_aside_lines"] == file["rows_without_lap_time"]
    assert sorted(laps["kart"].unique()) == file["karts"]
    assert sorted(laps["session"].unique()) == file["sessions"]
    true = driven(file)
    for row in laps.iter_rows(named=True):
        assert_same_lap(row, true[row["session"], row["kart"], row["lap"]], file)


def assert_same_lap(row: dict[str, Any], lap: Lap, file: dict[str, Any]) -> None:
    assert row["lap_time_s"] == pytest.approx(lap.time_ms / 1000, abs=1e-6)
    holds = file["holds"]
    sectors = [ms / 1000 for ms in lap.sectors_ms] if "sectors" in holds else []
    assert (row["sector_times_s"] or []) == pytest.approx(sectors, abs=1e-6)
    assert row["top_speed_kmh"] == (pytest.approx(lap.top_speed_kmh) if "top_speed" in holds else None)
    assert row["peak_rpm"] == (lap.peak_rpm if "peak_rpm" in holds else None)
    assert str(row["date"]) == (file["event"] if "date" in holds else "None")
    if "clock" not in holds:
        assert row["clock"] is None
        return
    read = clock_ms(row["clock"].strftime("%H:%M:%S")) + row["clock"].microsecond // 1000
    whole_seconds = file["layout"] == "unit_row_day"
    assert read == (lap.end_ms // 1000 * 1000 if whole_seconds else lap.end_ms)
