"""A whole archive as one file, and back: a plain zip file that any program can open.

Beside the archive's own files it holds their SHA-256, so that a damaged backup is told before it is used.
"""

import hashlib
import json
import os
import shutil
import tempfile
import zipfile
from collections.abc import Generator
from contextlib import contextmanager
from pathlib import Path, PurePosixPath

from lapdelta.archive.durable import needs_folder, plainly, sync
from lapdelta.archive.merge import merge
from lapdelta.archive.place import MARKER
from lapdelta.archive.remote import remote_url
from lapdelta.archive.store import Store
from lapdelta.errors import ArchiveError
from lapdelta.units import units_file

#: Inside the backup: file name to SHA-256.
SUMS = "sha256.json"

_CHUNK_BYTES = 1 << 20

#: Files that belong to a running program, not to the archive.
_PASSING = ("lock", "pending.json")


def back_up(store: Store, target: Path) -> int:
    """Write the archive into one new file, readable by its owner only; how many files it holds.

    Changes by other programs wait meanwhile.

    Raises:
        ArchiveError: the file is there already, lies inside the archive, or cannot be written.
    """
    target = target.absolute()
    if target.exists():
        raise ArchiveError("This file is there already.", "Give the backup a new name.", str(target))
    needs_folder(target)
    place = store.place
    if place.url is not None:
        with _copy_of(store) as copy:
            return back_up(copy, target)
    if place.folder in target.parents:
        raise ArchiveError("A backup cannot lie in the archive.", "Name another folder.", str(target))
    with place.quiet(), plainly(target):
        handle, name = tempfile.mkstemp(prefix=f"{target.name}.", suffix=".tmp", dir=target.parent)
        try:
            with os.fdopen(handle, "wb") as raw, zipfile.ZipFile(raw, "w") as backup:
                sums = {path: _put(backup, place.folder, path) for path in _files(place.folder)}
                backup.writestr(SUMS, json.dumps(sums, indent=1))
            sync(Path(name))
            Path(name).replace(target)
        finally:
            Path(name).unlink(missing_ok=True)
        sync(target.parent)
    return len(sums)


@contextmanager
def _copy_of(store: Store) -> Generator[Store]:
    """An archive on this machine with all that counts in one that others may be changing meanwhile."""
    with tempfile.TemporaryDirectory(prefix="lapdelta-backup-") as folder:
        copy = Store(Path(folder) / "archive")
        copy.place.open()
        merge(copy, str(store.place.url))
        units = store.place.find(units_file(store.place.folder))
        if units is not None:
            copy.place.write(units_file(copy.place.folder), units)
        yield copy


def restore(source: Path, folder: Path) -> None:
    """Make a new archive in ``folder`` from a backup, all of it or nothing.

    Raises:
        ArchiveError: not a backup, a damaged one, or the folder holds something already.
    """
    if remote_url(str(folder)):
        raise ArchiveError(
            "A backup is restored into a folder on this machine.",
            "Do that, then take it to the object store: lapdelta merge FOLDER --new --archive ADDRESS",
            str(folder),
        )
    folder = folder.absolute()
    if not source.is_file():
        raise ArchiveError("There is no such file.", "Name a file of lapdelta backup.", str(source))
    with plainly(source):
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            mend = "Name a folder that is new or empty; to join two archives use lapdelta merge."
            raise ArchiveError("This folder is in use: it holds something already.", mend, str(folder))
        folder.parent.mkdir(parents=True, exist_ok=True)
        beside = Path(tempfile.mkdtemp(prefix=f"{folder.name}.", suffix=".tmp", dir=folder.parent))
        try:
            _unpack(source, beside)
            if folder.exists():
                folder.rmdir()
            beside.replace(folder)
        finally:
            shutil.rmtree(beside, ignore_errors=True)
        sync(folder.parent)


def _files(folder: Path) -> list[str]:
    """Names of the archive's files, the marker last: a folder without it is not an archive yet."""
    found = sorted(
        path.relative_to(folder).as_posix()
        for path in folder.rglob("*")
        if path.is_file() and path.name not in _PASSING and path.suffix != ".tmp"
    )
    return [*(name for name in found if name != MARKER), MARKER]


def _put(backup: zipfile.ZipFile, folder: Path, name: str) -> str:
    """Copy one file in, as it is (it is compressed already); its SHA-256."""
    digest = hashlib.sha256()
    with (folder / name).open("rb") as source, backup.open(name, "w", force_zip64=True) as target:
        while chunk := source.read(_CHUNK_BYTES):
            digest.update(chunk)
            target.write(chunk)
    return digest.hexdigest()


def _unpack(source: Path, folder: Path) -> None:
    """Take every file out, hold it against its hash, and put it on the disk."""
    try:
        with zipfile.ZipFile(source) as backup:
            sums: dict[str, str] = json.loads(backup.read(SUMS))
            if MARKER not in sums:
                raise _no_backup(source)
            for name, expected in sums.items():
                _take(backup, name, expected, folder, source)
    except (zipfile.BadZipFile, KeyError, ValueError, EOFError, NotImplementedError) as error:
        raise _no_backup(source) from error


def _take(backup: zipfile.ZipFile, name: str, expected: str, folder: Path, source: Path) -> None:
    inside = PurePosixPath(name)
    if inside.is_absolute() or ".." in inside.parts or "\\" in name or ":" in name:
        raise _no_backup(source)
    path = folder / inside
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    digest = hashlib.sha256()
    with backup.open(name) as packed, path.open("wb") as target:
        while chunk := packed.read(_CHUNK_BYTES):
            digest.update(chunk)
            target.write(chunk)
    sync(path)
    if digest.hexdigest() != expected:
        raise ArchiveError("This backup is damaged.", "Use another one.", f"{source}, {name}")


def _no_backup(source: Path) -> ArchiveError:
    return ArchiveError(
        "This is not a whole backup of an archive.", "Name a file of lapdelta backup.", str(source)
    )
