"""A real limit of the system on file sizes stands for a full disk: the error is clear and nothing is lost."""

import os
import resource
import subprocess
import sys
from pathlib import Path

import pytest
from readings_kit import make_laps, make_reading

from lapdelta.archive import Archive

_LIMITED = """
import resource, signal, sys
sys.path.insert(0, {tests!r})
from readings_kit import make_laps, make_reading
from lapdelta.archive import Archive
from lapdelta.errors import ArchiveError
archive = Archive({folder!r})
archive.laps()
reading = make_reading(make_laps(range(100, 400), source="large.csv"), source_name="large.csv")
archive.put_event("warm", notes="all modules are loaded, and no table has to be made")
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, ({limit}, {limit}))
try:
    archive.add(reading)
    print("added")
except ArchiveError as error:
    print(error.what)
"""

_FULL = "The disk is full, or files there may not grow further. Nothing was changed."


@pytest.mark.parametrize("limit", [600, 8_000])
def test_files_that_may_not_grow_change_nothing(tmp_path: Path, limit: int) -> None:
    assert resource.getrlimit(resource.RLIMIT_FSIZE)[0] == resource.RLIM_INFINITY
    archive = Archive(tmp_path / "kept")
    archive.add(make_reading(make_laps(range(1, 9))))
    root = Path(__file__).parent.parent.parent
    code = _LIMITED.format(tests=str(root / "tests"), folder=str(archive.folder), limit=limit)
    path = os.pathsep.join([str(root), os.environ.get("PYTHONPATH", "")])
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "PYTHONPATH": path},
    )
    assert done.stdout.strip() == _FULL, done.stderr
    again = Archive(archive.folder)
    assert again.laps().height == 48
    assert again.history().height == 2
    assert again.check() == ()
    assert again.add(make_reading(make_laps(range(100, 400)))).laps_added == 1800
