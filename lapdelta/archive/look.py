"""Laps out of the archive: only the files, row groups and columns of the events asked for are read."""

from collections.abc import Sequence

import polars as pl

from lapdelta.archive.durable import plainly
from lapdelta.archive.schema import KINDS, LAP_KEY
from lapdelta.archive.store import Store
from lapdelta.errors import ArchiveError

_INDEX = pl.Schema(
    {
        "entry": pl.String(),
        "event": pl.String(),
        "first_date": pl.Date(),
        "last_date": pl.Date(),
        "years": pl.List(pl.Int32()),
        "laps": pl.Int64(),
        "laps_known": pl.Int64(),
    }
)


def read_events(new: pl.DataFrame, again: pl.DataFrame) -> pl.DataFrame:
    """What a reading holds of each event: dates, years, laps new and known."""
    return (
        pl.concat([_counted(new, "laps"), _counted(again, "laps_known")], how="diagonal")
        .group_by("event")
        .agg(
            pl.col("first_date").min(),
            pl.col("last_date").max(),
            pl.col("years").explode().unique().sort(),
            pl.col("laps", "laps_known").sum(),
        )
        .sort("event")
    )


def _counted(rows: pl.DataFrame, count: str) -> pl.DataFrame:
    """Dates and years of each event, and the number of its rows under that name."""
    dates = pl.col("date").min().alias("first_date"), pl.col("date").max().alias("last_date")
    counted = (
        rows.lazy()
        .group_by("event")
        .agg(*dates, pl.col("year").unique().alias("years"), pl.len().alias(count))
    )
    # The other engine gathers all rows of a group first: a quarter of a gigabyte for five million laps.
    return counted.cast({count: pl.Int64()}).collect(engine="streaming")


def event_index(store: Store) -> pl.DataFrame:
    """One row for each reading that counts and each event in it (columns of _INDEX)."""
    readings = store.rows("readings", ("entry", "events"))
    if readings.is_empty():
        return pl.DataFrame(schema=_INDEX)
    return readings.select("entry", "events").explode("events").unnest("events").select(list(_INDEX))


def printed_tracks(store: Store) -> pl.DataFrame:
    """DataFrame(event, printed): the track as the first file of the event printed it, where one did."""
    readings = store.rows("readings", ("entry", "facts", "events"))
    track = pl.col("facts").str.json_path_match("$.track").alias("printed")
    events = pl.col("events").list.eval(pl.element().struct.field("event")).alias("event")
    return (
        readings.select(events, track)
        .explode("event")
        .filter(pl.col("printed").is_not_null() & (pl.col("printed") != ""))
        .unique("event", keep="first", maintain_order=True)
    )


def visible_laps(
    store: Store,
    events: Sequence[str] | None = None,
    *,
    must_exist: bool = True,
    columns: Sequence[str] | None = None,
) -> pl.DataFrame:
    """Rows of the table laps that count, each lap once, by event, entry and row.

    ``columns``: those needed, apart from entry, row and LAP_KEY, which are always there; all for None.

    A lap that came in with several files is shown from the first of those that still count.

    Raises:
        ArchiveError: ``must_exist`` and the archive has no laps of one of the events.
    """
    index = event_index(store)
    if events is not None:
        missing = [name for name in events if name not in set(index["event"])]
        if missing and must_exist:
            raise no_event(missing[0], index["event"].unique().sort().to_list())
        index = index.filter(pl.col("event").is_in(events))
    # Laps of an event can be in two files, or only in one that came second to a file taken back since.
    several = index.filter((pl.len().over("event") > 1) | (pl.col("laps_known").sum().over("event") > 0))
    always = ("entry", "row", *LAP_KEY)
    wanted = KINDS["laps"].schema if columns is None else dict.fromkeys([*always, *columns])
    names = [name for name in wanted if name != "year"]
    laps = _rows(store, "laps", index, names)
    again = _rows(store, "laps_known", several, names)
    if several.is_empty():
        return laps.sort("event", "entry", "row")
    shared = pl.col("event").is_in(several["event"].unique().implode())
    once = (
        pl.concat([laps.filter(shared), again])
        .sort("event", "entry", "row")
        .unique(list(LAP_KEY), keep="first", maintain_order=True)
    )
    return pl.concat([laps.filter(~shared), once]).sort("event", "entry", "row")


def no_event(name: str, known: Sequence[str]) -> ArchiveError:
    """The error for an event that the archive does not have."""
    listed = ", ".join(known[-10:]) or "none yet"
    return ArchiveError(f"The archive has no event {name!r}.", f"Events it has: {listed}.", name)


def sessions_of(laps: pl.DataFrame) -> pl.DataFrame:
    """What ``Archive.sessions`` gives, of rows of the table laps, in order of appearance."""
    return (
        laps.group_by("event", "session", maintain_order=True)
        .agg(
            pl.len().cast(pl.Int64()).alias("laps"),
            pl.col("kart").n_unique().cast(pl.Int64()).alias("karts"),
            pl.col("clock_ns").min().cast(pl.Time()).alias("first_clock"),
            pl.col("clock_ns").max().cast(pl.Time()).alias("last_clock"),
            pl.col("source_file").drop_nulls().unique(maintain_order=True).alias("source_file"),
        )
        .with_columns(pl.col("source_file").list.join("; "))
    )


def laps_by_kart(store: Store, events: Sequence[str]) -> pl.DataFrame:
    """How many laps each kart ran in each session of these events, those set aside too, in order of appearance.

    DataFrame(event, session, kart, laps, date, clock): date and clock of the session's first lap, null where
    the file has none. Events without laps have no rows.
    """
    return (
        visible_laps(store, list(events), must_exist=False, columns=("date",))
        .group_by("event", "session", "kart", maintain_order=True)
        .agg(
            pl.len().cast(pl.Int64()).alias("laps"),
            pl.col("date").min(),
            pl.col("clock_ns").min().cast(pl.Time()).alias("clock"),
        )
    )


def sessions_ever(store: Store, event: str) -> set[str]:
    """Sessions of an event of which laps ever came in, those of files taken back since too."""
    history = store.history().rows["entry"]
    table = store.place.tables["laps"]
    if table.refresh() < 0:
        return set()
    files = table.files().filter(_may_hold("event", pl.Series([event])))
    with plainly(table.where):
        rows = (
            table.scan(files).filter(pl.col("event") == event).select("entry", "session").unique().collect()
        )
    return set(rows.filter(pl.col("entry").is_in(history.implode()))["session"])


def _rows(store: Store, name: str, index: pl.DataFrame, columns: Sequence[str]) -> pl.DataFrame:
    """Rows of ``laps`` or ``laps_known`` of those readings and events."""
    table = store.place.tables[name]
    if index.is_empty() or table.refresh() < 0:
        return pl.DataFrame(schema={column: table.stored[column] for column in columns})
    entries = index["entry"].unique()
    events = index["event"].unique()
    years = index["years"].explode().unique().cast(pl.String())
    files = table.files().filter(
        pl.col("part").is_in(years.implode()),
        _may_hold("entry", entries),
        _may_hold("event", events),
    )
    with plainly(table.where):
        return (
            table.scan(files)
            # Lists, not Series: with these polars skips row groups by their statistics (6 ms instead of 108).
            .filter(pl.col("event").is_in(events.to_list()) & pl.col("entry").is_in(entries.to_list()))
            .select(columns)
            .collect()
        )


def _may_hold(name: str, wanted: pl.Series) -> pl.Expr:
    """Files whose range of values can hold one of those wanted; a range not told can hold all."""
    low, high = wanted.min(), wanted.max()
    outside = (pl.col(f"last_{name}") < low) | (pl.col(f"first_{name}") > high)
    lone = (pl.col(f"first_{name}") == pl.col(f"last_{name}")) & ~pl.col(f"first_{name}").is_in(
        wanted.implode()
    )
    return ~(outside | lone).fill_null(False)
