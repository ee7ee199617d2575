"""The question, asked with plain widgets that work by touch; what was chosen is remembered across pages."""

from typing import TYPE_CHECKING, Any

import polars as pl
import streamlit as st

from dashboard import state
from dashboard.first_look import measure_label
from dashboard.plain import plain
from dashboard.says import mark, say, told

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence


def anything_kept() -> bool:
    """True once the archive holds laps."""
    return state.archive().sessions().height > 0


def ask_question() -> state.Question | None:
    """Draw the widgets; the question, its margin still open, or None while something is missing."""
    last = state.question()
    with st.expander(mark("ask.title"), expanded=True):
        events = events_with_laps()
        event = choose_event(events, last.event if last else None)
        laps = state.archive().laps(event)
        kart = choose_kart(laps, events, event, last.kart if last and last.event == event else None)
        before, after = _sessions(laps, event, kart, last)
        measure = _measure(laps, last)
    if not before or not after:
        return None
    return state.Question(event, kart, before, after, measure, None)


def events_with_laps() -> pl.DataFrame:
    """Newest first; an event whose laps were taken back is not asked about."""
    kept = state.archive()
    return kept.events.filter(pl.col("event").is_in(kept.sessions()["event"].to_list())).reverse()


def choose_event(events: pl.DataFrame, wanted: str | None, place: str = "ask") -> str:
    """The event, the newest one first, each with its circuit where that is written down."""
    circuits = dict(events.select("event", "track").iter_rows())
    return _choice(
        say("ask.event"), list(circuits), wanted, f"{place}_event",
        lambda event: ", ".join(filter(None, (event, circuits.get(event)))),
    )  # fmt: skip


def _choice(
    label: str, options: "Sequence[str]", wanted: str | None, key: str, said: "Callable[[str], str]" = str
) -> str:
    index = options.index(wanted) if wanted in options else 0
    return st.selectbox(plain(label), options, index=index, key=key, format_func=said)


def choose_kart(
    laps: pl.DataFrame, events: pl.DataFrame, event: str, wanted: str | None, place: str = "ask"
) -> str:
    """Our kart: as written down for the event; a choice can be written down with one click."""
    from lapdelta.setups import natural

    karts = sorted(laps["kart"].unique().to_list(), key=natural)
    written: str | None = events.filter(events["event"] == event)["our_kart"].item()
    kart = _choice(say("ask.kart"), karts, wanted or written, f"{place}_kart_{event}")
    if kart != written and st.button(mark("ask.remember", kart=kart), key=f"{place}_remember"):
        state.archive().put_event(event, our_kart=kart, why="chosen on the page")
        st.rerun()
    return kart


def _sessions(
    laps: pl.DataFrame, event: str, kart: str, last: state.Question | None
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Old and new sessions; changes that the setup sheet tells are offered, the first one taken at once."""
    sessions: list[str] = laps.filter(laps["kart"] == kart)["session"].unique(maintain_order=True).to_list()
    offered = _offer(sessions, event, kart)
    same = last is not None and (last.event, last.kart) == (event, kart)
    groups = (last.before, last.after) if same and last else offered
    chosen: list[tuple[str, ...]] = []
    for label, group, side in ((say("ask.old"), groups[0], "before"), (say("ask.new"), groups[1], "after")):
        key = f"ask_{side}_{event}_{kart}"
        if key not in st.session_state:
            st.session_state[key] = [session for session in group if session in sessions]
        picked = st.pills(
            plain(label), sessions, selection_mode="multi", format_func=plain, key=key, wrap=True
        )
        chosen.append(tuple(session for session in sessions if session in (picked or [])))
    return chosen[0], chosen[1]


def _offer(sessions: list[str], event: str, kart: str) -> tuple[list[str], list[str]]:
    """A button for each change on the setup sheet; the sessions of the first one."""
    from lapdelta.setups import proposed_questions

    found = proposed_questions(state.archive().setups, sessions, event, kart, state.archive().units)
    if len(found) > 1:
        st.caption(mark("ask.changes"))
        for place, one in enumerate(found):
            st.button(
                plain(told(one["text"])), key=f"offer_{event}_{kart}_{place}",
                on_click=_take, args=(event, kart, one["before"], one["after"]),
            )  # fmt: skip
    return (found[0]["before"], found[0]["after"]) if found else ([], [])


def _take(event: str, kart: str, before: list[str], after: list[str]) -> None:
    """Fill in the sessions of an offered change."""
    st.session_state[f"ask_before_{event}_{kart}"] = before
    st.session_state[f"ask_after_{event}_{kart}"] = after


def measures_of(laps: pl.DataFrame) -> list[str]:
    """Only what these laps hold can be asked."""
    options = ["lap_time", "early_laps", "late_laps"]
    if laps["top_speed_kmh"].is_not_null().any():
        options.append("top_speed")
    if laps["peak_rpm"].is_not_null().any():
        options.append("peak_rpm")
    sectors: Any = laps["sector_times_s"].list.len().max()
    return options + [f"sector_{number}" for number in range(1, (sectors or 0) + 1)]


def _measure(laps: pl.DataFrame, last: state.Question | None) -> str:
    options = measures_of(laps)
    wanted = last.measure if last and last.measure in options else "lap_time"
    picked = st.pills(
        mark("ask.measure"), options, default=wanted, format_func=measure_label, key="ask_measure", wrap=True
    )
    return picked or wanted
