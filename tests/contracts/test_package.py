"""What is shipped: the wheel and the source distribution hold what they must, and the wheel alone works."""

import json
import re
import subprocess
import sys
import tarfile
import tomllib
import zipfile
from email.parser import HeaderParser
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
PACKAGES = ("lapdelta", "dashboard", "sample_sessions")


def files_of(*names):
    """Files below these names that a build must take along: everything but caches."""
    found = [
        file
        for name in names
        for file in ((ROOT / name).rglob("*") if (ROOT / name).is_dir() else [ROOT / name])
    ]
    return {file.relative_to(ROOT).as_posix() for file in found if file.is_file() and file.suffix != ".pyc"}


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    """The wheel and the source distribution, built offline by the build backend."""
    folder = tmp_path_factory.mktemp("built")
    command = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-t", "sdist", "-d", str(folder)]
    subprocess.run(command, cwd=ROOT, check=True, capture_output=True)
    (wheel,) = folder.glob("*.whl")
    (source,) = folder.glob("*.tar.gz")
    return wheel, source


def test_the_wheel_holds_the_packages_and_nothing_else(built):
    with zipfile.ZipFile(built[0]) as wheel:
        names = {name for name in wheel.namelist() if ".dist-info/" not in name}
    assert files_of(*PACKAGES) <= names
    assert not [name for name in names if name.split("/")[0] not in PACKAGES]
    assert not [name for name in names if "__pycache__" in name]


def test_type_information_ships(built):
    with zipfile.ZipFile(built[0]) as wheel:
        assert "lapdelta/py.typed" in wheel.namelist()


def test_the_wheel_says_who_can_use_it(built):
    with zipfile.ZipFile(built[0]) as wheel:
        (metadata,) = (name for name in wheel.namelist() if name.endswith(".dist-info/METADATA"))
        (entries,) = (name for name in wheel.namelist() if name.endswith("/entry_points.txt"))
        said = HeaderParser().parsestr(wheel.read(metadata).decode())
        assert "lapdelta = lapdelta.cli:main" in wheel.read(entries).decode()
    assert said["Requires-Python"] == PROJECT["requires-python"]
    needed = {re.match(r"[\w.-]+", line)[0] for line in said.get_all("Requires-Dist") if "extra" not in line}
    assert needed == {re.match(r"[\w.-]+", line)[0] for line in PROJECT["dependencies"]}


def test_the_source_distribution_can_be_built_and_tested_again(built):
    with tarfile.open(built[1]) as source:
        names = {name.split("/", 1)[1] for name in source.getnames() if "/" in name}
    assert files_of(*PACKAGES, "tests", "README.md", "DEVELOPERS.md", "CHANGELOG.md", "LICENSE") <= names
    assert "pyproject.toml" in names


def test_the_wheel_alone_reads_and_keeps_in_another_folder(built, tmp_path):
    with zipfile.ZipFile(built[0]) as wheel:
        wheel.extractall(tmp_path / "installed")
    file = tmp_path / "installed" / "sample_sessions" / "2025-06-15" / "P1.csv"
    words = ["import", str(file), "--event", "day", "--json", "--archive", str(tmp_path / "archive")]
    code = (
        f"import sys; sys.path.insert(0, {str(tmp_path / 'installed')!r})\n"
        "import lapdelta; print(lapdelta.__file__, file=sys.stderr)\n"
        f"from lapdelta.cli import main; main({words!r})"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=tmp_path, capture_output=True, check=False)
    assert done.returncode == 0, done.stderr.decode()
    assert str(tmp_path / "installed") in done.stderr.decode()
    assert json.loads(done.stdout)["kept"][0]["laps_added"]
