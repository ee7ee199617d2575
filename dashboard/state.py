"""What the pages share: the archive, the question asked, its finding, and the language."""

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import streamlit as st

import lapdelta
from dashboard.launch import ARCHIVE_VARIABLE
from lapdelta.words import LANGUAGES

if TYPE_CHECKING:
    from lapdelta import Archive, Finding

_QUESTION: Final = "question"
_LANGUAGE: Final = "language"


@dataclass(frozen=True)
class Question:
    """One comparison as asked on the page."""

    event: str
    kart: str
    before: tuple[str, ...]
    after: tuple[str, ...]
    measure: str
    margin: float | None
    history: bool = True


def archive() -> "Archive":
    """The archive that the pages show; opened once for all of them."""
    return _open(os.environ.get(ARCHIVE_VARIABLE))


@st.cache_resource(show_spinner=False)
def _open(folder: str | None) -> "Archive":
    from lapdelta.archive import default_folder

    return lapdelta.Archive(Path(folder) if folder else default_folder())


@st.cache_resource(show_spinner=False)
def _memory(folder: str) -> dict[str, Any]:
    """What outlives a reload of the page: one user, one machine, so one memory an archive."""
    del folder
    return {}


def version() -> tuple[str, int]:
    """What changes whenever the archive does; answers are kept as long as it stays the same."""
    history = archive().history()
    return str(archive().folder), history.height


def question() -> Question | None:
    """The question asked last, on whatever page, also before a reload."""
    kept: Question | None = _memory(str(archive().folder)).get(_QUESTION)
    return st.session_state.get(_QUESTION, kept)


def keep_question(asked: Question | None) -> None:
    """Remember the question for the other pages."""
    st.session_state[_QUESTION] = asked
    if asked is not None:
        _memory(str(archive().folder))[_QUESTION] = asked


def ask_next(event: str, kart: str, before: list[str], after: list[str]) -> None:
    """Fill in the question of *Did it help?* with a change found elsewhere."""
    keep_question(Question(event, kart, tuple(before), tuple(after), "lap_time", None))
    for name in [name for name in st.session_state if str(name).startswith("ask_")]:
        del st.session_state[name]


def finding() -> "Finding | None":
    """The answer to the question asked last; None before one is asked or its worthwhile margin is fixed."""
    asked = question()
    return None if asked is None or asked.margin is None else answer(asked)


def answer(asked: Question) -> "Finding":
    """Ask, with the same function as the command line; the same question is computed once."""
    return _answer(asked, version(), lapdelta.__version__)


@st.cache_resource(show_spinner=False, max_entries=64)
def _answer(asked: Question, archive_version: tuple[str, int], program_version: str) -> "Finding":
    """A finding is frozen, so it is kept as it is. The last two arguments only say when it is out of date."""
    from lapdelta.asking.archive_question import ask

    del archive_version, program_version
    return ask(
        archive(),
        event=asked.event,
        kart=asked.kart,
        before=asked.before,
        after=asked.after,
        measure=asked.measure,
        margin=asked.margin,
        use_history=asked.history,
    )


def language() -> str:
    """The language chosen; before anybody chose, the browser's, and English for any we do not have."""
    chosen = st.session_state.get(_LANGUAGE) or _memory(str(archive().folder)).get(_LANGUAGE)
    wanted = str(chosen or st.context.locale or "en").split("-")[0]
    return wanted if wanted in LANGUAGES else "en"


def keep_language() -> None:
    """Remember the language for after a reload."""
    _memory(str(archive().folder))[_LANGUAGE] = st.session_state[_LANGUAGE]


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
