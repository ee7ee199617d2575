"""Setup sheet and event records: every change is a row; the latest word on each field counts."""

from collections.abc import Sequence
from datetime import date
from typing import Any

import polars as pl

from lapdelta.archive.schema import KINDS
from lapdelta.errors import ArchiveError, SetupError
from lapdelta.setups import validate
from lapdelta.tables import EVENTS, SETUPS

SETUP_KEY = ("event", "session", "kart")


def latest(rows: pl.DataFrame, key: Sequence[str], schema: pl.Schema) -> pl.DataFrame:
    """The latest value of every field for each key, of rows in the order of their entries.

    A null says nothing about its field; a field named in ``cleared`` is emptied. Of ``other``
    each key counts by itself.
    """
    fields = [name for name in schema if name not in key and name != "other"]
    said = {name: pl.col(name).is_not_null() | pl.col("cleared").list.contains(name) for name in fields}
    found = rows.group_by(list(key), maintain_order=True).agg(
        pl.col(name).filter(said[name]).last().alias(name) for name in fields
    )
    if "other" in schema:
        found = found.join(
            _other(rows, key), on=list(key), how="left", nulls_equal=True, maintain_order="left"
        )
    return found.select(list(schema)).cast(schema)


def _other(rows: pl.DataFrame, key: Sequence[str]) -> pl.DataFrame:
    """The latest value of every key = value pair; an empty value takes the pair out."""
    pairs = (
        rows.select(*key, "other")
        .filter(pl.col("other").list.len() > 0)
        .explode("other")
        .with_columns(pl.col("other").struct.unnest())
        .unique([*key, "key"], keep="last", maintain_order=True)
        .filter(pl.col("value").is_not_null() & (pl.col("value") != ""))
    )
    return pairs.group_by(list(key), maintain_order=True).agg(pl.struct("key", "value").alias("other"))


def setup_change(frame: pl.DataFrame, clear: Sequence[str]) -> pl.DataFrame:
    """Rows for the table setups (entry apart) of a frame with some or all SETUPS columns.

    Raises:
        SetupError: a column that is not one of SETUPS, a value that cannot be, or no event, session or kart.
    """
    for name in clear:
        if name not in SETUPS or name in SETUP_KEY:
            raise SetupError(
                f"The setup sheet has no column {name!r} to empty.", "Name one of its fields.", name
            )
    return _filled(validate(frame), "setups", clear)


def event_change(event: str, fields: dict[str, Any]) -> pl.DataFrame:
    """A row for the table events (entry apart); None empties a field.

    Raises:
        ArchiveError: an unknown field, nothing to change, or a date that is none.
    """
    known = [name for name in EVENTS if name != "event"]
    strange = [name for name in fields if name not in known]
    if strange or not fields or not event.strip():
        what = f"An event has no field {strange[0]!r}." if strange else "Nothing was said about the event."
        raise ArchiveError(what, "Give one or more of " + ", ".join(known) + ".", event)
    day = fields.get("date")
    if isinstance(day, str):
        try:
            fields = {**fields, "date": date.fromisoformat(day)}
        except ValueError as error:
            raise ArchiveError(f"{day!r} is not a date.", "Write it as 2026-05-16.", event) from error
    frame = pl.DataFrame([{"event": event, **fields}], schema={n: EVENTS[n] for n in ("event", *fields)})
    return _filled(frame, "events", [name for name, value in fields.items() if value is None])


def _filled(frame: pl.DataFrame, name: str, clear: Sequence[str]) -> pl.DataFrame:
    """All columns of the table, null where nothing was said."""
    schema = {
        column: kind for column, kind in KINDS[name].schema.items() if column not in ("entry", "cleared")
    }
    cleared = pl.lit(pl.Series([list(clear)], dtype=pl.List(pl.String()))).first().alias("cleared")
    return frame.select(
        *(
            (pl.col(column) if column in frame.columns else pl.lit(None)).cast(kind).alias(column)
            for column, kind in schema.items()
        ),
        cleared,
    )
