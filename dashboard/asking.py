"""The question, asked with plain widgets that work by touch; what was chosen is remembered across pages."""

from typing import TYPE_CHECKING, Any

import polars as pl
import streamlit as st

from dashboard import state
from dashboard.plain import plain
from lapdelta.errors import QuestionError

if TYPE_CHECKING:
    from collections.abc import Sequence

#: As many as any file may hold; which ones are offered depends on the laps.
_MOST_SECTORS = 99
_OLD, _NEW = "Sessions with the old setting", "Sessions with the new setting"


def anything_kept() -> bool:
    """True once the archive holds laps."""
    return state.archive().sessions().height > 0


def ask_question() -> state.Question | None:
    """Draw the widgets; the question, or None while something is missing."""
    kept = state.archive()
    last = state.question()
    with st.expander("The question", expanded=True):
        # Newest first; an event whose laps were taken back is not asked about.
        events = kept.events.filter(pl.col("event").is_in(kept.sessions()["event"].to_list())).reverse()
        names: list[str] = events["event"].to_list()
        event = _choice("Event", names, last.event if last else None, "event")
        laps = kept.laps(event)
        kart = _kart(laps, events, event, last.kart if last and last.event == event else None)
        before, after = _sessions(laps, event, kart, last)
        measure = _measure(laps, last)
        margin = _margin(measure, last)
    if not before or not after:
        return None
    return state.Question(event, kart, before, after, measure, margin)


def _choice(label: str, options: "Sequence[str]", wanted: str | None, key: str) -> str:
    index = list(options).index(wanted) if wanted in options else 0
    return st.selectbox(label, options, index=index, key=f"ask_{key}")


def _kart(laps: pl.DataFrame, events: pl.DataFrame, event: str, wanted: str | None) -> str:
    """Our kart: as written down for the event; a choice can be written down with one click."""
    karts = sorted(laps["kart"].unique().to_list())
    written: str | None = events.filter(events["event"] == event)["our_kart"].item()
    kart = _choice("Our kart", karts, wanted or written, f"kart_{event}")
    if kart != written and st.button(f"Remember {plain(kart)} as our kart at this event"):
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
    for label, group, side in ((_OLD, groups[0], "before"), (_NEW, groups[1], "after")):
        key = f"ask_{side}_{event}_{kart}"
        if key not in st.session_state:
            st.session_state[key] = [session for session in group if session in sessions]
        picked = st.pills(label, sessions, selection_mode="multi", format_func=plain, key=key)
        chosen.append(tuple(session for session in sessions if session in (picked or [])))
    return chosen[0], chosen[1]


def _offer(sessions: list[str], event: str, kart: str) -> tuple[list[str], list[str]]:
    """A button for each change on the setup sheet; the sessions of the first one."""
    from lapdelta.setups import proposed_questions

    found = proposed_questions(state.archive().setups, sessions, event, kart)
    if len(found) > 1:
        st.caption("Changes on the setup sheet:")
        for place, one in enumerate(found):
            st.button(
                plain(one["text"]), key=f"offer_{event}_{kart}_{place}",
                on_click=_take, args=(event, kart, one["before"], one["after"]),
            )  # fmt: skip
    return (found[0]["before"], found[0]["after"]) if found else ([], [])


def _take(event: str, kart: str, before: list[str], after: list[str]) -> None:
    """Fill in the sessions of an offered change."""
    st.session_state[f"ask_before_{event}_{kart}"] = before
    st.session_state[f"ask_after_{event}_{kart}"] = after


def _measure(laps: pl.DataFrame, last: state.Question | None) -> str:
    """Only what these laps hold can be asked."""
    from lapdelta.words import measure_name

    options = ["lap_time"]
    if laps["top_speed_kmh"].is_not_null().any():
        options.append("top_speed")
    if laps["peak_rpm"].is_not_null().any():
        options.append("peak_rpm")
    sectors: Any = laps["sector_times_s"].list.len().max()
    options += [f"sector_{number}" for number in range(1, (sectors or 0) + 1)]
    wanted = last.measure if last and last.measure in options else "lap_time"
    picked = st.pills("Measure", options, default=wanted, format_func=measure_name, key="ask_measure")
    return picked or wanted


def _margin(measure: str, last: state.Question | None) -> float:
    """The smallest change worth having, to be fixed before looking."""
    from lapdelta.effect.measures import find_measure
    from lapdelta.words import unit_text

    usual = find_measure(measure, sectors=_MOST_SECTORS)
    if usual is None:
        raise QuestionError(f"{measure} is no measure.", "Choose another.")
    value = last.margin if last and last.measure == measure and last.margin else usual.margin
    return st.number_input(
        f"Smallest change worth having, {unit_text(measure)}", min_value=usual.margin / 10, value=value,
        step=usual.margin / 2, format="%.2f" if usual.unit == "s" else "%.1f", key=f"ask_margin_{measure}",
        help="Fix it before looking: choosing it after the answer makes the answer worthless.",
    )  # fmt: skip
