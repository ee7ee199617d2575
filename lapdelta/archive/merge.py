"""Another archive's changes come over: two laptops become one archive, nothing double, nothing lost.

Entries keep their ids, so the latest word on a field is the latest in time wherever it was written, and an
undo goes on undoing. A file that counts here already does not come in again.
"""

import secrets
from dataclasses import dataclass
from pathlib import Path

import polars as pl

from lapdelta.archive.durable import plainly
from lapdelta.archive.lock import in_turn
from lapdelta.archive.originals import is_whole
from lapdelta.archive.place import MARKER
from lapdelta.archive.remote import place_at
from lapdelta.archive.schema import KINDS, with_year
from lapdelta.archive.store import Change, Store
from lapdelta.errors import ArchiveError


@dataclass(frozen=True)
class Merged:
    """What came over.

    Attributes:
        entries: ids of the changes that are here now and were not before.
        same_files: names of files that were left out, since the same bytes count here already.
        laps: rows of laps that came over; those known here too are shown once.
        originals: files whose bytes came over.
    """

    entries: tuple[str, ...]
    same_files: tuple[str, ...]
    laps: int
    originals: int


@in_turn
def merge(store: Store, other: str | Path) -> Merged:
    """Bring over what the archive at ``other`` has and this one has not, in one change.

    Raises:
        ArchiveError: no archive there, the same one, or a file of it is damaged; then nothing came over.
    """
    place = place_at(other)
    if place.url is None and not (place.folder / MARKER).is_file():
        raise ArchiveError(
            "There is no archive in this folder.", "Name an archive's folder.", str(place.folder)
        )
    if (place.url, place.folder.resolve()) == (store.place.url, store.place.folder.resolve()):
        raise ArchiveError("An archive cannot be merged with itself.", "Name another one.", str(other))
    place.open()
    theirs = Store(place)
    with store.changing(stem=f"from-{secrets.token_hex(8)}") as change:
        wanted, same_files = _missing(store, theirs)
        if not wanted:
            return Merged((), same_files, 0, 0)
        change.entry = wanted[-1]  # rows of entries come over in one commit: with one all are there
        originals = _bring_originals(change, theirs, wanted)
        laps = 0
        for name in [name for name in KINDS if name != "entries"]:
            rows = _rows(theirs, name, wanted)
            laps += rows.height if name == "laps" else 0
            change.append_whole(name, rows)
        change.append_whole("entries", _rows(theirs, "entries", wanted))
    return Merged(tuple(wanted), same_files, laps, originals)


def _missing(store: Store, theirs: Store) -> tuple[list[str], tuple[str, ...]]:
    """Their entries that are to come over, and names of files that count here already.

    Undos of a file left out stay behind with it.
    """
    here = set(store.history().rows["entry"])
    new = theirs.history().rows.filter(~pl.col("entry").is_in(list(here)))
    counted = store.rows("readings", ("entry", "sha256"))["sha256"]
    files = _rows(theirs, "readings", new["entry"].to_list())
    same = files.filter(pl.col("sha256").is_in(list(counted)))
    out = list(same["entry"])
    kept = new.filter(~pl.col("entry").is_in(out) & ~pl.col("root").is_in(out).fill_null(False))
    return kept["entry"].to_list(), tuple(same["source_name"].to_list())


def _rows(store: Store, name: str, entries: list[str]) -> pl.DataFrame:
    """Rows of those entries, with all columns of the table."""
    table = store.place.tables[name]
    table.refresh()
    with plainly(table.where):
        rows = table.scan(table.files()).filter(pl.col("entry").is_in(entries)).collect()
    return with_year(rows) if table.kind.partition else rows


def _bring_originals(change: Change, theirs: Store, entries: list[str]) -> int:
    """Copy the bytes of the files that come over; how many were not here."""
    place = change.store.place
    brought = 0
    for sha256 in _rows(theirs, "readings", entries)["sha256"].unique(maintain_order=True):
        if place.has(place.original(sha256)):
            continue
        source = theirs.place.original(sha256)
        packed = theirs.place.read(source)
        if not is_whole(packed, sha256):
            mend = "Run lapdelta check on that archive, and put the file back from a backup."
            raise ArchiveError("The bytes kept of a file are damaged.", mend, str(source))
        change.keep_original(sha256, packed)
        brought += 1
    return brought
