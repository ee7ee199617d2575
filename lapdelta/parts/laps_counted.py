"""How far tyres, chains and sprockets have run, counted from the laps themselves.

Every lap that came in counts, out and in laps too and those set aside: it wore the part. What was on the kart
is what the setup sheet says of the session; a session it is silent about is listed, never guessed.
"""

import polars as pl

from lapdelta.errors import SetupError
from lapdelta.tables import SETUPS

#: Owner of the laps that our kart drove, under whatever number.
OURS = "ours"

_SESSION = ("event", "session", "kart")

#: What ``laps_on`` gives. ``owner``: OURS, or the kart's number. ``value`` null: not written down.
COUNTS = pl.Schema(
    {
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


def laps_on(
    setups: pl.DataFrame, laps: pl.DataFrame, item: str, events: pl.DataFrame | None = None
) -> pl.DataFrame:
    """Laps run on each tyre set, chain or sprocket, session by session in the order driven.

    Args:
        setups: the setup sheet (tables.SETUPS).
        laps: all laps (tables.EVENT_LAPS); ``Archive.laps(with_set_aside=True)``.
        item: a column of the setup sheet (tyre_set, axle_teeth, engine_teeth, chain_links, ..), or a key of
            ``other`` (for parts told apart by a name of their own, as ``chain_name=C2``).
        events: tables.EVENTS; then our kart is one owner whatever its number was, and days follow by date.

    Returns:
        Table of COUNTS for the karts that the sheet knows: laps of the session, and of the same value and owner
        before and after it. For ``tyre_set`` the sheet's ``tyre_laps``, where written, sets ``laps_before``.

    Raises:
        SetupError: the sheet has no such item.
    """
    fitted = _fitted(setups, item)
    driven = laps.group_by(_SESSION, maintain_order=True).agg(
        pl.len().cast(pl.Int64()).alias("laps"), pl.col("date").min(), pl.col("clock").min()
    )
    known = driven.join(setups.select("event", "kart").unique(), on=["event", "kart"], how="semi")
    rows = known.join(fitted, on=_SESSION, how="left", maintain_order="left").with_columns(
        pl.col("kart").alias("owner")
    )
    if events is not None:
        rows = _ours(rows, events)
    rows = rows.with_columns(pl.col("date").min().over("event")).sort(
        "date", maintain_order=True, nulls_last=True
    )
    return _running(rows).select(list(COUNTS)).cast(COUNTS)


def totals(counts: pl.DataFrame) -> pl.DataFrame:
    """Of ``laps_on``: DataFrame(owner, value, laps, sessions, first_event, last_event) by first use.

    ``laps`` is the count after the last session (for tyres with what the sheet says they had before). Laps of
    sessions the sheet is silent about are in the row with ``value`` null.
    """
    return counts.group_by("owner", "value", maintain_order=True).agg(
        pl.coalesce(pl.col("laps_after").last(), pl.col("laps").sum()).alias("laps"),
        pl.len().cast(pl.Int64()).alias("sessions"),
        pl.col("event").first().alias("first_event"),
        pl.col("event").last().alias("last_event"),
    )


def _fitted(setups: pl.DataFrame, item: str) -> pl.DataFrame:
    """_SESSION, ``value`` and, for tyres, ``told`` (laps they had at the start of the session)."""
    told = pl.col("tyre_laps").cast(pl.Int64()) if item == "tyre_set" else pl.lit(None, pl.Int64())
    if item in SETUPS and item not in (*_SESSION, "other"):
        return setups.select(*_SESSION, pl.col(item).cast(pl.String()).alias("value"), told.alias("told"))
    pairs = setups.select(*_SESSION, "other").explode("other").unnest("other").filter(pl.col("key") == item)
    if pairs.is_empty():
        raise SetupError(
            f"The setup sheet has nothing written for {item!r}.",
            "Name one of its columns, or a key that was written into it.",
            item,
        )
    return pairs.select(*_SESSION, "value", told.alias("told"))


def _ours(rows: pl.DataFrame, events: pl.DataFrame) -> pl.DataFrame:
    """``owner`` is OURS for our kart; the event's own date goes before that of its laps."""
    known = events.select("event", pl.col("date").alias("held"), "our_kart")
    return rows.join(known, on="event", how="left", maintain_order="left").with_columns(
        pl.when(pl.col("kart") == pl.col("our_kart")).then(pl.lit(OURS)).otherwise("kart").alias("owner"),
        pl.coalesce("held", "date").alias("date"),
    )


def _running(rows: pl.DataFrame) -> pl.DataFrame:
    """Laps before and after each session; from a session whose count was told on, that count goes on."""
    whose = ("owner", "value")
    rows = rows.with_columns(pl.col("laps").cum_sum().over(whose).alias("run"))
    offset = (pl.col("told") - (pl.col("run") - pl.col("laps"))).forward_fill().over(whose).fill_null(0)
    after = pl.when(pl.col("value").is_not_null()).then(pl.col("run") + offset)
    return rows.with_columns(after.alias("laps_after")).with_columns(
        (pl.col("laps_after") - pl.col("laps")).alias("laps_before")
    )
