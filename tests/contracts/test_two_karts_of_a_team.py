"""Two karts of a team: each is the other's control as long as it kept its setup, and not if it changed too."""

from datetime import date, time

import numpy as np
import polars as pl
import pytest

import lapdelta
from lapdelta.archive import Archive
from lapdelta.asking.archive_question import ask
from lapdelta.tables import EVENT_LAPS, SETUPS

DAY = "2026-05-16"
SESSIONS = ("P1", "P2", "P3", "P4")


def team_laps(seed: int = 3) -> pl.DataFrame:
    """Karts 07 and 08 of the team and four others; nobody is faster in P2 and P3 but the two, by 0.5 s."""
    chance = np.random.default_rng(seed)
    rows = []
    for place, session in enumerate(SESSIONS):
        track = chance.normal(0, 0.1)
        for number, kart in enumerate(("07", "08", "21", "22", "23", "24")):
            quicker = 0.5 if kart in ("07", "08") and session in ("P2", "P3") else 0.0
            level = 60 + 0.05 * number + track - quicker + chance.normal(0, 0.02)
            for lap in range(1, 13):
                rows.append(
                    {"event": DAY, "session": session, "kart": kart, "lap": lap,
                     "lap_time_s": level + chance.normal(0, 0.12) + (4 if lap == 1 else 0),
                     "date": date(2026, 5, 16), "clock": time(10 + place, lap, number)}
                )  # fmt: skip
    return pl.DataFrame(rows, schema=EVENT_LAPS)


def sheet(axle_of_08: tuple[int, ...]) -> pl.DataFrame:
    both = {"07": (82, 81, 81, 82), "08": axle_of_08}
    rows = [
        {"event": DAY, "session": session, "kart": kart, "engine_teeth": 11, "axle_teeth": axle}
        for kart, axles in both.items()
        for session, axle in zip(SESSIONS, axles, strict=True)
    ]
    return pl.DataFrame(rows, schema=SETUPS)


def answer(setups: pl.DataFrame) -> lapdelta.Finding:
    return lapdelta.compare(team_laps(), kart="07", before=["P1", "P4"], after=["P2", "P3"], setups=setups)


def test_a_team_mate_that_changed_too_is_no_control() -> None:
    changed, kept = answer(sheet((82, 81, 81, 82))), answer(sheet((82, 82, 82, 82)))
    assert changed.estimate is not None
    assert kept.estimate is not None
    # The truth is -0.5 against the four others; kart 08 in the control group, as quick, pulls it towards 0.
    assert changed.estimate == pytest.approx(-0.5, abs=0.12)
    assert abs(changed.estimate) > abs(kept.estimate)
    assert any("08" in sentence for _, _, sentence in changed.checks) or any(
        "08" in r for r in changed.reasons
    )


def test_each_is_asked_under_its_own_number(tmp_path) -> None:
    archive = Archive(tmp_path / "kept")
    from readings_kit import make_reading

    archive.add(make_reading(team_laps().drop("event")), event=DAY)
    archive.put_event(DAY, our_kart="07")
    archive.put_setups(sheet((81, 82, 82, 81)))
    ours = ask(archive, before=["P1", "P4"], after=["P2", "P3"])
    mate = ask(archive, kart="08", before=["P1", "P4"], after=["P2", "P3"])
    assert (ours.kart, mate.kart) == ("07", "08")
    assert ours.setup_differences[0]["before"] == [82]
    assert mate.setup_differences[0]["before"] == [81]
    assert archive.asked()["number"].to_list() == [1, 2]
