"""What people type, and the language they are answered in: sessions by number, undo last, plain usage errors."""

import re
from pathlib import Path

import pytest
from command_in_process import command
from sample_archive import make_archive

import lapdelta
from lapdelta.asking.which import session_meant

DAY = "2025-05-18"
QUESTION = ("--event", DAY, "--before", "P1", "P4", "--after", "P2", "P3")
#: As in test_said_in_german: words that no German sentence has, names of commands and columns taken out first.
ENGLISH = re.compile(r"\b(the|of|and|with|than|only|more|were|which|sessions?|laps|other)\b")
NAMES = re.compile(r"lapdelta [a-z]+( [a-z-]+)*|--[a-z-]+|'[a-z ]+'")


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> lapdelta.Archive:
    return make_archive(tmp_path_factory.mktemp("typed") / "archive")


def test_a_session_is_meant_by_its_number_or_in_other_capitals() -> None:
    long = ["Training 1", "Training 2", "Training 12"]
    assert session_meant(long, "2") == "Training 2"
    assert session_meant(long, "12") == "Training 12"
    assert session_meant(long, "training 2") == "Training 2"
    assert session_meant(["P1", "P2", "Q1"], "1") == "1", "two sessions have that number"
    assert session_meant(["P1", "P2", "Q1"], "p2") == "P2"
    assert session_meant(["10:15", "heat 3.5"], "15") == "15", "a clock is no number of a session"
    assert session_meant(["P1"], "P2") == "P2", "a session still to come stays as typed"


def test_numbers_of_sessions_are_enough_for_compare(archive: lapdelta.Archive) -> None:
    here = ("--archive", archive.folder)
    whole = command("compare", *QUESTION, *here, "--json").json
    short = command("compare", "--event", DAY, "--before", "1", "4", "--after", "2,3", *here, "--json").json
    assert (short["before"], short["after"]) == (["P1", "P4"], ["P2", "P3"])
    assert short["estimate"] == whole["estimate"]


def test_undo_last_goes_back_step_by_step(tmp_path: Path) -> None:
    here = ("--archive", tmp_path / "kept")
    for teeth in (82, 81):
        assert command("setup", "May", "P1", f"axle={teeth}", "--kart", "7", *here).status == 0
    taken = [command("undo", "last", *here, "--json").json["undone"] for _ in range(2)]
    assert taken == lapdelta.Archive(tmp_path / "kept").history()["entry"].to_list()[1::-1]
    nothing = command("undo", "last", *here)
    assert nothing.status == 1
    assert "There is nothing to take back." in nothing.err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("compair",), "Nearest: lapdelta compare."),
        (("undo",), "For instance: lapdelta undo last"),
        (("backup",), "For instance: lapdelta backup season.zip"),
        (("dashboard", "--port", "x"), "--port takes a whole number from 1 to 65535, not 'x'."),
        (("plan", "--sessions-left", "4.5"), "--sessions-left takes a whole number, not '4.5'."),
        (("plan",), "Say how many sessions can still be run, as: --sessions-left 4"),
    ],
)
def test_a_wrong_call_says_how_to_mend_it(words: tuple[str, ...], said: str) -> None:
    done = command(*words)
    assert done.status == 2
    assert said in done.err


def test_a_group_named_alone_shows_its_commands() -> None:
    done = command("gearing")
    assert done.status == 2
    assert done.out.startswith("Usage: lapdelta gearing")
    assert done.err == ""


def test_gaps_of_the_setup_sheet_are_said_beside_the_answer(tmp_path: Path) -> None:
    archive = make_archive(tmp_path / "archive")
    sheet = archive.setups
    archive = lapdelta.Archive(tmp_path / "gaps")
    whole = make_archive(tmp_path / "whole")
    for reading in whole.readings.to_dicts():
        archive.add(lapdelta.read_timing(whole.original(reading["sha256"]), name="practice.csv"),
                    event=reading["events"][0]["event"])  # fmt: skip
    archive.put_event(DAY, our_kart="07")
    archive.put_setups(sheet.filter(sheet["event"] == DAY, sheet["kart"] == "07", sheet["session"] != "P3"))
    gap = "What was fitted in P3 is not written down: the answer takes your word for it."
    assert gap in command("compare", *QUESTION, "--archive", archive.folder).out
    assert gap not in command("compare", *QUESTION, "--archive", whole.folder).out


@pytest.mark.parametrize(
    "words",
    [
        ("compare", *QUESTION),
        ("compare", *QUESTION, "--measure", "top_speed"),
        ("season",),
        ("parts",),
        ("plan", "--sessions-left", "4", "--event", DAY),
        ("plan", "--what-next", *QUESTION),
        ("gearing", "chain", "--engine", "11", "--axle", "82", "--pitch", "7.774", "--links", "111", "--axle-after",
         "78", "--slots", "200", "260", "--centre", "240"),
        ("gearing", "speed", "--engine", "11", "--axle", "82", "--rpm", "12000", "--circumference", "0.86"),
        ("gearing", "pairs", "--engines", "11", "--axles", "78", "82", "--ratio", "7.2"),
        ("gearing", "expect", "--engine", "11", "--axle", "82", "--axle-after", "78"),
        ("gearing", "pulled", *QUESTION),
        ("gearing", "cautions"),
    ],
)  # fmt: skip
def test_answers_are_said_in_german(
    archive: lapdelta.Archive, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...]
) -> None:
    here = ("--archive", archive.folder)
    asked = command(*words, *here, "--language", "de")
    assert asked.status == 0, asked.err
    assert not ENGLISH.search(NAMES.sub("", asked.out)), asked.out
    monkeypatch.setenv("LAPDELTA_LANGUAGE", "de")
    assert command(*words, *here).out == asked.out
    assert command(*words, *here, "--language", "en").out != asked.out


def test_errors_are_said_in_the_language_and_the_same_for_machines(
    archive: lapdelta.Archive, monkeypatch: pytest.MonkeyPatch
) -> None:
    wrong = ("compare", *QUESTION, "--kart", "99", "--archive", archive.folder)
    english = command(*wrong, "--json").json["error"]["what"]
    assert "In diesen Runden gibt es kein Kart 99." in command(*wrong, "--language=de").err
    monkeypatch.setenv("LAPDELTA_LANGUAGE", "de")
    assert command(*wrong, "--json").json["error"]["what"] == english


def test_files_without_a_day_are_brought_in_one_by_one(tmp_path: Path) -> None:
    laps = "Kart,Lap,Time\n" + "".join(
        f"{kart},{lap},{50 + lap / 10:.2f}\n" for kart in (7, 8) for lap in range(1, 8)
    )
    for name in ("2026-03-22 heat.csv", "evening.csv"):
        (tmp_path / name).write_text(laps)
    here = ("--archive", tmp_path / "kept")
    both = command("import", tmp_path / "2026-03-22 heat.csv", tmp_path / "evening.csv", *here)
    assert both.status == 4
    assert f"lapdelta import '{tmp_path / '2026-03-22 heat.csv'}' --event 2026-03-22" in both.out
    assert f"lapdelta import {tmp_path / 'evening.csv'} --event 'club day in May'" in both.out
    one = command("import", tmp_path / "2026-03-22 heat.csv", *here)
    assert one.out.rstrip().endswith("with the answer, as: --event 2026-03-22")
    (tmp_path / "empty.csv").write_text("")
    wrong = command("import", tmp_path / "evening.csv", tmp_path / "empty.csv", *here)
    assert wrong.status == 1
    assert "Run it again without empty.csv." in wrong.err


def test_laps_set_aside_are_named_with_their_session(tmp_path: Path) -> None:
    here = ("--archive", make_archive(tmp_path / "archive").folder)
    done = command("set-aside", "--event", DAY, "--session", "2", "--laps", "3", *here)
    assert f"Set aside: {DAY}, P2, kart 07, lap 3." in done.out
    back = command("put-back", "--event", DAY, "--session", "2", *here)
    assert f"Put back: {DAY}, P2, kart 07, all laps." in back.out
    wrong = command("set-aside", DAY, "P2", "3", *here)
    assert wrong.status == 2
    assert "lapdelta set-aside --event 2026-05-16 --session P1 --lap 3" in wrong.err
    assert "take back with: lapdelta undo " in command("events", DAY, "--track", "Home", *here).out
