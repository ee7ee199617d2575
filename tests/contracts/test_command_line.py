"""What scripts rely on: commands, exit status, one JSON object on stdout, errors as facts."""

import json
import subprocess
import sys

import pytest

from lapdelta.cli.main import COMMANDS
from tests.command_in_process import command

CLEAN = "session,kart,lap,lap time,date\n" + "".join(
    f"{session},{kart},{lap},{60 + kart / 100 + lap / 1000:.3f},2026-05-16\n"
    for session in ("P1", "P2")
    for kart in range(1, 6)
    for lap in range(1, 9)
)


def in_a_process_of_its_own(*words):
    """Run ``python -m lapdelta`` as a script would."""
    words = [sys.executable, "-m", "lapdelta", *map(str, words)]
    done = subprocess.run(words, check=False, capture_output=True, text=True)
    assert "Traceback" not in done.stderr
    assert "our mistake" not in done.stderr + done.stdout
    return done


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


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help_json_and_archive(name):
    done = command(name, "--help")
    assert done.status == 0
    words = done.out
    if name == "gearing":
        words += command(name, "chain", "--help").out
    assert "--json" in words
    assert "--archive" in words


def test_a_process_of_its_own_gives_status_one_object_and_nothing_else(tmp_path, clean):
    place = ["--archive", tmp_path / "archive", "--json"]
    torn = tmp_path / "torn.csv"
    torn.write_text(CLEAN + "P2,3,9,DNF,2026-05-16\n")
    question = ["compare", "--before", "P1", "--after", "P2", "--kart"]
    for words, status in (
        (["import", torn], 3),
        ([*question, "1"], 0),
        ([*question, "99"], 1),
        (["no-such-command"], 2),
    ):
        done = in_a_process_of_its_own(*words, *(place if status != 2 else ["--json"]))
        assert done.returncode == status
        assert done.stderr == ""
        (line,) = done.stdout.splitlines()
        assert ("error" in json.loads(line)) == (status in (1, 2))


def test_import_keeps_once_and_only_once(tmp_path, clean):
    archive = tmp_path / "archive"
    first = command("import", clean, "--archive", archive, "--json").json
    assert first["status"] == 0
    assert first["kept"][0]["laps_added"] == 80
    again = command("import", clean, "--archive", archive, "--json").json
    assert again["kept"][0]["already"] is True
    assert command("sessions", "--archive", archive, "--json").json["laps"] == 80


def test_import_exit_status(tmp_path, clean):
    archive = tmp_path / "archive"
    torn = tmp_path / "torn.csv"
    torn.write_text(CLEAN + "P2,3,9,DNF,2026-05-16\n")
    undated = tmp_path / "undated.csv"
    undated.write_text("session,kart,lap,lap time\nP1,07,1,60.1\nP1,07,2,60.2\n")
    assert command("import", clean, "--archive", archive).status == 0
    assert command("import", torn, "--archive", archive).status == 3
    assert command("import", undated, "--archive", archive).status == 4
    assert command("import", undated, tmp_path / "none.csv", "--archive", archive).status == 1
    assert command("import", "--archive", archive).status == 2
    assert command("import", undated, "--answer", "event=club day", "--archive", archive).status == 0


@pytest.mark.parametrize(
    ("name", "content"),
    [("none.csv", None), ("empty.csv", b""), ("photo.csv", b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 4),
     ("prose.csv", b"Dear all,\nsee you on Saturday.\n")],
)  # fmt: skip
def test_a_file_that_cannot_be_read_leaves_the_archive_as_it_was(tmp_path, clean, name, content):
    archive, bad = tmp_path / "archive", tmp_path / name
    if content is not None:
        bad.write_bytes(content)
    command("import", clean, "--archive", archive)
    before = command("sessions", "--archive", archive, "--json").json
    done = command("import", bad, "--archive", archive, "--json")
    assert done.status == 1
    error = done.json["error"]
    assert set(error) == {"what", "where", "mend"}
    assert name in (error["where"] or "") + error["what"]
    plain = command("import", bad, "--archive", archive)
    assert error["what"] in plain.err
    assert command("sessions", "--archive", archive, "--json").json == before


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
    assert command("import", clean, "--archive", archive).status == 0
    extra = [] if words[0] == "no-such-command" else ["--archive", archive]
    done = command(*words, *extra, "--json")
    assert done.status == status, done.err + done.out
    answer = done.json
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
    command("import", clean, more, "--archive", archive)
    base = ["compare", "--kart", "1", "--archive", archive, "--json"]
    ways = [
        ["--before", "P1", "P4", "--after", "P2", "P3"],
        ["--before", "P1", "--before", "P4", "--after", "P2", "--after", "P3"],
        ["--before", "P1,P4", "--after", "P2,P3"],
    ]
    answers = [command(*base, *way).json for way in ways]
    assert answers[0]["before"] == ["P1", "P4"]
    assert answers[0] == answers[1] == answers[2]
