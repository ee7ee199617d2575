"""What a new user gets wrong at the command line: it is named, with how to mend it, and nothing is lost."""

import io
import sys
import threading
import time

import pytest

from lapdelta.cli.sign_of_life import be_quiet, sign_of_life
from tests.command_in_process import command

DAY = "2026-05-16"
LAPS = "session,kart,lap,lap time,date\n" + "".join(
    f"{session},{kart},{lap},{50 + int(kart) / 100 + lap * lap % 7 / 50:.3f},{DAY}\n"
    for session in ("P1", "P2")
    for kart in ("07", "12", "21", "33", "44")
    for lap in range(1, 9)
)


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    folder = tmp_path_factory.mktemp("slips")
    (folder / "day.csv").write_text(LAPS)
    here = ("--archive", folder / "archive")
    assert command("import", folder / "day.csv", *here).status == 0
    return here


def error_of(*words, status=1):
    """The error object of a call that must fail with that status."""
    done = command(*words, "--json")
    assert done.status == status, done.out
    assert done.err == ""
    error = done.json["error"]
    assert error["mend"]
    return error


@pytest.mark.parametrize(
    "words",
    [("events",), ("sessions", "--event"), ("sweep", "--event"), ("set-aside", "--session", "P1", "--event"),
     ("set-aside", "--event"), ("compare", "--before", "P1", "--after", "P2", "--event")],
)  # fmt: skip
def test_an_event_nobody_knows_is_refused_with_the_nearest(place, words):
    error = error_of(*words, "2026-05-61", *place)
    assert "no event '2026-05-61'" in error["what"]
    assert error["mend"] == f"Nearest: {DAY}."


def test_what_no_lap_tells_of_is_kept_but_said(place):
    slip = command("events", DAY, "--our-kart", "7", *place)
    assert "its karts are 07, 12, 21, 33, 44" in slip.out
    assert command("events", DAY, "--our-kart", "07", *place, "--json").json["notes"] == []
    coming = command("events", "2026-06-01", "--our-kart", "07", *place)
    assert coming.status == 0
    assert "No laps of 2026-06-01 are here yet" in coming.out
    assert f"The archive has: {DAY}" in coming.out


def test_a_setup_of_a_kart_that_was_not_there_is_kept_but_said(tmp_path):
    (tmp_path / "day.csv").write_text(LAPS)
    here = ("--archive", tmp_path / "archive")
    command("import", tmp_path / "day.csv", *here)
    done = command("setup", DAY, "P1", "axle=82", "--kart", "99", *here)
    assert done.status == 0
    assert "No lap of 2026-05-16 is of a kart 99; its karts are 07, 12, 21, 33, 44." in done.out
    assert "lapdelta setup 2026-05-16 P2 engine=11" in command("setup", DAY, "P2", *here).out


def test_the_first_word_of_a_kind_of_part_is_enough(tmp_path):
    here = ("--archive", tmp_path / "archive")
    added = command("parts", "add", "big one", "--kind", "axle", "--teeth", "82", "--pitch", "7.774", *here)
    assert added.status == 0, added.err
    assert "axle sprocket" in command("parts", *here).out
    assert (
        "lapdelta parts add 'axle 82'"
        in error_of("parts", "add", "x", "--kind", "wheel", *here, status=2)["mend"]
    )


def test_a_wrong_value_comes_with_a_right_call(place):
    assert (
        "--circumference 860mm"
        in error_of("gearing", "speed", "--engine", "11", "--rpm", "14000", status=2)["mend"]
    )
    assert "--links 110" in error_of("gearing", "chain", "11", "82", status=2)["mend"]
    assert "--help" in error_of("season", "--setting", "rear", *place, status=2)["mend"]


def test_columns_of_gear_pairs_that_say_nothing_are_left_out():
    bare = command("gearing", "pairs", "--engine", "11", "--axle", "80", "82").out
    assert bare.splitlines()[0].split() == ["pair", "ratio"]
    fitted = command("gearing", "pairs", "--engine", "11", "--axle", "80", "82", "--fitted", "11", "82").out
    assert "speed at the same rpm" in fitted


def test_all_that_is_asked_of_a_file_is_answered_in_one_call():
    from lapdelta.cli.import_timing import _how_to_answer

    asked = [{"key": "column:A", "options": ["kart"]}, {"key": "event", "options": []}]
    typed = "--answer column:A=kart --event 2026-05-16"
    assert _how_to_answer({"file": "2026-05-16.csv", "questions": asked}) == typed


def test_a_key_that_is_no_column_names_the_one_that_was_meant(place):
    done = command("setup", DAY, "P9", "axel=82", "engine=11", "--kart", "07", *place)
    assert done.status == 0
    assert "axel is no column of the setup sheet" in done.out
    assert "If axle was meant" in done.out
    assert "axel=82" in done.out
    assert "Its sessions are P1, P2." in done.out
    fine = command("setup", DAY, "P1", "axle=82", "engine=11", "--kart", "07", *place, "--json").json
    assert fine["notes"] == []
    assert (fine["setups"][0]["axle_teeth"], fine["setups"][0]["other"]) == (82, None)


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (("--before", "--after", "P2"), 2, "--before needs at least one value"),
        (("--before", "P1", "--after", "P2", "--margin", "a tenth"), 2, "is not a number; write it as 0.1"),
        (("--before", "P1", "--after", "P2", "--margin", "nan"), 2, "is not a number"),
    ],
)
def test_a_question_typed_wrong(place, words, status, said):
    error = error_of("compare", "--kart", "07", *words, *place, status=status)
    assert said in error["what"]
    assert error["where"] == "lapdelta compare"


def test_a_comma_before_decimals_is_a_number(place):
    asked = ("compare", "--kart", "07", "--before", "P1", "--after", "P2", *place, "--json")
    assert command(*asked, "--margin", "0,2").json["margin"] == 0.2


def test_laps_put_back_must_be_set_aside(place):
    where = ("--event", DAY, "--session", "P1", "--kart", "07")
    assert error_of("put-back", *where, *place)["what"] == "No lap is set aside there."
    assert command("set-aside", *where, "--lap", "3", *place).status == 0
    wrong = error_of("put-back", *where, "--lap", "4", *place)
    assert wrong["what"] == "Lap 4 is not set aside."
    assert wrong["mend"] == "Set aside there: 3."
    assert command("put-back", *where, "--lap", "3", *place).status == 0
    assert "karts of that session are 07, 12" in error_of(
        "set-aside", "--event", DAY, "--session", "P1", "--kart", "7", *place
    )["mend"]  # fmt: skip
    assert "sessions are P1, P2" in error_of(
        "set-aside", "--event", DAY, "--session", "P7", "--kart", "07", *place
    )["mend"]  # fmt: skip
    error_of("set-aside", "--event", DAY, "--lap", "3", *place, status=2)


@pytest.mark.parametrize(
    "words",
    [("setup", "--to", "sheet.csv"), ("backup", "all.zip"), ("export", "laps", "--to", "laps.csv")],
)
def test_a_folder_that_is_not_there_is_named_and_the_archive_not_blamed(place, tmp_path, words):
    *before, name = words
    error = error_of(*before, tmp_path / "none" / name, *place)
    assert str(tmp_path / "none") in error["where"]
    assert "folder" in error["mend"] + error["what"]
    assert "lapdelta check" not in error["mend"]


def test_a_setup_sheet_is_never_written_over_a_file(place, tmp_path):
    sheet = tmp_path / "sheet.csv"
    assert command("setup", "--to", sheet, *place).status == 0
    sheet.write_text("our own notebook")
    error = error_of("setup", DAY, "P1", "axle=80", "--kart", "07", "--to", sheet, *place)
    assert error["what"] == "This file is there already."
    assert sheet.read_text() == "our own notebook"


def test_a_page_that_cannot_be_written_is_said(place, tmp_path):
    (tmp_path / "file").write_text("")
    page = tmp_path / "file" / "page.html"
    error = error_of("share", "--kart", "07", "--before", "P1", "--after", "P2", "--out", page, *place)
    assert error["what"].startswith("The file cannot be used")


def test_a_backup_or_recipe_that_is_not_there(place, tmp_path):
    gone = error_of("restore", tmp_path / "none.zip", "--archive", tmp_path / "new")
    assert gone["what"] == "There is no such file."
    (tmp_path / "laps.csv").write_text(LAPS)
    for recipe in (tmp_path / "none.toml", tmp_path / "laps.csv"):
        error = error_of("import", tmp_path / "laps.csv", "--recipe", recipe, *place)
        assert error["where"] == str(recipe)
        assert "--dry-run --json" in error["mend"]


def test_rows_that_wait_for_an_answer_do_not_hide_the_question(place, tmp_path):
    file = tmp_path / "notes.csv"
    file.write_text("lap,time\n" + "".join(f"{lap},51.{lap:02d}\n" for lap in range(1, 31)))
    done = command("import", file, *place)
    assert done.status == 4
    assert done.out.count("51.") == 3
    assert "30 lines set aside until the question is answered" in done.out
    assert "--answer kart=" in done.out


def test_words_need_a_question_and_a_merge_of_nothing_says_so(place, tmp_path):
    assert "that these words could belong to" in error_of("question", DAY, "--words", "hm", *place)["what"]
    assert command("backup", tmp_path / "all.zip", *place).status == 0
    assert command("restore", tmp_path / "all.zip", "--archive", tmp_path / "copy").status == 0
    assert (
        command("merge", tmp_path / "copy", *place).out == "Nothing came over: all of it is here already.\n"
    )


def test_gears_are_taller_or_shorter_and_a_wish_needs_the_pair_fitted():
    sprockets = ("gearing", "pairs", "--engine", 11, "--axle", "78-84")
    assert "--fitted ENGINE AXLE" in error_of(*sprockets, "--taller", 2, status=2)["what"]
    error_of(*sprockets, "--taller", 2, "--ratio", 7, "--fitted", 11, 82, status=2)
    # 82 / 1.02 = 80.4: common arithmetic, no source
    found = command(*sprockets, "--taller", "2,0", "--fitted", 11, 82, "--json").json
    assert found["nearest"]["axle_teeth"] == 80


class Terminal(io.StringIO):
    """A stderr that says that somebody looks."""

    def isatty(self):
        return True


def test_a_sign_of_life_on_a_terminal_after_a_while_and_only_there(monkeypatch):
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    with sign_of_life(first_s=0.01, next_s=0.01):
        limit = time.monotonic() + 5
        while "Still working" not in terminal.getvalue() and time.monotonic() < limit:
            time.sleep(0.01)
    said = terminal.getvalue()
    assert said.startswith("Working ...\nStill working")
    running = threading.active_count()
    with sign_of_life(first_s=0.02):
        be_quiet()
        time.sleep(0.05)
    assert terminal.getvalue() == said
    assert threading.active_count() == running
    nobody = io.StringIO()
    monkeypatch.setattr(sys, "stderr", nobody)
    with sign_of_life(first_s=0.01):
        time.sleep(0.03)
    assert nobody.getvalue() == ""


def test_help_shows_placeholders_people_know():
    for name in ("compare", "share", "plan", "season", "sweep", "parts"):
        shown = command(name, "--help").out
        assert "FLOAT" not in shown
        assert "FOLDER" in shown
    assert "YYYY-MM-DD" in command("parts", "add", "--help").out


def test_the_day_is_enough_of_an_events_name(tmp_path):
    (tmp_path / "day.csv").write_text(
        f"Track;Home circuit\nDate;{DAY}\n\n" + LAPS.replace(",", ";").replace(DAY, "")
    )
    here = ("--archive", tmp_path / "archive")
    assert command("import", tmp_path / "day.csv", *here).status == 0
    whole = f"{DAY} Home circuit"
    assert command("sessions", "--event", DAY, *here, "--json").json["sessions"][0]["event"] == whole
    command("events", DAY, "--our-kart", "07", *here)
    command("setup", DAY, "P1", "axle=82", *here)
    command("question", DAY, "--changed", "axle", "--after", "P2", *here)
    for name in ("events", "setups", "questions"):
        target = tmp_path / f"{name}.csv"
        command("export", name, "--event", DAY, "--to", target, *here)
        rows = target.read_text().splitlines()
        assert len(rows) == 2
        assert whole in rows[1]
    assert command("events", *here, "--json").json["events"][0]["event"] == whole


def test_what_was_written_before_the_laps_came_in_is_of_the_same_event(tmp_path):
    file = tmp_path / "day.csv"
    file.write_text(f"Track;Home circuit\nDate;{DAY}\n\n" + LAPS.replace(",", ";").replace(DAY, ""))
    here = ("--archive", tmp_path / "archive")
    assert command("setup", DAY, "P1", "axle=82", "--kart", "07", *here).status == 0
    assert command("import", file, *here).status == 0
    more = tmp_path / "more.csv"
    more.write_text(file.read_text().replace("P1", "P3").replace("P2", "P4"))
    assert command("import", more, *here).status == 0
    other = tmp_path / "other.csv"
    other.write_text(file.read_text().replace("Home circuit", "Away circuit").replace("P1", "P5"))
    assert command("import", other, *here).status == 0
    sessions = command("sessions", *here, "--json").json["sessions"]
    assert {row["event"] for row in sessions} == {DAY, f"{DAY} Away circuit"}
    assert {row["session"] for row in sessions if row["event"] == DAY} == {"P1", "P2", "P3", "P4"}
