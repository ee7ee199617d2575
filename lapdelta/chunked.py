"""New columns laid out in chunks as a table's columns are.

polars copies a whole table together before it works on columns whose chunks differ; for millions of laps that costs
more time and memory than the work itself.
"""

from typing import Any

import polars as pl
from polars._typing import PolarsDataType


def repeated(table: pl.DataFrame, name: str, value: Any, kind: PolarsDataType) -> pl.Series:
    """A column with one value in every row of the table; its chunks share the memory of one."""
    lengths = _lengths(table)
    block = pl.Series(name, [value], dtype=kind).new_from_index(0, max(lengths, default=0))
    return pl.concat([block.head(length) for length in lengths] or [block], rechunk=False)


def laid_out(table: pl.DataFrame, column: pl.Series) -> pl.Series:
    """That column, as long as the table, cut where the table's chunks are; nothing is copied."""
    pieces: list[pl.Series] = []
    start = 0
    for length in _lengths(table):
        pieces.append(column.slice(start, length))
        start += length
    return pl.concat(pieces, rechunk=False) if pieces else column


def _lengths(table: pl.DataFrame) -> list[int]:
    return [len(chunk) for chunk in table.to_series(0).get_chunks()] if table.width else []
