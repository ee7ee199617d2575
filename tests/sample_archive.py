"""An archive of two days of the sample season, made the way a user makes it; for tests of the pages."""

from pathlib import Path

import lapdelta
from lapdelta.setups import read_setup_csv
from sample_sessions import FOLDER

DAYS = ("2025-04-13", "2025-05-18")


def make_archive(folder: Path) -> lapdelta.Archive:
    """Two days, their setup sheet, and which kart is ours."""
    archive = lapdelta.Archive(folder)
    setups = read_setup_csv(FOLDER / "setup_sheet.csv")
    for day in DAYS:
        archive.add(lapdelta.read_timing(FOLDER / day / "practice.csv"), event=day)
        archive.put_event(day, our_kart="07")
    archive.put_setups(setups.filter(setups["event"].is_in(DAYS)))
    return archive
