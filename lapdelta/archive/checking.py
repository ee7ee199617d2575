"""Is the archive whole? Every file is opened, every hash computed, every account added up."""

import json
from collections.abc import Callable, Iterator
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

    In an object store they do not: rows there that belong to no change (yet) are passed over.

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
        # Where others may be writing: the changes that are whole by now, and no later ones.
        known = None if place.url is None or "entries" in broken else store.history().rows["entry"]
        if "readings" not in broken:
            wrong += _originals(place, known)
        if not broken & {"entries", "readings", "laps", "laps_known"}:
            wrong += _accounts(place, known)
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
        path = table.at(file["path"])
        size = table.size_of(file["path"])
        if size is None:
            yield ArchiveError("A file of the archive is missing.", _FROM_BACKUP, str(path))
            continue
        if size != file["size_bytes"]:
            what = f"This file has {size} bytes where {file['size_bytes']} were written."
            yield ArchiveError(what, _FROM_BACKUP, str(path))
            continue
        yield from _content(table, file, str(path))


def _content(table: Table, file: dict[str, Any], path: str) -> Iterator[ArchiveError]:
    try:
        with plainly(path):
            rows = pl.read_parquet(path, hive_partitioning=False, storage_options=table.options)
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


def _originals(place: Place, known: pl.Series | None) -> Iterator[ArchiveError]:
    """The bytes kept of every file that came in, against their hashes."""
    readings = _read(place, "readings", known, lambda rows: rows.select("sha256", "source_name"))
    for sha256, name in readings.unique("sha256", maintain_order=True).iter_rows():
        path = place.original(sha256)
        if not place.has(path):
            mend = f"Put it back from a backup, or bring {name} in again from its source."
            yield ArchiveError(f"The bytes kept of {name} are missing.", mend, str(path))
        elif not is_whole(place.read(path), sha256):
            yield ArchiveError(
                f"The bytes kept of {name} are not those that came in.", _FROM_BACKUP, str(path)
            )
    if place.url is not None:
        return  # files of a change under way, or cut short, may lie there
    names = {f"{sha256}{SUFFIX}" for sha256 in readings["sha256"]}
    for path in sorted(place.original("x").parent.glob("*")):
        if path.name not in names:
            yield ArchiveError("No reading knows of this file.", "Move it out of the archive.", str(path))


def _accounts(place: Place, known: pl.Series | None) -> Iterator[ArchiveError]:
    """What each reading says it held, against the laps that lie here."""
    columns = ("entry", "source_name", "account", "events")
    readings = _read(place, "readings", known, lambda rows: rows.select(columns))
    counts: dict[str, dict[tuple[str, str], int]] = {
        name: {(entry, event): count for entry, event, count in _counts(place, name, known).iter_rows()}
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
        if name in broken or store.place.url is not None:
            continue
        theirs = _read(store.place, name, None, lambda rows: rows.select("entry").unique())
        for entry in sorted(set(theirs["entry"]) - known):
            yield ArchiveError(f"Rows in {name} belong to no change.", _FROM_BACKUP, f"entry {entry}")


def _counts(place: Place, name: str, known: pl.Series | None) -> pl.DataFrame:
    """Rows by entry and event."""
    return _read(place, name, known, lambda rows: rows.group_by("entry", "event").len())


def _read(
    place: Place, name: str, known: pl.Series | None, what: Callable[[pl.LazyFrame], pl.LazyFrame]
) -> pl.DataFrame:
    """What is wanted of a table's rows of the entries ``known``, of all for None."""
    table = place.tables[name]
    table.refresh()
    rows = table.scan(table.files())
    if known is not None:
        rows = rows.filter(pl.col("entry").is_in(known.implode()))
    with plainly(table.where):
        return what(rows).collect()
