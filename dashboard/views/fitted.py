"""What was fitted: the setup sheet by session, "same as before, except", and the changes found in it."""

from typing import Any

import streamlit as st

from dashboard import asking, fitted_day, fitted_form, fitted_grid, own_units, state
from dashboard.just_written import written_just_now
from dashboard.plain import plain
from dashboard.says import mark, say, told
from dashboard.shown import table


def show() -> None:
    """The page."""
    st.title(mark("page.fitted"), anchor=False)
    if not asking.anything_kept():
        st.write(mark("fitted.empty"))
        state.page_link("bring", say("fitted.empty.go"))
        return
    st.write(mark("fitted.intro"))
    written_just_now("fitted")
    left, right = st.columns([3, 2], gap="large")
    with left:
        last = state.question()
        events = asking.events_with_laps()
        event = asking.choose_event(events, last.event if last else None, "fitted")
        fitted_day.what_is_known(event)
        laps = state.archive().laps(event)
        kart = asking.choose_kart(
            laps, events, event, last.kart if last and last.event == event else None, "fitted"
        )
        driven: list[str] = laps.filter(laps["kart"] == kart)["session"].unique(maintain_order=True).to_list()
        session = _session(event, kart, driven)
        if session:
            fitted_form.fill_in(event, kart, driven, session)
    with right:
        _changes(event, kart, driven)
        fitted_day.the_day(event)
    fitted_grid.as_table(event, kart, driven)
    _laps_run(event, kart)
    own_units.choose_units()


def _session(event: str, kart: str, driven: list[str]) -> str | None:
    """One of the day's sessions, or one still to come: those without an entry are marked."""
    sheet = state.archive().setups
    rows = sheet.filter((sheet["event"] == event) & (sheet["kart"] == kart))
    written: list[str] = rows["session"].to_list()
    options = [*driven, *(name for name in written if name not in driven)]
    first_open = next((name for name in options if name not in written), options[0] if options else None)
    key = f"fitted_session_{event}_{kart}"
    st.session_state.setdefault(key, first_open)
    picked = st.pills(
        mark("fitted.session"), options, key=key, wrap=True,
        format_func=lambda name: plain(name if name in written else f"{name} ({say('fitted.open')})"),
    )  # fmt: skip
    coming = st.text_input(
        mark("fitted.coming"), key=f"fitted_coming_{event}_{kart}", max_chars=40, placeholder="P9"
    ).strip()
    return coming or picked


def _laps_run(event: str, kart: str) -> None:
    """Laps that each part had run before and after each session, counted from the laps themselves."""
    from lapdelta.parts.beside_the_sheet import SHOWN, by_session, laps_run

    cells = by_session(laps_run(state.archive(), event, kart))
    names = {kind: say("fitted.run.kind", kind=say(f"box.{kind.replace(' ', '_')}")) for kind in SHOWN}
    kinds = [kind for kind in SHOWN if any(kind in run for run in cells.values())]
    rows = [
        {say("fitted.column.session"): session}
        | {names[kind]: run.get(kind, "–").replace("->", "→") for kind in kinds}
        for (session, _), run in cells.items()
    ]
    if rows:
        with st.expander(mark("fitted.run")):
            table(say("fitted.run"), rows, heading=False)


def _changes(event: str, kart: str, driven: list[str]) -> None:
    """Changes found on the sheet, each a question one click away."""
    from lapdelta.setups import proposed_questions

    found: list[dict[str, Any]] = proposed_questions(
        state.archive().setups, driven, event, kart, state.archive().units
    )
    st.header(mark("fitted.changes"), anchor=False)
    if not found:
        st.write(mark("fitted.changes.none"))
    for place, one in enumerate(found):
        if st.button(mark("fitted.ask", change=told(one["text"])), key=f"fitted_ask_{place}"):
            state.ask_next(event, kart, one["before"], one["after"])
            state.go_to("help")
