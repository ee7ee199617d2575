"""Where an archive lives, and what makes a folder one."""

import json
from pathlib import Path

from platformdirs import user_data_path

from lapdelta.archive.durable import plainly, write_durably
from lapdelta.errors import ArchiveError

#: Number of the on-disk design; raised when an older lapdelta could no longer read the folder.
FORMAT = 1

MARKER = "lapdelta-archive.json"

#: What stands in that file.
MARKING = json.dumps({"format": FORMAT, "what": "lap times kept by lapdelta, Delta Lake tables"}).encode()


def default_folder() -> Path:
    """The archive's folder when none is named: the platform's user data folder."""
    return user_data_path("lapdelta", appauthor=False) / "archive"


def open_folder(folder: Path) -> None:
    """Make the folder an archive if it is new or empty, else check that it is one.

    A new folder is readable by its owner only (mode 0700): lap files hold names of minors.

    Raises:
        ArchiveError: the folder cannot be made or read, holds something else, or is of a newer lapdelta.
    """
    marker = folder / MARKER
    with plainly(folder):
        if marker.is_file():
            check_marking(marker.read_bytes(), str(marker))
            return
        if folder.exists() and not folder.is_dir():
            raise ArchiveError("This is a file, not a folder.", "Name a folder for the archive.", str(folder))
        if folder.is_dir() and any(_foreign(path) for path in folder.iterdir()):
            raise ArchiveError(
                "This folder holds other things and is not an archive.",
                "Name the archive's folder, or a new or empty one.",
                str(folder),
            )
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        write_durably(marker, MARKING)


def _foreign(path: Path) -> bool:
    """True for what a start that was cut short cannot have left behind."""
    return not path.name.startswith(MARKER)


def check_marking(marking: bytes, where: str) -> None:
    """Refuse a marker that is damaged or of a newer design."""
    try:
        found = json.loads(marking)["format"]
    except (ValueError, KeyError, TypeError) as error:
        raise ArchiveError(
            "The file that marks an archive is damaged.",
            f'Put {{"format": {FORMAT}}} back into it, or take it from a backup.',
            where,
        ) from error
    if not isinstance(found, int) or found > FORMAT:
        raise ArchiveError(
            f"This archive was written by a newer lapdelta (design {found}, this one knows {FORMAT}).",
            "Update lapdelta.",
            where,
        )
