"""How far tyres, chains and sprockets have run, counted from the laps themselves.

Every lap that came in counts, out and in laps too and those set aside: it wore the part. What was on the kart
is what the setup sheet says of the session; a session it is silent about is listed, never guessed.
"""

from typing import TYPE_CHECKING, Any

import polars as pl

from lapdelta.archive.archive import laps_by_kart
from lapdelta.gearing.box import KINDS
from lapdelta.parts.box import SHEET, BoxPart, box_parts, named_on_sheet, part_fitted, sheet_rows

if TYPE_CHECKING:
    from lapdelta.archive import Archive

#: Owner of the laps that our kart drove, under whatever number; and of those on a part of the box.
OURS, THE_BOX = "ours", "the box"

TYRES = "tyre set"

_SESSION = ("event", "session", "kart")

#: What ``worn`` gives. ``owner``: OURS, THE_BOX or the kart's number. ``kind``: TYRES or a kind of part; ``value``:
#: the tyre set, the part's name, or teeth or links; null where nothing was written down.
WORN = pl.Schema(
    {
        "kind": pl.String(),
        "owner": pl.String(),
        "value": pl.String(),
        "event": pl.String(),
        "session": pl.String(),
        "kart": pl.String(),
        "laps": pl.Int64(),
        "laps_before": pl.Int64(),
        "laps_after": pl.Int64(),
    }
)


def worn(archive: "Archive", event: str | None = None) -> pl.DataFrame:
    """Table of WORN: laps on the tyres, the sprockets and the chain of every kart and session on the sheet.

    One row a kind and session, in the order driven (those still to come have 0 laps): laps of the session, and of
    the same value and owner before and after it. The sheet's ``tyre_laps``, where written, sets ``laps_before`` of
    its tyre set. Our kart is one owner whatever its number was. A part of the box is counted under its name on
    whatever kart it ran; what the box does not tell is counted by teeth or links, for each kart by itself.

    ``event``: only what was fitted at that event has to be counted right, so only the events that share some of it
    are read; rows of other parts and events may be short or missing.
    """
    rows, parts, events = sheet_rows(archive), box_parts(archive), archive.events
    fitted = {kind: _fitted(rows, kind, parts) for kind in (TYRES, *KINDS)}
    driven = laps_by_kart(archive, _sharing(fitted, event))
    return pl.concat([_counted(table, driven, events, kind) for kind, table in fitted.items()]).cast(WORN)


def totals(counts: pl.DataFrame) -> pl.DataFrame:
    """Of ``worn``: DataFrame(kind, owner, value, laps, sessions, first_event, last_event) by first use.

    ``laps`` is the count after the last session (for tyres with what the sheet says they had before). Laps of
    sessions the sheet is silent about are in the row with ``value`` null.
    """
    return counts.group_by("kind", "owner", "value", maintain_order=True).agg(
        pl.coalesce(pl.col("laps_after").last(), pl.col("laps").sum()).alias("laps"),
        (pl.col("laps") > 0).sum().cast(pl.Int64()).alias("sessions"),
        pl.col("event").first().alias("first_event"),
        pl.col("event").last().alias("last_event"),
    )


def _fitted(rows: list[dict[str, Any]], kind: str, parts: tuple[BoxPart, ...]) -> pl.DataFrame:
    """What the sheet says was fitted: _SESSION, owner, value, told (laps at the start)."""
    schema = {name: pl.String() for name in (*_SESSION, "owner", "value")} | {"told": pl.Int64()}
    return pl.DataFrame(
        [{name: row[name] for name in _SESSION} | _value(row, kind, parts) for row in rows], schema=schema
    )


def _sharing(fitted: dict[str, pl.DataFrame], event: str | None) -> list[str]:
    """Events on the sheet; with ``event`` those at which something of what was fitted there ran."""
    both = pl.concat(
        [table.select("event", "owner", "value", pl.lit(k).alias("kind")) for k, table in fitted.items()]
    )
    if event is not None:
        here = both.filter(pl.col("event") == event, pl.col("value").is_not_null()).drop("event").unique()
        both = both.join(here, on=["owner", "value", "kind"], how="semi")
    return both["event"].unique(maintain_order=True).to_list()


def _value(row: dict[str, Any], kind: str, parts: tuple[BoxPart, ...]) -> dict[str, Any]:
    owner = OURS if row["kart"] == row["our_kart"] else row["kart"]
    if kind == TYRES:
        return {"owner": owner, "value": row["tyre_set"], "told": row["tyre_laps"]}
    part = part_fitted(parts, kind, row)
    if isinstance(part, BoxPart):
        return {"owner": THE_BOX, "value": part.part.name, "told": None}
    size = row[SHEET[kind][0]]
    said = named_on_sheet(row, kind) or (None if size is None else str(size))
    return {"owner": owner, "value": said, "told": None}


def _counted(fitted: pl.DataFrame, driven: pl.DataFrame, events: pl.DataFrame, kind: str) -> pl.DataFrame:
    """Columns of WORN for the karts that the sheet knows, in the order driven, then the sessions still to come."""
    known = driven.join(fitted.select("event", "kart").unique(), on=["event", "kart"], how="semi")
    coming = (
        fitted.select(_SESSION)
        .join(driven, on=_SESSION, how="anti")
        .with_columns(pl.lit(0, pl.Int64()).alias("laps"))
    )
    known = pl.concat([known, coming], how="diagonal")
    held = events.select("event", pl.col("date").alias("held"), "our_kart")
    rows = known.join(fitted, on=_SESSION, how="left", maintain_order="left").join(
        held, on="event", how="left", maintain_order="left"
    )
    whose = pl.when(pl.col("kart") == pl.col("our_kart")).then(pl.lit(OURS)).otherwise("kart")
    rows = rows.with_columns(pl.lit(kind).alias("kind"), pl.coalesce("owner", whose).alias("owner"))
    return _running(_as_driven(rows)).select(list(WORN))


def _as_driven(rows: pl.DataFrame) -> pl.DataFrame:
    """Sorted by day, and within an event by the clock where every session of it has one."""
    clocked = (pl.col("clock").is_null() & (pl.col("laps") > 0)).sum().over("event") == 0
    return rows.with_columns(
        pl.coalesce("held", pl.col("date").min().over("event")).alias("day"),
        pl.when(clocked).then("clock").alias("at"),
    ).sort("day", "date", "at", maintain_order=True, nulls_last=True)


def _running(rows: pl.DataFrame) -> pl.DataFrame:
    """Laps before and after each session; from a session whose count was told on, that count goes on."""
    whose = ("owner", "value")
    rows = rows.with_columns(pl.col("laps").cum_sum().over(whose).alias("run"))
    offset = (pl.col("told") - (pl.col("run") - pl.col("laps"))).forward_fill().over(whose).fill_null(0)
    after = pl.when(pl.col("value").is_not_null()).then(pl.col("run") + offset)
    return rows.with_columns(after.alias("laps_after")).with_columns(
        (pl.col("laps_after") - pl.col("laps")).alias("laps_before")
    )
