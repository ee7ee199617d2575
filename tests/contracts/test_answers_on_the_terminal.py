"""What a person reads on the terminal: the same facts as ``--json``, what to do next, and clear refusals."""

import importlib
import json
import subprocess
import sys

import click
import pytest
from command_in_process import command
from sample_archive import DAYS, make_archive

from lapdelta.cli.main import COMMANDS
from sample_sessions import TRUTH

EVENT = DAYS[1]
entry = importlib.import_module("lapdelta.cli.main")  # the package has a function of that name


@pytest.fixture(scope="module")
def days(tmp_path_factory):
    return make_archive(tmp_path_factory.mktemp("days") / "archive").folder


@pytest.fixture
def empty(tmp_path):
    return tmp_path / "empty"


def both(*words, at):
    """(lines for a person, the same as facts)."""
    plain, facts = command(*words, "--archive", at), command(*words, "--archive", at, "--json")
    assert plain.status == facts.status == 0, plain.err + facts.out
    return plain.out.splitlines(), facts.json


def test_sessions_stand_a_line_each(days):
    lines, facts = both("sessions", at=days)
    assert lines[0].split() == ["event", "session", "laps", "karts", "first", "lap", "at"]
    assert [line.split()[:4] for line in lines[1:]] == [
        [row["event"], row["session"], str(row["laps"]), str(row["karts"])] for row in facts["sessions"]
    ]
    assert [line.split()[4] for line in lines[1:]] == [
        row["first_clock"][:5] if row["first_clock"] else "-" for row in facts["sessions"]
    ]
    only, _ = both("sessions", "--event", EVENT, at=days)
    assert only[1:] == [line for line in lines if line.startswith(EVENT)]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["sessions"], "The archive holds no laps yet. Bring some in with: lapdelta import FILE..."),
        (["events"], "No events yet. Bring timing in with: lapdelta import FILE..."),
        (["history"], "Nothing has been written yet."),
        (["set-aside"], "No laps are set aside by hand."),
        (["question"], "No question is written down yet. See: lapdelta question --help"),
        (["plan", "--draws"], "No sealed draws yet."),
    ],
)
def test_an_empty_archive_says_so_and_what_to_do(empty, words, told):
    done = command(*words, "--archive", empty)
    assert (done.status, done.err) == (0, "")
    assert done.out.startswith(told)


def test_history_and_the_way_back(days):
    lines, facts = both("history", at=days)
    first, last = facts["history"][0], facts["history"][-1]
    assert lines[1].startswith(first["entry"])
    assert lines[-1].split("  ")[0] == last["entry"]
    assert all(row["what"] in line for row, line in zip(facts["history"], lines[1:], strict=True))
    back = command("undo", "last", "--archive", days)
    assert back.out.startswith(f"Taken back: {last['entry']}. To have it again: lapdelta undo ")
    lines, _ = both("history", at=days)
    assert next(line for line in lines if last["entry"] in line).endswith("undone")
    again = command("undo", back.out.split()[-1], "--archive", days)
    assert again.status == 0
    lines, _ = both("history", at=days)
    assert not next(line for line in lines if line.startswith(last["entry"])).endswith("undone")


def test_laps_set_aside_are_listed_with_their_way_back(days):
    at = ("--event", EVENT, "--session", "P1", "--lap", 4)
    done = command("set-aside", *at, "--why", "held up", "--archive", days)
    assert done.out.startswith(f"Set aside: {EVENT}, P1, kart 07, lap 4. Take back with: lapdelta undo ")
    lines, facts = both("set-aside", "--event", EVENT, at=days)
    (row,) = facts["set_aside"]
    shown = [row[name] for name in ("event", "session", "kart", "lap", "lap_time_s", "why", "entry")]
    assert lines[1].split() == " ".join(map(str, shown)).split()
    assert (row["lap"], row["why"]) == (4, "held up")
    assert command("set-aside", "--kart", "12", "--archive", days).out.startswith("No laps are set aside")
    entry = command("put-back", *at, "--archive", days, "--json").json
    assert set(entry) == {"entry"}
    assert command("set-aside", "--event", EVENT, "--archive", days).out.startswith("No laps are set aside")
    for words in (["set-aside", "--lap", 4], ["put-back", "--lap", 4]):
        refused = command(*words, "--archive", days)
        assert refused.status == 2
        assert "Name the --session" in refused.err


def test_a_sealed_draw_from_drawing_to_its_test(days):
    drawn = command(
        "plan", "--event", EVENT, "--random-order", "--sessions-left", 8, "--archive", days, "--json"
    ).json
    name = drawn["draw"]["draw"]
    lines, facts = both("plan", "--draws", at=days)
    (row,) = [one for one in facts["draws"] if one["draw"] == name]
    assert lines[1].split() == [name, EVENT, row["kart"] or "-", "8", "-"]
    told = command("plan", "--next", name, "--archive", days).out.splitlines()
    letter = told[0].split(": ")[1][0]
    assert told[0] == f"Session 1 of 8: {letter}, the setting {'before' if letter == 'A' else 'after'}."
    assert told[1] == f"So far: {letter}; 7 still sealed."
    whole = command("plan", "--reveal", name, "--archive", days).out
    assert whole.startswith(f"The whole order: {letter} ")
    order = whole.removeprefix("The whole order: ").split(" (")[0].split()
    assert sorted(order) == list("AAAABBBB")
    sessions = [f"P{i}" for i in range(1, 9)]
    lines, facts = both("plan", "--test", name, "--event", EVENT, "--sessions", *sessions, at=days)
    assert lines[0] == f"Order run: {' '.join(facts['order'])} ({' '.join(sessions)})."
    assert lines[1] == facts["sentence"]
    assert lines[2] == "The usual answer for the same sessions:"
    assert list(facts["order"]) == order


def test_all_karts_of_a_season_stand_a_line_each(days):
    lines, facts = both("season", "--all-karts", at=days)
    assert lines[0].split("  ")[0] == "kart"
    assert "repeats to within" in lines[0]
    for line, row in zip(lines[1:], facts["karts"], strict=True):
        assert line.startswith(row["kart"])
        scatter = row["repeatability"]
        assert (f"{scatter['session_sd']:.2f} s" if scatter else "cannot be told") in line
        (response,) = row["responses"] or [None]
        best = (
            "-"
            if response is None
            else response["state"]
            if response["best"] is None
            else f"{response['best']:.1f} teeth"
        )
        assert line.endswith(best)


def test_archives_move_and_say_what_moved(days, tmp_path):
    written = command("backup", tmp_path / "all.zip", "--archive", days)
    assert written.out.endswith(f"To use it: lapdelta restore {tmp_path / 'all.zip'} --archive NEW\n")
    facts = command("backup", tmp_path / "again.zip", "--archive", days, "--json").json
    assert f"({facts['files']} files)" in written.out
    there = tmp_path / "other"
    merged = command("merge", days, "--archive", there)
    assert "came over, with 1906 laps and 2 files." in merged.out
    assert command("merge", days, "--archive", there).out == "Nothing came over: all of it is here already.\n"
    third = tmp_path / "third"
    command("import", *[str(path) for path in _files()[:1]], "--event", DAYS[0], "--archive", third)
    again = command("merge", days, "--archive", third)
    assert again.out.splitlines()[0] == "practice.csv: already here, left out."
    assert command("sessions", "--archive", third, "--json").json["laps"] == 1906


def _files():
    import sample_sessions

    return [sample_sessions.FOLDER / day / "practice.csv" for day in DAYS]


def test_a_dry_run_keeps_nothing_and_a_second_import_says_so(empty):
    file = _files()[0]
    dry = command("import", file, "--event", "day", "--dry-run", "--archive", empty)
    assert dry.out.splitlines()[-1] == "Dry run: nothing was kept."
    assert command("sessions", "--archive", empty, "--json").json["laps"] == 0
    assert command("import", file, "--event", "day", "--archive", empty).status == 0
    again = command("import", file, "--event", "day", "--archive", empty)
    assert "practice.csv: already in the archive, nothing added." in again.out
    assert command("units", "--archive", empty, "--json").json["units"]["pressure"] == "bar"


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["import", "FILE", "--answer", "event"], "'event' is not KEY=VALUE"),
        (["import", "FILE", "--answer", "date=yesterday"], "is no date; write it as 2026-05-16"),
        (["import", "FILE", "--answer", "event="], "The answer to 'event' is empty"),
        (["import", "FILE", "--answer", "date="], "The answer to 'date' is empty"),
        (["import", "FILE", "--answer", "column:Lap=joy"], "'joy' is no column we know; it is one of"),
        (["events", "--track", "Elm"], "Name the EVENT to write about"),
        (["setup", "axle=80"], "Name the EVENT and the SESSION first"),
        (["setup", "axle=80", "P1"], "Name the EVENT and the SESSION first"),
        (["setup", EVENT, "axle=80", "engine=11"], "Name the EVENT and the SESSION first"),
        (
            ["parts", "add", "sprocket", "80", "--bought", "soon"],
            "'soon' is not a date; write it as 2026-05-16",
        ),
        (["compare", "--before", "P1", "--after", "P2", "--margin", "much"], "'much' is not a number"),
        (["share", "--before", "P1", "--after", "P2", "--out", "page.doc"], "'page.doc' does not end in"),
        (["demo", "--archive", "s3://bucket/folder"], "The demo makes an archive on this machine"),
    ],
)
def test_what_is_typed_wrong_is_named(empty, words, told):
    words = [str(_files()[0]) if word == "FILE" else word for word in words]
    done = command(*words, *([] if "--archive" in words else ["--archive", empty]))
    assert done.status == 2
    assert told in done.err.replace("\n", " ")
    assert not empty.exists() or command("history", "--archive", empty, "--json").json["history"] == []


def test_a_session_may_have_a_value_in_its_name(empty):
    file = empty.parent / "day.csv"
    file.write_text("session,kart,lap,lap time\nrun=2,07,1,60.1\nrun=2,07,2,60.2\n")
    assert command("import", file, "--event", "a=b", "--archive", empty).status == 0
    assert command("setup", "a=b", "run=2", "axle=80", "--kart", "07", "--archive", empty).status == 0
    (row,) = command("setup", "a=b", "--archive", empty, "--json").json["setups"]
    assert (row["session"], row["axle_teeth"]) == ("run=2", 80)


@pytest.mark.parametrize("kind", [".png", ".pdf"])
def test_the_drivers_page_is_written_where_it_was_asked_for(days, tmp_path, kind):
    out = tmp_path / "new folder" / f"page{kind}"
    words = ("share", "--event", EVENT, "--before", "P1", "P4", "--after", "P2", "P3", "--out", out)
    assert command(*words, "--archive", days).out == f"Written: {out}\n"
    assert out.read_bytes()[:4] in (b"\x89PNG", b"%PDF")
    facts = command(*words, "--archive", days, "--json").json
    assert facts["pages"] == [str(out)]
    assert facts["finding"]["kart"] == "07"


def test_the_demo_goes_from_files_to_the_drivers_page(tmp_path):
    done = command("demo", "--no-dashboard", "--archive", tmp_path / "demo" / "archive")
    assert done.status == 0, done.err
    truth = json.loads(TRUTH.read_text(encoding="utf-8"))
    assert f"in {len(truth['files'])} files." in done.out
    for question in truth["questions"]:
        assert (f"{question['event']}: {question['about']}. Did it help?" in done.out) == question["demo"]
    page = tmp_path / "demo" / "driver-page"
    assert f"The driver's page of the first answer: {page / 'page.html'}" in done.out
    assert {path.name for path in page.iterdir()} == {"page.html", "page.png"}
    laps = command("sessions", "--archive", tmp_path / "demo" / "archive", "--json").json["laps"]
    assert f"\n{laps} laps in " in done.out


def test_help_lists_the_commands_in_the_order_of_a_days_work():
    done = command("--help")
    listed = [
        line.split()[0] for line in done.out.split("Commands:")[1].splitlines() if line.startswith("  ")
    ]
    assert [name for name in listed if name in COMMANDS] == list(COMMANDS)


def test_a_defect_is_told_plainly_with_its_details_in_a_file(capsys, monkeypatch, tmp_path):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    try:
        raise ZeroDivisionError("the details")
    except ZeroDivisionError as error:
        entry._report_defect(type(error), error, error.__traceback__, as_json=True)
    facts = json.loads(capsys.readouterr().out)["error"]
    assert facts["what"].startswith("Something went wrong that is our mistake, not yours.")
    (report,) = tmp_path.iterdir()
    assert facts["mend"] == f"Please send us {report}."
    assert "ZeroDivisionError: the details" in report.read_text()


@pytest.mark.parametrize("kind", [KeyboardInterrupt, click.Abort])
def test_being_stopped_is_no_defect(kind, capsys, monkeypatch, tmp_path, empty):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    if kind is KeyboardInterrupt:
        entry._report_defect(kind, kind(), None, as_json=False)
    else:
        monkeypatch.setattr(entry.group, "main", lambda *_, **__: (_ for _ in ()).throw(kind()))
        assert entry.run(["history"]) == 1
    assert capsys.readouterr().err == "Stopped.\nNothing more was written.\n"
    assert list(tmp_path.iterdir()) == []


def test_a_reader_that_goes_away_is_no_error(days):
    """As with ``| head -1``: no traceback, and the program ends by itself."""
    words = [sys.executable, "-m", "lapdelta", "history", "--json", "--archive", str(days)]
    with subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as program:
        program.stdout.close()
        assert program.stderr.read() == ""
        assert program.wait(60) == 1


def test_what_the_system_refuses_is_said_with_the_files_name():
    """Made here: where the tests run as root, nothing is refused."""
    assert entry._file_facts(PermissionError(13, "Permission denied", "/there/laps.csv")) == {
        "what": "The file cannot be used: Permission denied.",
        "where": "/there/laps.csv",
        "mend": "Name a place that is yours to read and write.",
    }
