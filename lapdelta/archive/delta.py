"""One Delta table: append files, swap files, choose the files to read. Here on this machine's disk.

The data files are written here, by polars, sorted and named after their entry, and put into Delta's log with
statistics on ``entry`` and ``event``: so a look-up opens only the files that can hold its event.
"""

import json
import threading
import time
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import IO, Any

import polars as pl
from deltalake import CommitProperties, DeltaTable
from deltalake.transaction import AddAction, RemoveAction

from lapdelta.archive.durable import plainly, sync
from lapdelta.archive.lock import Overtaken
from lapdelta.archive.schema import Kind

_CONFIGURATION = {
    "delta.checkpointInterval": "10",
    "delta.logRetentionDuration": "interval 7 days",
    "delta.deletedFileRetentionDuration": "interval 1 days",
}

#: Rows a row group; a look-up of a day decodes one or two. A day is some 10^3 laps.
_ROW_GROUP = 20_000

_FILES = pl.Schema(
    {
        "path": pl.String(),
        "size_bytes": pl.Int64(),
        "rows": pl.Int64(),
        "first_entry": pl.String(),
        "last_entry": pl.String(),
        "first_event": pl.String(),
        "last_event": pl.String(),
        "part": pl.String(),
    }
)


class Table:
    """A handle that stays open. Appending and swapping need the archive's lock; reading does not."""

    def __init__(self, folder: Path, name: str, kind: Kind) -> None:
        """A handle for the table ``name`` in the archive's folder; opened on first use."""
        self.path = folder / name
        self.where: Path | str = self.path  # as it is named to the user
        self.name = name
        self.kind = kind
        self.stored = pl.Schema({n: t for n, t in kind.schema.items() if n != kind.partition})
        self.options: dict[str, str] | None = None
        self._handle: DeltaTable | None = None
        self._files: pl.DataFrame | None = None
        self._guard = threading.RLock()

    def refresh(self) -> int:
        """Take up what other programs have written; the table's version, -1 if it is not there yet."""
        with self._guard, plainly(self.where):
            if self._handle is None:
                if not (self.path / "_delta_log").is_dir() or not any(
                    (self.path / "_delta_log").glob("*.json")
                ):
                    return -1
                self._handle = DeltaTable(self.path)
                self._files = None
            elif self._log_file(self._handle.version() + 1).exists():
                self._handle.update_incremental()
                self._files = None
            return self._handle.version()

    def files(self) -> pl.DataFrame:
        """The data files of the version last refreshed to, with the range of entries and events in each."""
        with self._guard, plainly(self.where):
            if self._handle is None:
                return pl.DataFrame(schema=_FILES)
            if self._files is None:
                self._files = _file_list(self._handle, self.kind.partition)
            return self._files

    def scan(self, files: pl.DataFrame) -> pl.LazyFrame:
        """The rows of those files, without the partition column."""
        if files.is_empty():
            return pl.LazyFrame(schema=self.stored)
        return pl.scan_parquet(
            [str(self.at(name)) for name in files["path"]],
            schema=self.stored,
            missing_columns="insert",
            extra_columns="ignore",
            hive_partitioning=False,
            glob=False,
            storage_options=self.options,
        )

    def at(self, name: str) -> Path | str:
        """Where the data file of that name lies."""
        return self.path / name

    def size_of(self, name: str) -> int | None:
        """Bytes of a data file; None if it is not there."""
        path = self.path / name
        return path.stat().st_size if path.is_file() else None

    def append(self, rows: pl.DataFrame, stem: str, after: int | None = None) -> None:
        """Add rows in one Delta commit; the files are named ``stem``."""
        self.swap(pl.DataFrame(schema=_FILES), rows, stem, changes=True, after=after)

    def swap(
        self, old: pl.DataFrame, rows: pl.DataFrame, stem: str, *, changes: bool, after: int | None = None
    ) -> None:
        """Take files out and put rows in, in one Delta commit.

        Args:
            old: of ``files()``.
            rows: with all columns of the kind; may be empty.
            stem: file name of the new files, without ending.
            changes: False if the rows are those of the old files.
            after: version that the table must still have, -1 if it was not there; any for None.

        Raises:
            Overtaken: it has another version by now; the table stayed as it was.
            ArchiveError: it cannot be written.
        """
        with self._guard, plainly(self.where):
            handle = self._handle or self._create()
            if after is not None and handle.version() != (after := max(after, 0)):
                raise Overtaken.at(str(self.where))
            now_ms = int(time.time() * 1000)
            actions: list[AddAction | RemoveAction] = [
                RemoveAction(row["path"], changes, now_ms, row["size_bytes"], self._values(row["part"]))
                for row in old.iter_rows(named=True)
            ]
            actions.extend(self._write(rows, stem, now_ms, changes))
            self._commit(handle, actions, after, rows["entry"] if changes else None)

    def delete_files(self, names: Iterable[str]) -> None:
        """Delete data files that the log no longer names, or never did."""
        with plainly(self.where):
            for name in names:
                (self.path / name).unlink(missing_ok=True)

    def sweep(self) -> None:
        """Delete files taken out of the table more than a day ago (a slow reader may still hold them)."""
        with self._guard, plainly(self.where):
            if self._handle is not None:
                self._handle.vacuum(dry_run=False)
                self._handle.update_incremental()
                self._files = None

    def _create(self) -> DeltaTable:
        self.path.mkdir(mode=0o700, exist_ok=True)
        return self._create_at(self.path)

    def _create_at(self, place: Path | str) -> DeltaTable:
        partition = self.kind.partition
        self._handle = DeltaTable.create(
            place,
            schema=self.kind.schema,
            mode="error",
            partition_by=[partition] if partition else None,
            name=self.name,
            description=self.kind.holds,
            configuration=_CONFIGURATION,
            storage_options=self.options,
        )
        return self._handle

    def _secure(self, version: int) -> None:
        """Have a commit on the disk before anything relies on it."""
        sync(self._log_file(version))
        sync(self.path / "_delta_log")

    def _commit(
        self,
        handle: DeltaTable,
        actions: list[AddAction | RemoveAction],
        after: int | None,
        entries: pl.Series | None,
    ) -> None:
        """Put the actions into the log, on the disk before this returns; ``entries`` are those that come in."""
        partition = self.kind.partition
        handle.create_write_transaction(
            actions,
            "append",
            handle.schema(),
            partition_by=[partition] if partition else None,
            commit_properties=None if after is None else CommitProperties(max_commit_retries=0),
        )
        handle.update_incremental()
        self._files = None
        self._secure(handle.version())

    def _log_file(self, version: int) -> Path:
        return self.path / "_delta_log" / f"{version:020d}.json"

    def _values(self, part: str | None) -> dict[str, str | None]:
        return {self.kind.partition: part} if self.kind.partition else {}

    def _write(self, rows: pl.DataFrame, stem: str, now_ms: int, changes: bool) -> Iterable[AddAction]:
        """Write the rows as Parquet files, one a partition, on the disk before this returns."""
        rows = _in_order(rows.select(list(self.kind.schema)).cast(self.kind.schema), self.kind.sort)
        partition = self.kind.partition
        for part_rows in _parts(rows, partition):
            value = str(part_rows.item(0, partition)) if partition else None
            name = f"{partition}={value}/{stem}.parquet" if partition else f"{stem}.parquet"
            size = self._put(part_rows.select(list(self.stored)), name)
            yield AddAction(name, size, self._values(value), now_ms, changes, _statistics(part_rows))

    def _put(self, rows: pl.DataFrame, name: str) -> int:
        """Write one data file, on the disk before this returns; its bytes."""
        target = self.path / name
        target.parent.mkdir(mode=0o700, exist_ok=True)
        write_data(rows, target)
        sync(target)
        sync(target.parent)
        return target.stat().st_size


def write_data(rows: pl.DataFrame, target: Path | IO[bytes]) -> None:
    """The rows as Parquet, as all data files are written."""
    rows.write_parquet(target, compression="zstd", row_group_size=_ROW_GROUP, statistics=True)


def _in_order(rows: pl.DataFrame, keys: Sequence[str]) -> pl.DataFrame:
    """Sorted by these columns; millions of rows that are in order already are not copied."""
    if all(rows[name].is_sorted() for name in keys):
        return rows
    return rows.sort(keys)


def _parts(rows: pl.DataFrame, partition: str | None) -> Iterable[pl.DataFrame]:
    """The rows of each value of the partition column; without a copy where they lie one after another."""
    if partition is None or rows.is_empty():
        return [rows] if rows.height else []
    values = rows[partition]
    if not values.is_sorted():
        return rows.partition_by(partition, maintain_order=True)
    lengths = values.rle().struct.field("len")
    starts = lengths.cum_sum() - lengths
    return [rows.slice(start, length) for start, length in zip(starts, lengths, strict=True)]


def _statistics(rows: pl.DataFrame) -> str:
    """Statistics of the two columns that look-ups ask for (Delta protocol, Per-file Statistics)."""
    names: Sequence[str] = [name for name in ("entry", "event") if name in rows.columns]
    return json.dumps(
        {
            "numRecords": rows.height,
            "minValues": {name: rows[name].min() for name in names},
            "maxValues": {name: rows[name].max() for name in names},
            "nullCount": {name: rows[name].null_count() for name in names},
        }
    )


def _file_list(handle: DeltaTable, partition: str | None) -> pl.DataFrame:
    """Delta's list of files as a table of _FILES; a range is null where the log tells none."""
    actions: Any = handle.get_add_actions(flatten=True)
    raw = pl.DataFrame(actions)
    wanted = {
        "path": "path",
        "size_bytes": "size_bytes",
        "rows": "num_records",
        "first_entry": "min.entry",
        "last_entry": "max.entry",
        "first_event": "min.event",
        "last_event": "max.event",
        "part": f"partition.{partition}",
    }
    return raw.select(
        (pl.col(source) if source in raw.columns else pl.lit(None)).cast(_FILES[name]).alias(name)
        for name, source in wanted.items()
    )
