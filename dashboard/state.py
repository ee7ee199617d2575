"""What the pages share: the archive, the question asked, its finding, and the language."""

import os
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Final

import streamlit as st

from dashboard import kept
from dashboard.kept import KeptArchive, answer_of, archive_of, memory_of
from dashboard.launch import ARCHIVE_VARIABLE, is_serving, wait_until_ready
from dashboard.question import Question, last_asked
from lapdelta.words import LANGUAGES

if TYPE_CHECKING:
    from lapdelta import Finding

_QUESTION: Final = "question"
_LANGUAGE: Final = "language"


def archive() -> "KeptArchive":
    """The archive that the pages show; opened once for all of them."""
    return archive_of(os.environ.get(ARCHIVE_VARIABLE))


def _memory() -> dict[str, Any]:
    return memory_of(str(archive().folder))


def version() -> tuple[str, int]:
    """What changes whenever the archive does; answers are kept as long as it stays the same."""
    return str(archive().folder), archive().history().height


def question() -> Question | None:
    """The question asked last, on whatever page, also before a reload or a new start."""
    if _QUESTION in st.session_state:
        return st.session_state[_QUESTION]
    memory = _memory()
    if _QUESTION not in memory:
        memory[_QUESTION] = last_asked(archive())
    return memory[_QUESTION]


def keep_question(asked: Question | None) -> None:
    """Remember the question for the other pages."""
    st.session_state[_QUESTION] = asked
    if asked is not None:
        _memory()[_QUESTION] = asked


def forget_question() -> None:
    """New timing came in: the next question is offered from it."""
    st.session_state.pop(_QUESTION, None)
    _memory().pop(_QUESTION, None)
    _forget_choices()


def ask_next(event: str, kart: str, before: list[str], after: list[str]) -> None:
    """Fill in the question of *Did it help?* with a change found elsewhere."""
    keep_question(Question(event, kart, tuple(before), tuple(after), "lap_time", None))
    _forget_choices()


def _forget_choices() -> None:
    for name in [name for name in st.session_state if str(name).startswith("ask_")]:
        del st.session_state[name]


def finding() -> "Finding | None":
    """The answer to the question asked last; None before one is asked or its worthwhile margin is fixed."""
    asked = question()
    return None if asked is None or asked.margin is None else answer(asked)


def answer(asked: Question) -> "Finding":
    """Ask, with the same function as the command line; the same question is computed once."""
    wait_until_ready("answer")
    return answer_of(archive(), asked)


def think_ahead(asked: Question, measures: list[str]) -> None:
    """Have the other measures ready; only where the pages are served, for a test looks at one page and ends."""
    if is_serving():
        kept.think_ahead(archive(), asked, measures)


def language() -> str:
    """The language chosen; before anybody chose, the browser's, and English for any we do not have."""
    chosen = st.session_state.get(_LANGUAGE) or _memory().get(_LANGUAGE)
    wanted = str(chosen or st.context.locale or "en").split("-")[0]
    return wanted if wanted in LANGUAGES else "en"


def keep_language() -> None:
    """Remember the language for after a reload."""
    _memory()[_LANGUAGE] = st.session_state[_LANGUAGE]


def dark() -> bool:
    """True if the page is dark, so that pictures are too."""
    return getattr(st.context.theme, "type", None) == "dark"


def page_link(name: str, label: str) -> None:
    """A link to another page; nothing when a page is drawn on its own, as tests do."""
    links: Mapping[str, Any] = st.session_state.get("_pages", {})
    if name in links:
        st.page_link(links[name], label=label)


def go_to(name: str) -> None:
    """Open another page; stay when a page is drawn on its own, as tests do."""
    links: Mapping[str, Any] = st.session_state.get("_pages", {})
    if name in links:
        st.switch_page(links[name])
