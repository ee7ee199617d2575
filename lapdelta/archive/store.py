"""The tables of one archive together: what counts now, and a change as a whole.

A change holds the lock, notes on disk what it is about to do, adds its rows, and last adds its row to
``entries``. Whatever happens before that last step is cleared away by the next change or start.
"""

import json
import os
from collections.abc import Generator, Sequence
from contextlib import AbstractContextManager, contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import polars as pl

import lapdelta
from lapdelta.archive.compact import merge_small_files
from lapdelta.archive.delta import Table
from lapdelta.archive.durable import plainly, write_durably
from lapdelta.archive.entries import History
from lapdelta.archive.lock import PATIENCE_S, ArchiveBusy, Overtaken, locked
from lapdelta.archive.originals import SUFFIX
from lapdelta.archive.place import open_folder
from lapdelta.archive.schema import KINDS
from lapdelta.chunked import repeated

_PENDING = "pending.json"
_LOCK = "lock"
_ORIGINALS = "originals"


@dataclass(frozen=True)
class Place:
    """The folder and the open handles of its tables."""

    folder: Path
    tables: dict[str, Table]
    url: str | None = None

    @staticmethod
    def at(folder: Path) -> "Place":
        """Handles for every kind of table; none is opened yet."""
        return Place(folder, {name: Table(folder, name, kind) for name, kind in KINDS.items()})

    def open(self, *, new: bool = False) -> None:
        """See that there is an archive, and make a new or empty folder one."""
        open_folder(self.folder)

    def original(self, sha256: str) -> Path:
        """Where the bytes with that hash lie, compressed."""
        return self.folder / _ORIGINALS / f"{sha256}{SUFFIX}"

    def has(self, path: Path) -> bool:
        """Whether that file of the archive is there."""
        return path.is_file()

    def find(self, path: Path) -> bytes | None:
        """A small file of the archive if it is there."""
        return path.read_bytes() if path.is_file() else None

    def read(self, path: Path) -> bytes:
        """A file of the archive."""
        with plainly(path):
            return path.read_bytes()

    def write(self, path: Path, data: bytes | memoryview) -> None:
        """Write a file of the archive: there as a whole, or not at all."""
        with plainly(path):
            path.parent.mkdir(mode=0o700, exist_ok=True)
            write_durably(path, data)

    def writable(self) -> bool:
        """Whether this user may make changes."""
        return os.access(self.folder, os.W_OK)

    @property
    def pending(self) -> Path:
        """The note of a change under way."""
        return self.folder / _PENDING

    def lock(self, patience_s: float = PATIENCE_S) -> AbstractContextManager[None]:
        """Hold the archive's lock."""
        return locked(self.folder / _LOCK, patience_s)

    @contextmanager
    def quiet(self) -> Generator[None]:
        """Nobody writes meanwhile, and nothing unfinished lies about; without a lock where it is read-only."""
        if not self.writable():
            yield
            return
        with self.lock():
            settle(self)
            yield

    def note(self, change: "Change", originals: list[str]) -> None:
        """Write down what to clear away if this change is cut short."""
        note = {"entry": change.entry, "stem": change.stem, "originals": originals}
        with plainly(self.pending):
            write_durably(self.pending, json.dumps(note).encode())

    def begin(self, *, own_names: bool) -> dict[str, int]:
        """Make ready for a change; versions of tables that must not have moved on when it is committed.

        Args:
            own_names: whether the entry's id is the change's own, so that nobody else can write rows of it.
        """
        settle(self)
        try:
            for table in self.tables.values():
                merge_small_files(table, self.pending)
        except BaseException:
            settle(self)
            raise
        return {}

    def end(self, change: "Change") -> None:
        """Take out again what a change has not committed."""
        settle(self)


class Store:
    """Reads what counts, and makes changes."""

    def __init__(self, place: Place | Path) -> None:
        """Handles for the tables in that place or folder, opened on first use."""
        self.place = Place.at(place) if isinstance(place, Path) else place
        self._history: tuple[int, History] | None = None
        self._rows: dict[tuple[str, ...], tuple[tuple[int, int], pl.DataFrame]] = {}

    def history(self) -> History:
        """The entries as they are now. Refresh this before other tables: then no row of theirs is missed."""
        table = self.place.tables["entries"]
        version = table.refresh()
        if self._history is None or self._history[0] != version:
            with plainly(table.where):
                rows = table.scan(table.files()).collect()
            self._history = (version, History.of(rows))
        return self._history[1]

    def rows(self, name: str, columns: Sequence[str] | None = None) -> pl.DataFrame:
        """Rows of a small table that count, in the order of their entries; all columns for None."""
        history = self.history()
        table = self.place.tables[name]
        now = (self._history[0] if self._history else -1, table.refresh())
        wanted = list(columns or table.stored)
        version, found = self._rows.get((name, *wanted), ((-1, -1), None))
        if found is not None and version == now:
            return found
        shown = history.shown()
        with plainly(table.where):
            rows = table.scan(_committed(table.files(), shown)).select(wanted).collect()
        rows = rows.filter(pl.col("entry").is_in(shown.implode())).sort("entry", maintain_order=True)
        self._rows[(name, *wanted)] = (now, rows)
        return rows

    @contextmanager
    def changing(self, patience_s: float = PATIENCE_S, stem: str | None = None) -> Generator["Change"]:
        """Hold the lock for one change; what it has not committed at the end is taken out again."""
        with self.place.lock(patience_s):
            after = self.place.begin(own_names=stem is None)
            change = Change(self, self.history().next_id(), stem, after)
            try:
                yield change
            finally:
                self.place.end(change)

    def tidy(self) -> None:
        """At the start: clear what a killed program left behind.

        Not while somebody is writing, and not in a folder that can only be read: what is left there does
        not count, so it harms nobody.
        """
        if self.place.url is None and self.place.pending.exists() and self.place.writable():
            with suppress(ArchiveBusy), self.place.lock(patience_s=0.0):
                settle(self.place)


class Change:
    """Rows on their way into the archive, under one entry."""

    def __init__(self, store: Store, entry: str, stem: str | None, after: dict[str, int]) -> None:
        """A change under that new entry id, its files named ``stem`` (the id for None); the lock is held.

        ``after``: versions that tables must still have when it adds to them.
        """
        self.store = store
        self.entry = entry
        self.stem = stem or entry
        self.own_names = stem is None
        self.touched: list[Table] = []
        self.last_step = False  # begun, and perhaps taken
        self._after = after
        self._noted: list[str] | None = None

    def keep_original(self, sha256: str, packed: bytes | memoryview) -> None:
        """Store a file's bytes, packed already (``originals.pack``), under their hash, if they are not there yet."""
        place = self.store.place
        path = place.original(sha256)
        if place.has(path):
            return
        self._note(sha256)
        place.write(path, packed)

    def append(self, name: str, rows: pl.DataFrame) -> None:
        """Add rows (without the column entry) to a table."""
        self.append_whole(name, rows.with_columns(repeated(rows, "entry", self.entry, pl.String())))

    def append_whole(self, name: str, rows: pl.DataFrame) -> None:
        """Add rows that name their entries; once a table and change."""
        if rows.is_empty():
            return
        self._note()
        table = self.store.place.tables[name]
        table.refresh()
        self.touched.append(table)
        self.last_step = name == "entries"
        try:
            table.append(rows, self.stem, self._after.get(name))
        except Overtaken:
            self.last_step = False
            raise

    def commit(
        self,
        kind: str,
        what: str,
        why: str | None,
        rows: int,
        undo: tuple[str, str, bool] | None = None,
    ) -> str:
        """Add the row to ``entries`` that makes it all count; the entry's id.

        Args:
            kind: one word of what was done: import, setup, event, set aside, put back, undo.
            what: one plain phrase of what was done.
            why: the user's reason.
            rows: rows added.
            undo: for an undo: the entry taken back, its root, and whether the root counts now.
        """
        undoes, root, shown = undo or (None, None, None)
        row = {"at": datetime.now(UTC), "kind": kind, "what": what, "why": why, "rows": rows}
        row |= {"undoes": undoes, "root": root, "shown": shown, "version": lapdelta.__version__}
        schema = {name: KINDS["entries"].schema[name] for name in row}
        self.append("entries", pl.DataFrame([row], schema=schema))
        return self.entry

    def _note(self, original: str | None = None) -> None:
        """Write down what to clear away if this change is cut short."""
        if self._noted is not None and original is None:
            return
        self._noted = [*(self._noted or []), *([original] if original else [])]
        self.store.place.note(self, self._noted)


def settle(place: Place) -> None:
    """Clear away what the last change left unfinished; the caller holds the lock."""
    with plainly(place.pending):
        for path in place.folder.glob(f"{_PENDING}.*.tmp"):
            path.unlink()
        if not place.pending.exists():
            return
        note: dict[str, Any] = json.loads(place.pending.read_bytes())
    entry, stem = note["entry"], str(note["stem"])
    if entry is None:  # a merge of small files
        for table in place.tables.values():
            _delete_strays(table, stem)
    elif not _is_committed(place, entry):
        for table in place.tables.values():
            take_out(table, stem)
            _delete_strays(table, stem)
        for sha256 in note["originals"]:
            _drop_original(place, sha256)
    with plainly(place.pending):
        place.pending.unlink(missing_ok=True)


def _is_committed(place: Place, entry: str) -> bool:
    entries = place.tables["entries"]
    entries.refresh()
    with plainly(entries.path):
        return entries.scan(entries.files()).filter(pl.col("entry") == entry).collect().height > 0


def take_out(table: Table, stem: str) -> None:
    """Take an uncommitted change's files out of a table."""
    table.refresh()
    files = table.files()
    orphans = files.filter(pl.col("path").str.split("/").list.last() == f"{stem}.parquet")
    if orphans.height:
        table.swap(orphans, pl.DataFrame(schema=table.kind.schema), stem, changes=True)


def _delete_strays(table: Table, stem: str) -> None:
    """Delete files of that name which the table's log does not hold."""
    table.refresh()
    named = set(table.files()["path"])
    found = [path.relative_to(table.path).as_posix() for path in table.path.glob(f"**/{stem}.parquet")]
    table.delete_files(name for name in found if name not in named)


def _drop_original(place: Place, sha256: str) -> None:
    """Delete the bytes of a file that never came in."""
    readings = place.tables["readings"]
    readings.refresh()
    with plainly(readings.path):
        kept = readings.scan(readings.files()).filter(pl.col("sha256") == sha256).collect().height > 0
        path = place.original(sha256)
        for part in path.parent.glob(f"{path.name}.*.tmp"):
            part.unlink()
        if not kept:
            path.unlink(missing_ok=True)


def _committed(files: pl.DataFrame, shown: pl.Series) -> pl.DataFrame:
    """Leave out files that hold one entry only, which does not count (it may vanish while we read)."""
    lone = pl.col("first_entry") == pl.col("last_entry")
    return files.filter(~(lone & ~pl.col("first_entry").is_in(shown.implode())).fill_null(False))
