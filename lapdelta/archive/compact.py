"""Small files become larger ones, so that the archive stays as quick as on its first day.

Files of like size are merged sixteen at a time, each partition by itself: a row is rewritten about once for
each sixteenfold growth of its partition. Done inside a change's lock, before the change.
"""

import json
import math
import secrets
from pathlib import Path

import polars as pl

from lapdelta.archive.delta import Table
from lapdelta.archive.durable import plainly, write_durably

#: So many files of like size are merged into one.
FAN_IN = 16

#: Files of fewer rows than this are all of like size; each next size is FAN_IN times as large.
SMALL_ROWS = 8_000

#: Files of more rows than this are left alone.
LARGE_ROWS = 2_000_000


def merge_small_files(table: Table, pending: Path | None, known: pl.Series | None = None) -> bool:
    """Merge one group of files of like size if there are FAN_IN of them; True if it did.

    Args:
        table: its handle; the caller holds the archive's lock, or there is none.
        pending: file to note in what to clear away if this is cut short; None where nothing has to be.
        known: only files of these entries; all for None.

    Raises:
        Overtaken: there is no lock, and somebody else changed the table meanwhile.
    """
    version = table.refresh()
    if version < 0:
        return False
    files = table.files()
    if known is not None:
        files = files.filter(pl.col(name).is_in(known.implode()) for name in ("first_entry", "last_entry"))
    if files.height < FAN_IN:
        return False
    small = files.filter(pl.col("rows") < LARGE_ROWS).with_columns(
        pl.col("rows").map_elements(_size_class, return_dtype=pl.Int32()).alias("size")
    )
    crowds = small.filter(pl.len().over("part", "size") >= FAN_IN)
    if crowds.is_empty():
        return False
    first = crowds.row(0, named=True)
    group = crowds.filter(pl.col("part").eq_missing(first["part"]) & (pl.col("size") == first["size"]))
    _merge(table, group.drop("size"), pending, version)
    return True


def _merge(table: Table, group: pl.DataFrame, pending: Path | None, version: int) -> None:
    stem = f"merged-{secrets.token_hex(8)}"
    with plainly(table.where):
        rows = table.scan(group).collect()
    partition = table.kind.partition
    if partition:
        rows = rows.with_columns(pl.lit(int(group.item(0, "part"))).alias(partition))
    if pending:
        with plainly(pending):
            write_durably(pending, json.dumps({"entry": None, "stem": stem, "originals": []}).encode())
    table.swap(group, rows, stem, changes=False, after=version)
    if pending:
        pending.unlink(missing_ok=True)
    table.sweep()


def _size_class(rows: int) -> int:
    return max(0, math.ceil(math.log(max(rows, 1) / SMALL_ROWS, FAN_IN)))
