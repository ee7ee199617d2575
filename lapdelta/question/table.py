"""The table of laps a question is asked of: every column there, of its kind, and no endless numbers in it."""

from typing import Any

import polars as pl

from lapdelta.errors import QuestionError
from lapdelta.tables import EVENT_LAPS, LAPS

NEEDED = ("session", "kart", "lap_time_s")
_MEND = "Give laps as read_timing or Archive.laps makes them."


def with_all_columns(laps: Any) -> pl.DataFrame:
    """The table with every column of ``tables.LAPS``; what is missing, and what is infinite, is empty.

    Raises:
        QuestionError: not a table, or a column is missing or of another kind.
    """
    if not isinstance(laps, pl.DataFrame):
        raise QuestionError(f"A {type(laps).__name__} stands where the table of laps is needed.", _MEND)
    for needed in NEEDED:
        if needed not in laps.columns:
            raise QuestionError(f"The table of laps has no column {needed}.", _MEND)
    columns = [_column(laps, name, kind) for name, kind in EVENT_LAPS.items() if name in laps.columns]
    columns += [
        pl.lit(None, dtype=kind).alias(name) for name, kind in LAPS.items() if name not in laps.columns
    ]
    return laps.with_columns(columns)


def _column(laps: pl.DataFrame, name: str, kind: pl.DataType) -> pl.Expr:
    """The column as it is to be used: of its kind, or of one that holds the same things."""
    found, value = laps.schema[name], pl.col(name)
    if not _fits(found, kind):
        raise QuestionError(f"The column {name} holds {found}, not {kind}.", _MEND, name)
    if kind == pl.Float64:
        value = value.cast(pl.Float64)
        return pl.when(value.is_finite()).then(value).alias(name)
    if isinstance(kind, pl.List) and kind.inner == pl.Float64 and found != pl.Null:
        number = pl.element().cast(pl.Float64)
        return value.list.eval(pl.when(number.is_finite()).then(number)).alias(name)
    return value.cast(kind, strict=False) if found != kind else value


def _fits(found: pl.DataType, kind: pl.DataType) -> bool:
    if found == kind or found == pl.Null:
        return True
    if isinstance(kind, pl.List):
        return isinstance(found, pl.List) and _fits(_inner(found), _inner(kind))
    if kind.is_numeric():
        return found.is_numeric()
    return kind == pl.String and isinstance(found, (pl.Categorical, pl.Enum))


def _inner(kind: pl.List) -> pl.DataType:
    inner = kind.inner
    return inner if isinstance(inner, pl.DataType) else inner()
