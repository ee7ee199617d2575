"""The bytes of one timing file: literal path, regular file, caps before anything is decoded, known formats refused."""

import hashlib
import os
import re
import stat
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from io import FileIO
from pathlib import Path, PurePath
from typing import BinaryIO

from lapdelta.errors import UnreadableFile

#: Largest file that is read, in bytes: some 20 million laps, far more than any timing file holds.
LARGEST_FILE = 1 << 30
#: Longest line that is read, in bytes: a record of laps has hundreds, a column a kart some thousands.
LONGEST_LINE = 1 << 20
#: Largest file whose bytes are held; those of a larger one are read again where they are needed.
LARGEST_HELD = 16 << 20
_CHUNK = 1 << 20
_HEAD = 4096
#: Bytes before the end of a block in which the end of a line is sought.
_LOOK_BACK = 1 << 14

_EXPORT = "Open it in the program that made it and save it as CSV or text, then read that file."
_KNOWN_FORMATS: tuple[tuple[bytes, str], ...] = (
    (b"PK\x05\x06", "an empty zip archive"),
    (b"\x1f\x8b", "a gzip-compressed file"),
    (b"BZh", "a bzip2-compressed file"),
    (b"\xfd7zXZ\x00", "an xz-compressed file"),
    (b"7z\xbc\xaf\x27\x1c", "a 7z archive"),
    (b"Rar!", "a rar archive"),
    (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "an old spreadsheet or office document"),
    (b"%PDF", "a PDF document"),
    (b"\x89PNG", "a PNG picture"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"GIF8", "a GIF picture"),
    (b"SQLite format 3\x00", "a database file"),
    (b"PAR1", "a Parquet file"),
    (b"\x7fELF", "a program"),
    (b"{\\rtf", "a rich-text document"),
)


@dataclass(frozen=True)
class Place:
    """A file on a disk, with its size (bytes) and when it was written last (ns), as they were at the first look."""

    path: Path
    size: int
    written_ns: int

    def changed(self, state: os.stat_result) -> bool:
        """Whether it is not the file of the first look."""
        return (state.st_size, state.st_mtime_ns) != (self.size, self.written_ns)


class Source:
    """A file: its base name, its bytes or where they stay and are read anew, and their SHA-256."""

    def __init__(self, name: str, content: bytes | Place, whole: "Source | None" = None) -> None:
        """``whole``: the file that these bytes are the head of."""
        self.name, self.content, self.whole = name, content, whole
        self._sha256: str | None = None

    @property
    def stem(self) -> str:
        """The base name without its last suffix."""
        return PurePath(self.name).stem or self.name

    @property
    def sha256(self) -> str:
        """Of the whole file; a large one is read for it unless its blocks were all read before."""
        if self.whole is not None:
            return self.whole.sha256
        if self._sha256 is None:
            digest = hashlib.sha256()
            for block in self.blocks():
                digest.update(block)
            self._sha256 = digest.hexdigest()
        return self._sha256

    @property
    def data(self) -> bytes:
        """All bytes; raises UnreadableFile if a file that was not held has changed."""
        return self.content if isinstance(self.content, bytes) else b"".join(self.blocks())

    def blocks(self, size: int = _CHUNK) -> Iterator[bytes]:
        """The bytes in blocks of about that size, which end with a line where that can be seen.

        Raises UnreadableFile in the end if a file that was not held has changed since it was looked at first.
        """
        if isinstance(self.content, bytes):
            for at in range(0, len(self.content), size):
                yield self.content[at : at + size]
            return
        digest = hashlib.sha256()
        try:
            with self.content.path.open("rb", buffering=0) as file:
                while block := file.read(_whole_lines(file, size)):
                    digest.update(block)
                    yield block
                changed = self.content.changed(os.fstat(file.fileno()))
        except OSError:
            raise _changed(self.name) from None
        if changed or self._sha256 not in (None, digest.hexdigest()):
            raise _changed(self.name)
        self._sha256 = digest.hexdigest()


def _whole_lines(file: FileIO, size: int) -> int:
    """How many of the next ``size`` bytes are whole lines; all of them where no line ends near."""
    if size <= _LOOK_BACK:
        return size
    start = file.tell()
    file.seek(start + size - _LOOK_BACK)
    last = file.read(_LOOK_BACK).rfind(b"\n")
    file.seek(start)
    return size if last < 0 else size - _LOOK_BACK + last + 1


def _changed(shown: str) -> UnreadableFile:
    return UnreadableFile("The file was moved or changed while it was in use.", "Read it again.", shown)


def load(
    path_or_bytes: str | os.PathLike[str] | bytes | bytearray | memoryview, name: str | None = None
) -> Source:
    """The bytes behind a path, or the bytes given; raises UnreadableFile for whatever is no text file."""
    if isinstance(path_or_bytes, (bytes, bytearray, memoryview)):
        data = bytes(path_or_bytes)
        shown = PurePath(name).name if name else "unnamed.csv"
        _refuse_size(len(data), shown)
        _refuse_long_lines(data, shown)
        _refuse_format(data[:_HEAD], shown)
        return Source(shown, data)
    shown = PurePath(name).name if name else PurePath(path_or_bytes).name or str(path_or_bytes)
    return _read_regular_file(path_or_bytes, shown)


def _read_regular_file(path: str | os.PathLike[str], shown: str) -> Source:
    handle = _opened(path, shown)
    try:
        with os.fdopen(handle, "rb") as file:
            state = os.fstat(file.fileno())
            if not stat.S_ISREG(state.st_mode):
                raise _not_regular(shown, stat.S_ISDIR(state.st_mode))
            _refuse_size(state.st_size, shown)
            _refuse_format(file.read(_HEAD), shown)
            file.seek(0)
            place = Place(Path(path).absolute(), state.st_size, state.st_mtime_ns)
            return _taken_in(file, place, shown)
    except IsADirectoryError:
        raise _not_regular(shown, True) from None
    except OSError:
        raise UnreadableFile(
            "The file could not be read to its end.", "Copy it to this computer and try again.", shown
        ) from None


def _opened(path: str | os.PathLike[str], shown: str) -> int:
    try:
        return os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    except FileNotFoundError:
        raise UnreadableFile("There is no such file.", "Check the name and the folder.", shown) from None
    except IsADirectoryError:
        raise _not_regular(shown, True) from None
    except PermissionError:
        if Path(path).is_dir():
            raise _not_regular(shown, True) from None
        raise UnreadableFile(
            "The file may not be read.", "Ask for the right to read it, or copy it.", shown
        ) from None
    except (OSError, ValueError):
        raise UnreadableFile(
            "The file cannot be opened.", "Check the name; a link may point to itself.", shown
        ) from None


def _taken_in(file: BinaryIO, place: Place, shown: str) -> Source:
    """Scan the file; hold its bytes unless it is a large one."""
    held = place.size <= LARGEST_HELD
    kept: list[bytes] = []
    size = 0

    def chunks() -> Iterator[bytes]:
        nonlocal size
        while chunk := file.read(_CHUNK):
            size += len(chunk)
            _refuse_size(size, shown)  # it may grow while it is read
            if held:
                kept.append(chunk)
            yield chunk

    _scan_line_lengths(chunks(), shown)
    return Source(shown, b"".join(kept) if held else place)


def _not_regular(shown: str, folder: bool) -> UnreadableFile:
    if folder:
        return UnreadableFile("This is a folder, not a file.", "Name the timing file inside it.", shown)
    return UnreadableFile("This is a pipe or a device, not a file.", "Save the data to a file first.", shown)


def _refuse_size(size: int, shown: str) -> None:
    if size == 0:
        raise UnreadableFile("The file is empty.", "Export the laps again.", shown)
    if size > LARGEST_FILE:
        raise UnreadableFile(
            f"The file has {size / 2**30:.1f} GB; the largest that is read has 1 GB.",
            "Split it by day.",
            shown,
        )


def _refuse_long_lines(data: bytes, shown: str) -> None:
    view = memoryview(data)
    _scan_line_lengths((bytes(view[at : at + _CHUNK]) for at in range(0, len(data), _CHUNK)), shown)


def _scan_line_lengths(chunks: Iterable[bytes], shown: str) -> None:
    """Refuse a line of more than LONGEST_LINE bytes without ever holding it."""
    open_length = 0
    for chunk in chunks:
        first = re.search(rb"[\r\n]", chunk)
        if (open_length + (first.start() if first else len(chunk))) > LONGEST_LINE:
            raise UnreadableFile(
                "A line of this file is longer than 1 MB, so it is no table of laps.",
                "Export the laps again, a lap a line.",
                shown,
            )
        last = max(chunk.rfind(b"\n"), chunk.rfind(b"\r"))
        open_length = open_length + len(chunk) if last < 0 else len(chunk) - last - 1


def _refuse_format(head: bytes, shown: str) -> None:
    for magic, what in _KNOWN_FORMATS:
        if head.startswith(magic):
            raise UnreadableFile(f"This is {what}, not a text file of laps.", _EXPORT, shown)
    if head.startswith(b"PK\x03\x04"):
        what = "a spreadsheet (xlsx)" if b"[Content_Types]" in head or b"xl/" in head else "a zip archive"
        raise UnreadableFile(f"This is {what}, not a text file of laps.", _EXPORT, shown)
    start = head.lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    if re.match(rb"<!doctype html|<html|<head|<body|<table|<div|<\?xml|<!--|<svg", start):
        raise UnreadableFile(
            "This is a web page or XML, not a text file of laps.", "Save or export the laps as CSV.", shown
        )
    if re.match(rb"\{\s*(\"|\}|$)|\[\s*(\{|\[|\"[^\]\n]*\"\s*,\s*$|\]\s*$|$)", start):
        raise UnreadableFile(
            "This is JSON, not a text file of laps.", "Save or export the laps as CSV.", shown
        )
