"""A made-up practice season: where its files lie. The people, circuits and numbers are invented.

One folder an event; the folder's name is the event's name. ``make_season.py`` writes all of it.
"""

from pathlib import Path

#: The folder that holds the sample season.
FOLDER = Path(__file__).resolve().parent
#: What was fitted: one row an event, session and kart (columns of the canonical setup table).
SETUP_SHEET = FOLDER / "setup_sheet.csv"
#: One row an event (columns of the canonical event table); ``our_kart`` is our number there.
EVENTS = FOLDER / "events.csv"
#: The made-up truth behind the files; used by tests, never by an answer.
TRUTH = FOLDER / "truth.json"


def timing_files() -> list[tuple[str, Path]]:
    """Every timing file as (event, path), events and files in order."""
    folders = sorted(path for path in FOLDER.iterdir() if path.is_dir() and path.name[:2] == "20")
    return [(folder.name, path) for folder in folders for path in sorted(folder.glob("*.csv"))]
