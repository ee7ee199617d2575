"""What lies on the disk: one Delta table a kind, every row with the id of its entry.

Any reader of Delta Lake or Parquet can use the tables without us. ``clock_ns`` stands for ``clock``, since
Delta has no time of day. A row counts if its entry is in ``entries`` and is not hidden: of the rows of
``entries`` with the same ``root`` the last one says with ``shown`` whether the entry ``root`` counts.
"""

from dataclasses import dataclass

import polars as pl

from lapdelta.archive.box_schema import DRAWS, LAP_LENGTHS, PARTS
from lapdelta.archive.question_schema import ASKED, QUESTION_ROWS
from lapdelta.tables import EVENT_LAPS, EVENTS, SET_ASIDE, SETUPS

_TIME = pl.Datetime("us", "UTC")


@dataclass(frozen=True)
class Kind:
    """One table: its columns, what it is partitioned by and sorted by inside a file, and what it holds."""

    schema: pl.Schema
    sort: tuple[str, ...]
    holds: str
    partition: str | None = None


def _on_disk(schema: pl.Schema) -> dict[str, pl.DataType]:
    """The same columns with ``clock`` as nanoseconds since midnight."""
    return {
        ("clock_ns" if name == "clock" else name): (pl.Int64() if name == "clock" else kind)
        for name, kind in schema.items()
    }


#: ``row``: place in its reading. ``copy``: 0 for the first lap of its reading with those values
#: of LAP_KEY, 1 for the next. ``year``: of the lap's date, 0 where there is none.
_LAPS = pl.Schema(
    {
        "entry": pl.String(),
        **_on_disk(EVENT_LAPS),
        "row": pl.Int64(),
        "copy": pl.Int32(),
        "year": pl.Int32(),
    }
)

#: Two laps with the same values here are one lap that came in twice.
LAP_KEY = ("event", "session", "kart", "lap", "lap_time_s", "clock_ns", "copy")

_BY_HAND = pl.Schema({"entry": pl.String(), **{name: _LAPS[name] for name in LAP_KEY}, "aside": pl.Boolean()})

_READ_EVENT = pl.Struct(
    {
        "event": pl.String(),
        "first_date": pl.Date(),
        "last_date": pl.Date(),
        "years": pl.List(pl.Int32()),
        "laps": pl.Int64(),
        "laps_known": pl.Int64(),
    }
)

_READINGS = pl.Schema(
    {
        "entry": pl.String(),
        "sha256": pl.String(),
        "source_name": pl.String(),
        "source_bytes": pl.Int64(),
        "account": pl.String(),
        "recipe": pl.String(),
        "facts": pl.String(),
        "set_aside": pl.List(pl.Struct(dict(SET_ASIDE))),
        "events": pl.List(_READ_EVENT),
    }
)

_ENTRIES = pl.Schema(
    {
        "entry": pl.String(),
        "at": _TIME,
        "kind": pl.String(),
        "what": pl.String(),
        "why": pl.String(),
        "rows": pl.Int64(),
        "undoes": pl.String(),
        "root": pl.String(),
        "shown": pl.Boolean(),
        "version": pl.String(),
    }
)

KINDS = {
    "laps": Kind(_LAPS, ("event", "entry", "row"), "Laps, one row a lap.", "year"),
    "laps_known": Kind(
        _LAPS, ("event", "entry", "row"), "Laps that were known already when their file came in.", "year"
    ),
    "setups": Kind(
        pl.Schema({"entry": pl.String(), **_on_disk(SETUPS), "cleared": pl.List(pl.String())}),
        ("entry", "event"),
        "Setup sheet, one row a change: null = not touched, cleared = emptied.",
    ),
    "events": Kind(
        pl.Schema({"entry": pl.String(), **_on_disk(EVENTS), "cleared": pl.List(pl.String())}),
        ("entry", "event"),
        "Records of events, one row a change: null = not touched, cleared = emptied.",
    ),
    "by_hand": Kind(_BY_HAND, ("entry", "event"), "Laps set aside (aside true) or put back by hand."),
    "readings": Kind(_READINGS, ("entry",), "Files that came in; the bytes are in originals/<sha256>.zst."),
    "draws": Kind(DRAWS, ("entry",), "Orders of sessions drawn at random and sealed, one row a change."),
    "parts": Kind(PARTS, ("entry",), "Sprockets and chains owned, one row a change."),
    "lap_lengths": Kind(LAP_LENGTHS, ("entry",), "Length of a lap by track or event, one row a change."),
    "questions": Kind(QUESTION_ROWS, ("entry",), "Questions written in advance, one row a change."),
    "asked": Kind(ASKED, ("entry",), "Questions that were asked of the laps, one row each."),
    "entries": Kind(_ENTRIES, ("entry",), "Changes, one row each: what, when, why. The row is the commit."),
}


def to_disk(laps: pl.DataFrame) -> pl.DataFrame:
    """EVENT_LAPS columns with ``clock`` as ``clock_ns``."""
    return laps.with_columns(pl.col("clock").cast(pl.Int64()).alias("clock_ns")).drop("clock")


def from_disk(laps: pl.DataFrame) -> pl.DataFrame:
    """Rows of the table laps as EVENT_LAPS."""
    return laps.with_columns(pl.col("clock_ns").cast(pl.Time()).alias("clock")).select(list(EVENT_LAPS))


def with_year(laps: pl.DataFrame) -> pl.DataFrame:
    """Rows of the table laps with the column they are partitioned by."""
    return laps.with_columns(pl.col("date").dt.year().fill_null(0).cast(pl.Int32()).alias("year"))
