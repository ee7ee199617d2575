"""A day that was written about before its laps came in: the laps go under the name that was used then."""

import polars as pl

from lapdelta.archive.look import event_index, printed_tracks
from lapdelta.archive.store import Store

DAY = "%Y-%m-%d"


def under_the_name_in_use(store: Store, laps: pl.DataFrame, track: str) -> pl.DataFrame:
    """Laps of ``2026-05-16 Home circuit`` go under ``2026-05-16`` if the setup sheet or a question calls it that.

    Only where that day has no laps yet, or those of the same printed track; a name that is in use already stays.

    Args:
        store: of the archive.
        laps: tables.EVENT_LAPS, named by day and printed track.
        track: as printed in the file, not empty.
    """
    with_laps = set(event_index(store)["event"])
    tracks = dict(printed_tracks(store).iter_rows())
    used = _written_about(store) | with_laps
    names = laps.select("event", pl.col("date").dt.to_string(DAY).alias("day")).unique()
    called = {
        name: day
        for name, day in names.iter_rows()
        if name not in used and day in used and (day not in with_laps or tracks.get(day) == track)
    }
    return laps.with_columns(pl.col("event").replace(called)) if called else laps


def _written_about(store: Store) -> set[str]:
    """Names of events in the event records, the setup sheet and the questions."""
    return {
        name
        for table in ("events", "setups", "questions")
        for name in store.rows(table, ("entry", "event"))["event"]
    }
