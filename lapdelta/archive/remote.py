"""An archive in an object store (``s3://...``): the same tables and files, changed without a lock.

A change adds its rows first and its row in ``entries`` last, there as here. That last commit is made only if
``entries`` still has the version that the change began with: the store writes the next file of that table's log
only if there is none of that name. So of two changes begun on the same state one is kept and the other knows, and
what was decided on an older state (these laps are new) never counts. Rows whose last step never came do not count.
"""

import os
import re
import threading
from collections.abc import Callable, Generator, Iterable
from contextlib import contextmanager, suppress
from io import BytesIO
from pathlib import Path

import polars as pl
from deltalake import DeltaTable
from deltalake.exceptions import DeltaError, TableNotFoundError
from deltalake.transaction import AddAction, RemoveAction

from lapdelta.archive.compact import FAN_IN, merge_small_files
from lapdelta.archive.delta import Table, write_data
from lapdelta.archive.durable import plain_text, plainly
from lapdelta.archive.lock import PATIENCE_S, ArchiveBusy, Overtaken
from lapdelta.archive.objects import Objects, has_client
from lapdelta.archive.place import MARKER, MARKING, check_marking
from lapdelta.archive.schema import KINDS, Kind
from lapdelta.archive.store import Change, Place, take_out
from lapdelta.errors import ArchiveError

#: A path type may have taken one of the two strokes away.
_REMOTE = re.compile(r"(s3|s3a|gs|az|abfs|abfss):[/\\]{1,2}(.+)", re.DOTALL)


def remote_url(location: str) -> str | None:
    """The location as a URL if it is in an object store, else None."""
    found = _REMOTE.fullmatch(location)
    if found is None:
        return None
    rest = found[2].replace("\\", "/").rstrip("/")
    return f"{found[1]}://{rest}"


def place_at(folder: str | Path) -> Place:
    """The place of that name, here or in an object store; nothing is looked for yet."""
    url = remote_url(str(folder))
    return Place.at(Path(folder).absolute()) if url is None else RemotePlace(url)


class RemotePlace(Place):
    """An address in an object store and the open handles of its tables."""

    def __init__(self, url: str) -> None:
        """Nothing is asked of the store yet."""
        tables = {name: RemoteTable(url, name, kind, self._client) for name, kind in KINDS.items()}
        super().__init__(Path(url), dict(tables), url)  # the path only names things beneath it
        self._entries = tables["entries"]
        self.address = url
        self._objects: Objects | None = None
        self._guard = threading.Lock()
        self._found: dict[str, bytes | None] = {}
        self._exclusive = False

    def open(self, *, new: bool = False) -> None:
        """See that there is an archive; where there is none, make a ``new`` one.

        Raises:
            ArchiveError: there is none, or it cannot be reached.
        """
        if self._entries.refresh() >= 0:
            return
        if not new:
            raise ArchiveError(
                "There is no archive here.",
                "See to the address, or make a new one there: lapdelta import FILE --new --archive ADDRESS",
                self.address,
            )
        self._must_be_exclusive()
        self._entries.make()

    def has(self, path: Path) -> bool:
        """Whether that file of the archive is there."""
        return self._client().size_of(self._name(path)) is not None

    def read(self, path: Path) -> bytes:
        """A file of the archive."""
        with plainly(f"{self.address}/{self._name(path)}"):
            return self._client().read(self._name(path))

    def find(self, path: Path) -> bytes | None:
        """A small file if it is there, as it was when first looked for; None too without the client library."""
        name = self._name(path)
        if name not in self._found:
            self._found[name] = None
            with suppress(FileNotFoundError):
                self._found[name] = self._client().read(name) if has_client() else None
        return self._found[name]

    def write(self, path: Path, data: bytes | memoryview) -> None:
        """Write a file of the archive: there as a whole, or not at all."""
        self._client().write(self._name(path), data)
        self._found.pop(self._name(path), None)

    def writable(self) -> bool:
        """Whether this user may make changes."""
        try:
            self._must_be_exclusive()
        except ArchiveError:
            return False
        return True

    @contextmanager
    def lock(self, patience_s: float = PATIENCE_S) -> Generator[None]:
        """One change at a time of this program's; what others do is told at the end."""
        if not self._guard.acquire(timeout=patience_s):
            raise ArchiveBusy.after(patience_s, self.address)
        try:
            yield
        finally:
            self._guard.release()

    @contextmanager
    def quiet(self) -> Generator[None]:
        """Others may write meanwhile: rows of theirs count as a whole or not at all."""
        yield

    def note(self, change: Change, originals: list[str]) -> None:
        """Nothing: what a change cut short leaves there does not count, and is in nobody's way."""

    def begin(self, *, own_names: bool) -> dict[str, int]:
        """Versions of tables that must not have moved on when a change is committed.

        Args:
            own_names: whether the entry's id is the change's own; else somebody else may be writing rows of it
                just now, and no table it adds to may move on.
        """
        self._must_be_exclusive()
        names = ["entries"] if own_names else [*(name for name in KINDS if name != "entries"), "entries"]
        return {name: self.tables[name].refresh() for name in names}

    def end(self, change: Change) -> None:
        """Take out again what a change has not committed, unless the store left open whether it has.

        Neither that nor larger files are needed for anything to be right, so a store that will not goes unsaid.
        """
        with suppress(ArchiveError):
            if not change.last_step and change.own_names:
                for table in change.touched:
                    take_out(table, change.stem)
            for table in change.touched if change.last_step else ():
                if table.files().height >= FAN_IN:
                    merge_small_files(table, None, change.store.history().rows["entry"])

    def _client(self) -> Objects:
        if self._objects is None:
            self._objects = Objects(self.address)
        return self._objects

    def _name(self, path: Path) -> str:
        return path.relative_to(self.folder).as_posix()

    def _must_be_exclusive(self) -> None:
        """See once that the store tells two writers apart: it must refuse to make a file that is there.

        Raises:
            ArchiveError: it does not, or this user may not write.
        """
        if self._exclusive:
            return
        objects = self._client()
        if objects.create(MARKER, MARKING) and objects.create(MARKER, MARKING):
            raise ArchiveError(
                "This object store writes over what is there when told not to: two people could undo each other.",
                "Keep the archive on this machine, or in a store that heeds If-None-Match.",
                self.address,
            )
        check_marking(objects.read(MARKER), f"{self.address}/{MARKER}")
        self._exclusive = True


class RemoteTable(Table):
    """A table in an object store; it is asked for news at every look."""

    def __init__(self, url: str, name: str, kind: Kind, client: Callable[[], Objects]) -> None:
        """A handle for the table ``name`` under that URL; opened on first use. ``client``: of the objects there."""
        super().__init__(Path(url), name, kind)
        self.where = self.url = f"{url}/{name}"
        self._client = client
        self.options = {key.lower(): value for key, value in os.environ.items() if key.startswith("AWS_")}

    def refresh(self) -> int:
        """Take up what has been written there; the table's version, -1 if it is not there."""
        with self._guard, plainly(self.url):
            if self._handle is None:
                try:
                    self._handle = DeltaTable(self.url, storage_options=self.options)
                except TableNotFoundError:
                    return -1
                self._files = None
            else:
                before = self._handle.version()
                self._handle.update_incremental()
                self._files = self._files if self._handle.version() == before else None
            return self._handle.version()

    def at(self, name: str) -> Path | str:
        """Where the data file of that name lies."""
        return f"{self.url}/{name}"

    def size_of(self, name: str) -> int | None:
        """Bytes of a data file; None if it is not there."""
        return self._client().size_of(f"{self.name}/{name}")

    def make(self) -> None:
        """Make the table, empty; one that is there by now stays."""
        with self._guard, plainly(self.url):
            self._create()

    def _create(self) -> DeltaTable:
        """The new table, or the one that somebody else made meanwhile."""
        try:
            return self._create_at(self.url)
        except (DeltaError, OSError):
            if self.refresh() < 0 or self._handle is None:
                raise
            return self._handle

    def _write(self, rows: pl.DataFrame, stem: str, now_ms: int, changes: bool) -> Iterable[AddAction]:
        """A file an entry, named after it, so that rows brought over twice are the same file twice."""
        several = changes and rows["entry"].n_unique() > 1
        for own in rows.partition_by("entry", maintain_order=True) if several else [rows]:
            name = own.item(0, "entry") if changes and own.height else stem
            yield from super()._write(own, name, now_ms, changes)

    def _put(self, rows: pl.DataFrame, name: str) -> int:
        """Write one data file; its bytes. One of that name holds the same rows and stays."""
        packed = BytesIO()
        write_data(rows, packed)
        data = packed.getbuffer()
        made = self._client().create(f"{self.name}/{name}", data)
        return len(data) if made else self.size_of(name) or 0

    def _commit(
        self,
        handle: DeltaTable,
        actions: list[AddAction | RemoveAction],
        after: int | None,
        entries: pl.Series | None,
    ) -> None:
        """Put the actions into the log; a commit that seems to have failed is looked for there.

        Raises:
            Overtaken: the table had another version than ``after``, and nothing was committed.
            ArchiveError: it cannot be told.
        """
        try:
            super()._commit(handle, actions, after, entries)
        except (DeltaError, OSError) as error:
            if after is None:
                raise
            self._look_for(entries, after, error)

    def _look_for(self, entries: pl.Series | None, after: int, error: Exception) -> None:
        """Return if these entries are in the table after all."""
        try:
            decided = self.refresh() > after
            rows = self.scan(self.files()).select("entry").collect()["entry"] if decided else pl.Series()
        except (ArchiveError, OSError, pl.exceptions.ComputeError):
            decided, rows = False, pl.Series()
        if not decided:
            raise ArchiveError(
                f"The object store did not say whether the change was kept ({plain_text(error)[:300]}).",
                "Look at lapdelta history before doing it again.",
                self.url,
            ) from error
        if entries is None or not entries.is_in(rows.implode()).all():
            raise Overtaken.at(self.url) from error

    def _secure(self, version: int) -> None:
        """Nothing: what the store has confirmed is kept."""
