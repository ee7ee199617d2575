"""README and DEVELOPERS.md say what is so: the commands exist, the map names every module."""

import re
from pathlib import Path

from module_map import ROOMS, the_map, written

from lapdelta.cli.main import COMMANDS

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
CHANGELOG = (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")


def test_the_map_is_what_the_modules_say_of_themselves():
    assert written(DEVELOPERS) == the_map(), "run: python tests/module_map.py"


def test_the_map_has_every_package():
    packages = {file.parent.relative_to(ROOT).as_posix() for file in (ROOT / "lapdelta").rglob("__init__.py")}
    assert packages <= set(ROOMS)


def test_readme_opens_with_the_job_in_one_paragraph():
    title, job, *_ = README.split("\n\n")
    assert title == "# lapdelta"
    assert len(job.split()) > 60
    assert not job.startswith(("#", "-", "|", "```"))


def test_readme_has_the_two_commands_each_on_one_line():
    for name, words in (("demo", "lapdelta demo"), ("tests", "pytest")):
        block = re.search(rf"<!-- command: {name} -->\n```sh\n(.+)\n```\n", README)
        assert block
        assert "python3 -m venv" in block[1]
        assert "pip install" in block[1]
        assert words in block[1]


def test_every_command_in_the_readme_exists():
    used = set(re.findall(r"^lapdelta ([a-z-]+)", README, re.M)) | set(
        re.findall(r"`lapdelta ([a-z-]+)", README)
    )
    assert used
    assert used <= set(COMMANDS)


def test_every_command_is_in_the_readme():
    missing = [name for name in COMMANDS if not re.search(rf"lapdelta {name}\b|`{name}`", README)]
    assert not missing, f"not in README.md: {missing}"


def test_nothing_else_lies_at_the_top():
    allowed = {
        "README.md", "DEVELOPERS.md", "CHANGELOG.md", "LICENSE", "pyproject.toml", "uv.lock",
        "lapdelta", "dashboard", "sample_sessions", "tests",
    }  # fmt: skip
    made = {"build", "dist", "mutants"}  # by tools, ignored by git
    found = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    assert found <= allowed | made


def test_the_changelog_has_a_line_for_what_is_unreleased():
    assert re.search(r"^## Unreleased\n- ", CHANGELOG, re.M)
