"""Is the archive whole? Every file is opened, every hash computed, every account added up."""

import json
from collections.abc import Iterator
from typing import Any

import polars as pl

from lapdelta.archive.delta import Table
from lapdelta.archive.durable import plainly
from lapdelta.archive.originals import SUFFIX, is_whole
from lapdelta.archive.store import Place, Store
from lapdelta.errors import ArchiveError

_FROM_BACKUP = "Put it back from a backup, or restore the backup into a new folder."


def check_archive(store: Store) -> tuple[ArchiveError, ...]:
    """All that is wrong with the archive, as facts; nothing is changed. Other programs' changes wait.

    Looked at: the data files against the log (there, of its size, readable, rows, columns); each kept file
    against its hash; laps kept against what each reading says it held; entries against each other and rows
    against entries.
    """
    place = store.place
    with place.quiet():
        wrong: list[ArchiveError] = []
        broken: set[str] = set()
        for name, table in place.tables.items():
            found = list(_table(table))
            wrong += found
            broken |= {name} if found else set()
        if "readings" not in broken:
            wrong += _originals(place)
        if not broken & {"entries", "readings", "laps", "laps_known"}:
            wrong += _accounts(store)
        if "entries" not in broken:
            wrong += _entries(store, broken)
    return tuple(wrong)


def _table(table: Table) -> Iterator[ArchiveError]:
    """What is wrong with the files of one table."""
    try:
        table.refresh()
        files = table.files()
    except ArchiveError as error:
        yield error
        return
    for file in files.iter_rows(named=True):
        path = table.path / file["path"]
        if not path.is_file():
            yield ArchiveError("A file of the archive is missing.", _FROM_BACKUP, str(path))
            continue
        size = path.stat().st_size
        if size != file["size_bytes"]:
            what = f"This file has {size} bytes where {file['size_bytes']} were written."
            yield ArchiveError(what, _FROM_BACKUP, str(path))
            continue
        yield from _content(table, file, str(path))


def _content(table: Table, file: dict[str, Any], path: str) -> Iterator[ArchiveError]:
    try:
        with plainly(table.path / file["path"]):
            rows = pl.read_parquet(path, hive_partitioning=False)
    except ArchiveError as error:
        yield error
        return
    strange = [name for name, kind in rows.schema.items() if table.stored.get(name) != kind]
    if strange:
        what = f"This file has columns the table does not have in this form: {', '.join(strange)}."
        yield ArchiveError(what, _FROM_BACKUP, path)
    if rows.height != file["rows"]:
        what = f"This file has {rows.height} rows where {file['rows']} were written."
        yield ArchiveError(what, _FROM_BACKUP, path)


def _originals(place: Place) -> Iterator[ArchiveError]:
    """The bytes kept of every file that came in, against their hashes."""
    readings = _all_rows(place, "readings", ["sha256", "source_name"])
    for sha256, name in readings.unique("sha256", maintain_order=True).iter_rows():
        path = place.original(sha256)
        if not path.is_file():
            mend = f"Put it back from a backup, or bring {name} in again from its source."
            yield ArchiveError(f"The bytes kept of {name} are missing.", mend, str(path))
        elif not is_whole(path.read_bytes(), sha256):
            yield ArchiveError(
                f"The bytes kept of {name} are not those that came in.", _FROM_BACKUP, str(path)
            )
    known = {f"{sha256}{SUFFIX}" for sha256 in readings["sha256"]}
    for path in sorted(place.original("x").parent.glob("*")):
        if path.name not in known:
            yield ArchiveError("No reading knows of this file.", "Move it out of the archive.", str(path))


def _accounts(store: Store) -> Iterator[ArchiveError]:
    """What each reading says it held, against the laps that lie here."""
    place = store.place
    readings = _all_rows(place, "readings", ["entry", "source_name", "account", "events"])
    counts: dict[str, dict[tuple[str, str], int]] = {
        name: {(entry, event): count for entry, event, count in _counts(place, name).iter_rows()}
        for name in ("laps", "laps_known")
    }
    for row in readings.iter_rows(named=True):
        for event in row["events"]:
            for name in ("laps", "laps_known"):
                there = counts[name].pop((row["entry"], event["event"]), 0)
                if there != event[name]:
                    said = f"{name} of {event['event']} holds {there} rows where it had {event[name]}"
                    what = f"{row['source_name']}: {said}."
                    yield ArchiveError(what, _FROM_BACKUP, f"entry {row['entry']}")
        held = sum(event["laps"] + event["laps_known"] for event in row["events"])
        said = json.loads(row["account"]).get("laps")
        if said is not None and said != held:
            what = f"{row['source_name']} was read as {said} laps but {held} are accounted for."
            yield ArchiveError(what, _FROM_BACKUP, f"entry {row['entry']}")
    for name, left in counts.items():
        for (entry, event), count in left.items():
            what = f"There are {count} rows in {name} of {event} that no reading accounts for."
            yield ArchiveError(what, _FROM_BACKUP, f"entry {entry}")


def _entries(store: Store, broken: set[str]) -> Iterator[ArchiveError]:
    """Entries against each other, and the rows of every table against the entries."""
    rows = store.history().rows
    known = set(rows["entry"])
    if len(known) != rows.height:
        yield ArchiveError(
            "An entry is in the history twice.", _FROM_BACKUP, str(store.place.tables["entries"].path)
        )
    for entry, undone in rows.filter(pl.col("undoes").is_not_null()).select("entry", "undoes").iter_rows():
        if undone not in known:
            yield ArchiveError(f"It takes back {undone}, which is not there.", _FROM_BACKUP, f"entry {entry}")
    for name in store.place.tables:
        if name in broken:
            continue
        strays = set(_all_rows(store.place, name, ["entry"])["entry"].unique()) - known
        for entry in sorted(strays):
            yield ArchiveError(f"Rows in {name} belong to no change.", _FROM_BACKUP, f"entry {entry}")


def _all_rows(place: Place, name: str, columns: list[str]) -> pl.DataFrame:
    table = place.tables[name]
    table.refresh()
    with plainly(table.path):
        return table.scan(table.files()).select(columns).collect()


def _counts(place: Place, name: str) -> pl.DataFrame:
    """Rows by entry and event."""
    table = place.tables[name]
    table.refresh()
    with plainly(table.path):
        return table.scan(table.files()).group_by("entry", "event").len().collect()
