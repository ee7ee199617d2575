"""An archive in an object store (``s3://...``), to read from: what a copy of the folder there holds.

Where deltalake and polars reach, with their own means; who one is there comes from the environment (``AWS_...``).
Writing needs the lock of a file system: write on one's own machine and copy the folder.
"""

import os
import re
from pathlib import Path

import polars as pl
from deltalake import DeltaTable
from deltalake.exceptions import TableNotFoundError

from lapdelta.archive.delta import Table
from lapdelta.archive.durable import plainly
from lapdelta.archive.schema import KINDS, Kind
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


def remote_tables(url: str) -> dict[str, Table]:
    """Handles for the tables of the archive there.

    Raises:
        ArchiveError: there is no archive, or it cannot be reached.
    """
    tables: dict[str, Table] = {name: RemoteTable(url, name, kind) for name, kind in KINDS.items()}
    if tables["entries"].refresh() < 0:
        raise ArchiveError("There is no archive here.", "Copy an archive's folder there first.", url)
    return tables


class RemoteTable(Table):
    """A table in an object store; it is asked for news at every look."""

    def __init__(self, url: str, name: str, kind: Kind) -> None:
        """A handle for the table ``name`` under that URL; opened on first use."""
        super().__init__(Path(url), name, kind)  # the path only stands in messages
        self.url = f"{url}/{name}"
        self._options = {key.lower(): value for key, value in os.environ.items() if key.startswith("AWS_")}

    def refresh(self) -> int:
        """Take up what has been written there; the table's version, -1 if it is not there."""
        with self._guard, plainly(self.path):
            if self._handle is None:
                try:
                    self._handle = DeltaTable(self.url, storage_options=self._options)
                except TableNotFoundError:
                    return -1
                self._files = None
            else:
                before = self._handle.version()
                self._handle.update_incremental()
                self._files = self._files if self._handle.version() == before else None
            return self._handle.version()

    def scan(self, files: pl.DataFrame) -> pl.LazyFrame:
        """The rows of those files, without the partition column."""
        if files.is_empty():
            return pl.LazyFrame(schema=self.stored)
        return pl.scan_parquet(
            [f"{self.url}/{name}" for name in files["path"]],
            schema=self.stored,
            missing_columns="insert",
            extra_columns="ignore",
            hive_partitioning=False,
            glob=False,
            storage_options=self._options,
        )
