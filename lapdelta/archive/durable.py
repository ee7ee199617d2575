"""Files that are whole or not there, and what the system says when one cannot be written."""

import errno
import os
import re
import tempfile
from collections.abc import Generator
from contextlib import contextmanager
from pathlib import Path

import polars as pl
from deltalake.exceptions import DeltaError

from lapdelta.errors import ArchiveError

_FULL = (errno.ENOSPC, errno.EFBIG, errno.EDQUOT)
_FORBIDDEN = (errno.EACCES, errno.EPERM, errno.EROFS)

#: How a terminal is told to change colour, and the arrow that goes with it.
_COLOURS = re.compile("\x1b\\[\\d*m|\u21b3")


def write_durably(path: Path, data: bytes | memoryview) -> None:
    """Write a file that is there as a whole, on the disk, or not at all."""
    handle, temporary = tempfile.mkstemp(prefix=f"{path.name}.", suffix=".tmp", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        Path(temporary).replace(path)
    except BaseException:
        Path(temporary).unlink(missing_ok=True)
        raise
    sync(path.parent)


def needs_folder(target: Path) -> None:
    """Raise where a new file is to go into a folder that is not there.

    Raises:
        ArchiveError: it names the folder.
    """
    folder = target.absolute().parent
    if not folder.is_dir():
        raise ArchiveError("There is no such folder.", "Make it first, or name another.", str(folder))


def sync(path: Path) -> None:
    """Have the system put a written file, or the names in a folder, on the disk."""
    if os.name == "nt" and path.is_dir():
        return  # Windows has no handle to a folder, and writes names at once
    handle = os.open(path, os.O_RDWR if path.is_file() else os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


@contextmanager
def plainly(place: Path | str) -> Generator[None]:
    """Say in plain words what the system, Delta or Parquet could not do at that place.

    Raises:
        ArchiveError: instead of OSError, DeltaError and polars' error for a bad file.
    """
    try:
        yield
    except (OSError, DeltaError, pl.exceptions.ComputeError) as error:
        raise _plain(error, place) from error


def _plain(error: Exception, place: Path | str) -> ArchiveError:
    number = error.errno if isinstance(error, OSError) else None
    text = plain_text(error)
    where = str(error.filename) if isinstance(error, OSError) and error.filename else str(place)
    if number in _FULL or "No space left" in text or "File too large" in text:
        return ArchiveError(
            "The disk is full, or files there may not grow further. Nothing was changed.",
            "Make room on the disk and do it again.",
            where,
        )
    if number in _FORBIDDEN or "Permission denied" in text or "Read-only file system" in text:
        return ArchiveError(
            "The archive cannot be read or written here.",
            "Name another folder, or give yourself the right to write in this one.",
            where,
        )
    if "://" in where and not isinstance(error, FileNotFoundError):
        return store_failed(error, where)
    return ArchiveError(
        f"A file of the archive is damaged, missing or cannot be used ({text[:300]}).",
        "Run lapdelta check on the archive, and put the file back from a backup.",
        where,
    )


def store_failed(error: Exception, where: str) -> ArchiveError:
    """The error for what an object store refused, or did not answer."""
    return ArchiveError(
        f"The object store did not do what it was asked ({plain_text(error)[:300]}).",
        "See to the connection and the settings of the store, then do it again.",
        where,
    )


def plain_text(error: Exception) -> str:
    """The words of an error in one line, without colours and what is for programmers only."""
    return " ".join(_COLOURS.sub("", str(error)).split("Debug source")[0].split())
