"""The day itself: its date, its circuit, and how long a lap is, from which kilometres are counted."""

from datetime import date
from typing import Any, Final

import polars as pl
import streamlit as st

from dashboard import state
from dashboard.card import show_error
from dashboard.just_written import keep_entries
from dashboard.plain import plain
from dashboard.says import mark, say
from lapdelta.errors import LapdeltaError
from lapdelta.words import in_digits

_DIRECTIONS: Final = ("clockwise", "anticlockwise")
#: What a lap can be, m; the library checks it again.
_SHORTEST_M, _LONGEST_M = 10.0, 30_000.0


def the_day(event: str) -> None:
    """What is known of the day, and a form to write it down."""
    known: dict[str, Any] = state.archive().events.row(by_predicate=pl.col("event") == event, named=True)
    length = _length(event, known["track"])
    place = f"day_{event}"
    with st.expander(mark("day.title")), st.form(place, border=False):
        track = st.text_input(mark("day.track"), known["track"] or "", max_chars=80, key=f"{place}_track")
        direction = st.pills(
            mark("day.direction"), _DIRECTIONS, key=f"{place}_direction",
            default=known["direction"] if known["direction"] in _DIRECTIONS else None,
            format_func=lambda way: say(f"day.{way}"),
        )  # fmt: skip
        day = st.date_input(mark("day.date"), known["date"], format="YYYY-MM-DD", key=f"{place}_date")
        metres = st.number_input(
            mark("day.length"), _SHORTEST_M, _LONGEST_M, length, step=1.0, format="%.0f",
            key=f"{place}_length", help=mark("day.length.help"),
        )  # fmt: skip
        if not st.form_submit_button(mark("day.write"), type="primary"):
            return
    new: dict[str, Any] = {"track": track.strip() or None, "date": day if isinstance(day, date) else None}
    if direction is not None or known["direction"] in _DIRECTIONS:
        new["direction"] = direction
    try:
        _write(event, known, new, None if metres == length else metres)
    except LapdeltaError as error:
        show_error(error)


def _length(event: str, track: str | None) -> float | None:
    """How long a lap was, as written down for the day or else for its circuit."""
    rows = state.archive().lap_lengths().select("about", "name", "lap_length_m").iter_rows()
    known = {(about, name): metres for about, name, metres in rows}
    return known.get(("event", event)) or known.get(("track", track))


def _write(event: str, known: dict[str, Any], new: dict[str, Any], metres: float | None) -> None:
    """Write what differs; the length belongs to the circuit, or to the day while nobody named its circuit."""
    from lapdelta.parts.box import set_lap_length

    changed = {name: value for name, value in new.items() if value != known[name]}
    entries: list[str] = []
    if changed:
        entries.append(state.archive().put_event(event, why="typed on the page", **changed))
    if metres is not None:
        about, name = ("track", new["track"]) if new["track"] else ("event", event)
        entries.append(set_lap_length(state.archive(), about, name, metres))
    if entries:
        keep_entries("fitted", entries, say("day.written", event=event))
    st.rerun()


def what_is_known(event: str) -> None:
    """One line under the choice of the day: circuit, direction, lap length."""
    known: dict[str, Any] = state.archive().events.row(by_predicate=pl.col("event") == event, named=True)
    length = _length(event, known["track"])
    way = known["direction"]
    parts = [known["track"], say(f"day.{way}") if way in _DIRECTIONS else way]
    parts.append(say("day.lap", metres=in_digits(f"{length:g}", state.language())) if length else None)
    if any(parts):
        st.caption(plain(", ".join(part for part in parts if part)))
