"""Did it help? One sentence, the dots, the verdict, what to do now."""

from typing import TYPE_CHECKING

import streamlit as st

from dashboard import asking, state
from dashboard.plain import plain

if TYPE_CHECKING:
    from lapdelta import Finding


def show() -> None:
    """The page."""
    st.title("Did it help?")
    if not asking.anything_kept():
        st.write("Here stands what a change to the kart was worth, once there are laps to ask.")
        state.page_link("bring", "First bring in timing")
        return
    # On a phone columns lie below each other: the answer first, then the question.
    answer, question = st.columns([3, 2], gap="large")
    with question:
        asked = asking.ask_question()
    state.keep_question(asked)
    with answer:
        if asked is None:
            st.info(
                "Choose the sessions with the old setting and those with the new one.", icon=":material/help:"
            )
            return
        show_answer(state.answer(asked))


def show_answer(finding: "Finding") -> None:
    """Sentence and verdict first, then the picture, then what to do now and what to keep in mind."""
    from lapdelta.pictures.change_dots import change_dots
    from lapdelta.sheet.advice import what_now
    from lapdelta.sheet.sentences import headline, how_sure, keep_in_mind, verdict_word

    word = verdict_word(finding)
    st.subheader(plain(word[:1].upper() + word[1:]))
    st.markdown(f"#### {plain(headline(finding))}")
    if finding.estimate is not None:
        picture(change_dots(finding, dark=state.dark()))
    bullets("What to do now", what_now(finding))
    bullets("How sure", how_sure(finding))
    bullets("Keep in mind", keep_in_mind(finding))
    state.page_link("why", "Why we think so")
    state.page_link("driver", "Show the driver")


def bullets(title: str, sentences: list[str]) -> None:
    """A short list under its title; nothing if it is empty."""
    if sentences:
        lines = "\n".join(f"- {plain(sentence)}" for sentence in sentences)
        st.markdown(f"**{plain(title)}**\n\n{lines}")


def picture(chart: object) -> None:
    """A chart with its own text alternative."""
    from lapdelta.pictures.export import for_screen

    bare, alt_text = for_screen(chart)
    st.altair_chart(bare, theme=None, alt=alt_text, width="content")
