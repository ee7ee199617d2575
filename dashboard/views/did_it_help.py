"""Did it help? One sentence, the dots, the verdict, what to do now."""

from typing import TYPE_CHECKING

import streamlit as st

from dashboard import asking, first_look, own_units, state
from dashboard.launch import wait_until_ready
from dashboard.plain import plain
from dashboard.says import mark, say
from dashboard.shown import bullets, picture
from lapdelta.words import phrase
from lapdelta.words.printing import capital

if TYPE_CHECKING:
    from lapdelta import Finding


def show() -> None:
    """The page."""
    st.title(mark("page.help"), anchor=False)
    if not asking.anything_kept():
        st.write(mark("help.empty"))
        state.page_link("bring", say("help.empty.go"))
        return
    # On a phone columns lie below each other: the answer first, then the question.
    answer, question = st.columns([3, 2], gap="large")
    with question:
        asked = asking.ask_question()
    with answer:
        if asked is None:
            state.keep_question(None)
            st.info(mark("help.choose"), icon=":material/help:")
            return
        fixed = first_look.fixed(asked)
        state.keep_question(fixed or asked)
        if fixed is not None:
            show_answer(fixed)


def show_answer(asked: state.Question) -> None:
    """Sentence and verdict first, then the picture, then what to do now and what to keep in mind."""
    from lapdelta.asking.beside import beside, say_unwritten
    from lapdelta.sheet.advice import what_now
    from lapdelta.sheet.content import sure_title
    from lapdelta.sheet.sentences import headline, how_sure, keep_in_mind, verdict_word

    with st.spinner(say("help.comparing")):
        finding, language = state.answer(asked), state.language()
    season = first_look.season_count(finding)
    finding = own_units.finding_shown(finding)
    st.header(plain(capital(verdict_word(finding, language))), anchor=False)
    st.markdown(f"**{plain(headline(finding, language))}**")
    if finding.estimate is not None:
        _dots(finding)
    bullets(say("help.now"), what_now(finding, language))
    bullets(phrase(sure_title(finding), language), how_sure(finding, language, under_title=True))
    gaps = say_unwritten(beside(state.archive(), finding))
    bullets(say("help.mind"), [*gaps, *keep_in_mind(finding, language, season=season)])
    first_look.note_and_words(asked)
    state.page_link("why", say("page.why"))
    state.page_link("driver", say("page.driver"))
    state.think_ahead(asked, asking.measures_of(state.archive().laps(asked.event)))


def _dots(finding: "Finding") -> None:
    wait_until_ready("pictures")
    from lapdelta.pictures.change_dots import change_dots
    from lapdelta.pictures.single_laps import lap_scatter

    def draw() -> object:
        # Single laps beside the typical one: said only where the measure is the lap.
        laps = state.archive().laps(finding.settings["event"]) if finding.measure == "lap_time" else None
        scatter = None if laps is None else lap_scatter(laps, finding)
        return change_dots(finding, dark=state.dark(), language=state.language(), scatter=scatter)

    picture("change", draw, finding)
