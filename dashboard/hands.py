"""Laps set aside or put back by hand: each a change that can be taken back, and the answer says so."""

from typing import TYPE_CHECKING, Any

import polars as pl
import streamlit as st

from dashboard import state
from dashboard.just_written import keep_entries, written_just_now
from dashboard.plain import plain
from dashboard.says import mark, say

if TYPE_CHECKING:
    from lapdelta import Finding


def by_hand(finding: "Finding") -> None:
    """Our laps by session, to touch and set aside; those set aside, to put back."""
    st.header(mark("hands.title"), anchor=False)
    st.write(mark("hands.why"))
    written_just_now("hands")
    event, kart = finding.settings["event"], finding.kart
    sessions = [cell["session"] for cell in finding.cells if cell["ours"]]
    session = st.pills(mark("hands.session"), sessions, key="hands_session", format_func=plain, wrap=True)
    if session is None:
        return
    everything = state.archive().laps(event, with_set_aside=True)
    aside = _ours(state.archive().set_aside.filter(pl.col("event") == event), kart, session)
    used = [lap for lap in _ours(everything, kart, session) if lap not in aside]
    times = _times(everything, kart, session)
    _pick("set_aside", used, times, event, kart, session)
    if aside:
        _pick("put_back", aside, times, event, kart, session)


def _ours(laps: pl.DataFrame, kart: str, session: str) -> list[int]:
    here = laps.filter(pl.col("kart") == kart, pl.col("session") == session, pl.col("lap").is_not_null())
    return here["lap"].unique(maintain_order=True).to_list()


def _times(laps: pl.DataFrame, kart: str, session: str) -> dict[int, str]:
    """What a lap is called: its number and time."""
    here = laps.filter(pl.col("kart") == kart, pl.col("session") == session, pl.col("lap").is_not_null())
    return {
        lap: f"{lap}: –" if time is None else f"{lap}: {time:.2f} s".replace(".", say("decimal_mark"))
        for lap, time in here.select("lap", "lap_time_s").iter_rows()
    }


def _pick(what: str, laps: list[int], times: dict[int, str], event: str, kart: str, session: str) -> None:
    key = f"hands_{what}_{event}_{kart}_{session}_{state.version()[1]}"
    picked: list[int] = st.pills(
        mark(f"hands.{what}.laps"), laps, selection_mode="multi", key=key, wrap=True,
        format_func=lambda lap: plain(times.get(lap, str(lap))),
    )  # fmt: skip
    if not st.button(mark(f"hands.{what}"), key=f"{key}_go", disabled=not picked):
        return
    change: Any = state.archive().set_aside_laps if what == "set_aside" else state.archive().put_back_laps
    entry = change(event, session, kart, list(picked), "by hand on the page")
    listed = ", ".join(str(lap) for lap in picked)
    keep_entries("hands", [entry], say(f"hands.{what}.done", laps=listed, session=session))
    st.rerun()
