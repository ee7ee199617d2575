"""Which event is meant, and which kart is ours there."""

import re
from collections.abc import Iterable
from difflib import get_close_matches
from typing import TYPE_CHECKING

import polars as pl

from lapdelta.errors import QuestionError

if TYPE_CHECKING:
    from lapdelta.archive import Archive


def which_event(archive: "Archive", typed: str | None) -> str:
    """The event meant: as ``known_event`` if one was typed, else as ``only_event``."""
    return known_event(archive, typed) if typed else only_event(archive)


def only_event(archive: "Archive") -> str:
    """The event of an archive that holds just one, or laps of just one."""
    events: list[str] = archive.events["event"].to_list()
    if len(events) == 1:
        return events[0]
    driven: list[str] = archive.sessions()["event"].unique().to_list() if events else []
    if len(driven) == 1:
        return driven[0]
    if not events:
        raise QuestionError("The archive holds no laps yet.", "Bring some in with: lapdelta import FILE...")
    raise QuestionError(
        f"The archive holds {len(events)} events: {', '.join(events)}.",
        "Say which one with --event.",
        "--event",
    )


def event_meant(archive: "Archive", typed: str) -> str:
    """The one event whose name begins as typed (its day is enough); what was typed if there is none or several."""
    events: list[str] = archive.events["event"].to_list()
    begun = [event for event in events if event.casefold().startswith(typed.casefold())]
    return begun[0] if typed not in events and len(begun) == 1 and typed else typed


def session_meant(known: Iterable[str], typed: str) -> str:
    """The one session meant: its name in other capitals, or only its number ("2" for "Training 2").

    What was typed if there is no such session or there are several.
    """
    sessions = list(known)
    if typed in sessions:
        return typed
    same = [session for session in sessions if session.casefold() == typed.casefold()]
    if not same and typed.isdecimal():
        numbers = {session: re.search(r"(?<![\d.,:/-])\d+$", session) for session in sessions}
        same = [session for session, found in numbers.items() if found and int(found[0]) == int(typed)]
    return same[0] if len(same) == 1 else typed


def known_event(archive: "Archive", event: str) -> str:
    """The event's name, if laps of it are there or something is written down of it; its beginning is enough.

    Raises:
        QuestionError: nobody knows it; the names that come nearest, or all, are in how to mend it.
    """
    events: list[str] = archive.events["event"].to_list()
    event = event_meant(archive, event)
    if event in events:
        return event
    if not events:
        raise QuestionError(
            "The archive holds no laps yet.", "Bring some in with: lapdelta import FILE...", event
        )
    near = get_close_matches(event, events, n=3, cutoff=0.6)
    mend = f"Nearest: {', '.join(near)}." if near else f"The events are {', '.join(events)}."
    raise QuestionError(f"The archive has no event {event!r}.", mend, event)


def our_kart(archive: "Archive", event: str) -> str:
    """The number of our kart as written down for an event."""
    events = archive.events
    ours: list[str | None] = events.filter(pl.col("event") == event)["our_kart"].to_list()
    if ours and ours[0]:
        return ours[0]
    raise QuestionError(
        f"Nobody has written down which kart is ours at {event}.",
        f"Say it with --kart, or once for all with: lapdelta events '{event}' --our-kart NUMBER",
        "--kart",
    )
