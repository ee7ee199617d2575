"""What scripts rely on: commands, exit status, one JSON object on stdout, errors as facts."""

import json
import subprocess
import sys

import pytest

from lapdelta.cli.main import COMMANDS

CLEAN = "session,kart,lap,lap time,date\n" + "".join(
    f"{session},{kart},{lap},{60 + kart / 100 + lap / 1000:.3f},2026-05-16\n"
    for session in ("P1", "P2")
    for kart in range(1, 6)
    for lap in range(1, 9)
)


def lapdelta(*words, cwd=None):
    done = subprocess.run(
        [sys.executable, "-m", "lapdelta", *map(str, words)], capture_output=True, text=True, cwd=cwd
    )
    assert "Traceback" not in done.stderr
    assert "our mistake" not in done.stderr + done.stdout
    return done


def json_of(done):
    lines = done.stdout.strip().splitlines()
    assert len(lines) == 1, done.stdout
    return json.loads(lines[0])


@pytest.fixture
def clean(tmp_path):
    file = tmp_path / "day.csv"
    file.write_text(CLEAN)
    return file


def test_help_lists_every_command_and_loads_nothing_heavy():
    code = (
        "import sys, json, io, contextlib\n"
        "from lapdelta.cli.main import run\n"
        "with contextlib.redirect_stdout(io.StringIO()) as out:\n"
        "    try: run(['--help'])\n"
        "    except SystemExit: pass\n"
        "print(json.dumps([out.getvalue(), sorted(sys.modules)]))"
    )
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    text, loaded = json.loads(done.stdout)
    for name in COMMANDS:
        assert f"\n  {name} " in text
    assert set(loaded).isdisjoint({"polars", "numpy", "scipy", "pyarrow", "deltalake", "altair", "streamlit"})


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_help_json_and_archive(command):
    done = lapdelta(command, "--help")
    assert done.returncode == 0
    words = done.stdout
    if command == "gearing":
        words += lapdelta(command, "chain", "--help").stdout
    assert "--json" in words
    assert "--archive" in words


def test_import_keeps_once_and_only_once(tmp_path, clean):
    archive = tmp_path / "archive"
    first = json_of(lapdelta("import", clean, "--archive", archive, "--json"))
    assert first["status"] == 0
    assert first["kept"][0]["laps_added"] == 80
    again = json_of(lapdelta("import", clean, "--archive", archive, "--json"))
    assert again["kept"][0]["already"] is True
    assert json_of(lapdelta("sessions", "--archive", archive, "--json"))["laps"] == 80


def test_import_exit_status(tmp_path, clean):
    archive = tmp_path / "archive"
    torn = tmp_path / "torn.csv"
    torn.write_text(CLEAN + "P2,3,9,DNF,2026-05-16\n")
    undated = tmp_path / "undated.csv"
    undated.write_text("session,kart,lap,lap time\nP1,07,1,60.1\nP1,07,2,60.2\n")
    assert lapdelta("import", clean, "--archive", archive).returncode == 0
    assert lapdelta("import", torn, "--archive", archive).returncode == 3
    assert lapdelta("import", undated, "--archive", archive).returncode == 4
    assert lapdelta("import", undated, tmp_path / "none.csv", "--archive", archive).returncode == 1
    assert lapdelta("import", "--archive", archive).returncode == 2
    assert lapdelta("import", undated, "--answer", "event=club day", "--archive", archive).returncode == 0


@pytest.mark.parametrize(
    ("name", "content"),
    [("none.csv", None), ("empty.csv", b""), ("photo.csv", b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 4),
     ("prose.csv", b"Dear all,\nsee you on Saturday.\n")],
)  # fmt: skip
def test_a_file_that_cannot_be_read_leaves_the_archive_as_it_was(tmp_path, clean, name, content):
    archive, bad = tmp_path / "archive", tmp_path / name
    if content is not None:
        bad.write_bytes(content)
    lapdelta("import", clean, "--archive", archive)
    before = json_of(lapdelta("sessions", "--archive", archive, "--json"))
    done = lapdelta("import", bad, "--archive", archive, "--json")
    assert done.returncode == 1
    error = json_of(done)["error"]
    assert set(error) == {"what", "where", "mend"}
    assert name in (error["where"] or "") + error["what"]
    plain = lapdelta("import", bad, "--archive", archive)
    assert error["what"] in plain.stderr
    assert json_of(lapdelta("sessions", "--archive", archive, "--json")) == before


@pytest.mark.parametrize(
    ("words", "status"),
    [
        (["compare", "--before", "P1", "--after", "P9", "--kart", "1"], 1),
        (["compare", "--before", "P1", "--after", "P2", "--kart", "99"], 1),
        (["compare", "--before", "P1", "--after", "P2", "--kart", "1", "--margin", "-1"], 1),
        (["compare", "--before", "P1", "--after", "P2", "--kart", "1", "--measure", "joy"], 1),
        (["compare", "--before", "P1", "--after", "P2", "--kart", "1", "--event", "nowhere"], 1),
        (["compare", "--before", "P1"], 2),
        (["undo", "no-such-entry"], 1),
        (["no-such-command"], 2),
        (["compare", "--before", "P1", "--after", "P2", "--kart", "1"], 0),
        (["compare", "--before", "P1", "--after", "P1", "--kart", "1"], 0),
    ],
)
def test_exit_status_and_error_object(tmp_path, clean, words, status):
    archive = tmp_path / "archive"
    assert lapdelta("import", clean, "--archive", archive).returncode == 0
    extra = [] if words[0] == "no-such-command" else ["--archive", archive]
    done = lapdelta(*words, *extra, "--json")
    assert done.returncode == status, done.stderr + done.stdout
    answer = json_of(done)
    assert ("error" in answer) == (status != 0)
    if status == 0:
        assert answer["verdict"] in {
            "not settled",
            "cannot be told",
            "faster",
            "slower",
            "no worthwhile difference",
        }


def test_sessions_may_be_named_in_any_of_three_ways(tmp_path, clean):
    archive = tmp_path / "archive"
    more = tmp_path / "more.csv"
    more.write_text(CLEAN.replace("P1", "P3").replace("P2", "P4"))
    lapdelta("import", clean, more, "--archive", archive)
    base = ["compare", "--kart", "1", "--archive", archive, "--json"]
    ways = [
        ["--before", "P1", "P4", "--after", "P2", "P3"],
        ["--before", "P1", "--before", "P4", "--after", "P2", "--after", "P3"],
        ["--before", "P1,P4", "--after", "P2,P3"],
    ]
    answers = [json_of(lapdelta(*base, *way)) for way in ways]
    assert answers[0]["before"] == ["P1", "P4"]
    assert answers[0] == answers[1] == answers[2]
