"""What next: the answer so far, the next step that the box offers, and a plan for the sessions left."""

from typing import TYPE_CHECKING, Final

import streamlit as st

from dashboard import asking, first_look, own_units, state
from dashboard.cautions import show_cautions
from dashboard.on_the_page import for_page
from dashboard.plain import plain
from dashboard.says import mark, say
from dashboard.shown import bullets, table

if TYPE_CHECKING:
    from lapdelta.what_next.answer import WhatNext


#: The order to run, what such a day sees, and how many days the margin takes; the rest is to open.
_FIRST_OF_THE_PLAN: Final = 3


def show() -> None:
    """The page."""
    st.title(mark("page.next"), anchor=False)
    if not asking.anything_kept():
        st.write(mark("next.empty"))
        state.page_link("bring", say("help.empty.go"))
        return
    left, right = st.columns([3, 2], gap="large")
    with right:
        last = state.question()
        events = asking.events_with_laps()
        event = asking.choose_event(events, last.event if last else None, "next")
        laps = state.archive().laps(event)
        kart = asking.choose_kart(
            laps, events, event, last.kart if last and last.event == event else None, "next"
        )
        sessions = st.number_input(
            mark("next.sessions"), min_value=0, max_value=20, value=4, key="next_sessions"
        )
        count = st.number_input(mark("next.laps"), min_value=5, max_value=60, value=10, key="next_laps")
    asked = last if last and (last.event, last.kart) == (event, kart) and last.margin else None
    with left:
        with st.spinner(say("next.thinking")):
            found = _found(event, kart, asked, int(sessions), int(count), state.version())
        _show(found)
        show_cautions()


@st.cache_resource(show_spinner=False, max_entries=16)
def _found(
    event: str, kart: str, asked: state.Question | None, sessions: int, laps: int, version: tuple[str, int]
) -> "WhatNext":
    """The last argument only says when it is out of date."""
    from lapdelta.what_next.answer import what_next

    del version
    # Without a question asked none is answered here: what is worth having is fixed before the first look.
    return what_next(
        state.archive(), event=event, kart=kart, finding=state.answer(asked) if asked else None,
        before=(), after=(), sessions_left=sessions, laps_per_session=laps,
    )  # fmt: skip


def _not_asked(found: "WhatNext") -> None:
    """The last change that the setup sheet shows, to be asked about first; or that there is none."""
    from lapdelta.what_next.answer import last_change

    before, after = last_change(state.archive(), found.event, found.kart)
    if not before or not after:
        st.write(mark("next.nothing"))
        return
    st.write(mark("next.not_asked", before=", ".join(before), after=", ".join(after)))
    if st.button(mark("next.ask"), type="primary"):
        state.ask_next(found.event, found.kart, list(before), list(after))
        state.go_to("help")


def _show(found: "WhatNext") -> None:
    """What to do now first; each part only where there is something to say."""
    from lapdelta.sheet.advice import what_now
    from lapdelta.sheet.sentences import headline

    language = state.language()
    if found.finding is None:
        _not_asked(found)
    else:
        shown = own_units.finding_shown(found.finding)
        st.markdown(f"**{plain(headline(shown, language))}**")
        first_look.count_of_season(found.finding)
        bullets(say("help.now"), what_now(shown, language))
    if found.pulled:
        bullets(say("next.pulled"), [for_page(found.pulled.sentence)])
    if found.step:
        bullets(
            say("next.step"),
            [for_page(one.sentence) for one in (found.step, found.expectation) if one],
        )
    if found.plan:
        said = [for_page(sentence) for sentence in found.plan.sentences]
        bullets(say("next.plan"), said[:_FIRST_OF_THE_PLAN])
        rows = [
            {
                say("next.order"): " ".join(one.order),
                say("next.sees", unit=found.plan.unit): one.smallest_effect,
                say("next.days"): one.days,
            }
            for one in found.plan.options
        ]
        table(say("next.orders"), rows)
        with st.expander(mark("next.rests_on")):
            st.markdown("\n".join(f"- {plain(sentence)}" for sentence in said[_FIRST_OF_THE_PLAN:]))
    if found.why_not:
        bullets(say("next.missing"), [for_page(sentence) for sentence in found.why_not])
        state.page_link("gearing", say("next.fill_box"))
