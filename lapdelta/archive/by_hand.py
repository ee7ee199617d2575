"""Laps set aside or put back by hand: an entry like any other, so it can be undone."""

from collections.abc import Sequence

import polars as pl

from lapdelta.archive.look import visible_laps
from lapdelta.archive.schema import LAP_KEY
from lapdelta.archive.store import Store
from lapdelta.errors import ArchiveError


def hand_state(store: Store) -> pl.DataFrame:
    """The last word by hand on each lap: LAP_KEY, ``aside`` (bool), ``entry``, ``why``."""
    rows = store.rows("by_hand").unique(list(LAP_KEY), keep="last", maintain_order=True)
    reasons = store.history().rows.select("entry", "why")
    return rows.join(reasons, on="entry", how="left", maintain_order="left")


def without_set_aside(laps: pl.DataFrame, hands: pl.DataFrame) -> pl.DataFrame:
    """The laps that nobody set aside by hand."""
    aside = hands.filter(pl.col("aside"))
    if aside.is_empty():
        return laps
    return laps.join(aside, on=LAP_KEY, how="anti", nulls_equal=True, maintain_order="left")


def choose(store: Store, event: str, session: str, kart: str, laps: Sequence[int] | None) -> pl.DataFrame:
    """LAP_KEY of those laps; all of the kart's laps in the session for None.

    Raises:
        ArchiveError: there is no such session, kart or lap.
    """
    found = visible_laps(store, [event], columns=()).filter(
        pl.col("session") == session, pl.col("kart") == kart
    )
    place = f"event {event}, session {session}, kart {kart}"
    if found.is_empty():
        raise ArchiveError(
            "There are no laps of that kart in that session.", _who_is_there(store, event, session), place
        )
    if laps is not None:
        known = set(found["lap"])
        missing = [number for number in laps if number not in known]
        if missing or not laps:
            what = f"There is no lap {missing[0]}." if missing else "No lap was named."
            span = f"Its laps are {found['lap'].min()} to {found['lap'].max()}."
            raise ArchiveError(what, span, place)
        found = found.filter(pl.col("lap").is_in(laps))
    return found.select(LAP_KEY)


def _who_is_there(store: Store, event: str, session: str) -> str:
    """How to mend a kart, session or event that is not there: the names that are."""
    laps = visible_laps(store, [event], columns=())
    if laps.is_empty():
        return "See the events with: lapdelta events"
    here = laps.filter(pl.col("session") == session)
    if here.is_empty():
        return f"The sessions are {', '.join(laps['session'].unique(maintain_order=True))}."
    return f"The karts of that session are {', '.join(here['kart'].unique(maintain_order=True))}."
