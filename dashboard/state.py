"""What the pages share: the archive, the question asked, and its finding."""

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import streamlit as st

import lapdelta
from dashboard.launch import ARCHIVE_VARIABLE

if TYPE_CHECKING:
    from lapdelta import Archive, Finding

_QUESTION: Final = "question"


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


def version() -> tuple[str, int]:
    """What changes whenever the archive does; answers are kept as long as it stays the same."""
    history = archive().history()
    return str(archive().folder), history.height


def question() -> Question | None:
    """The question asked last, on whatever page."""
    return st.session_state.get(_QUESTION)


def keep_question(asked: Question | None) -> None:
    """Remember the question for the other pages."""
    st.session_state[_QUESTION] = asked


def finding() -> "Finding | None":
    """The answer to the question asked last; None before one is asked."""
    asked = question()
    return None if asked is None else answer(asked)


def answer(asked: Question) -> "Finding":
    """Ask, with the same function as the command line; the same question is computed once."""
    return _answer(asked, version(), lapdelta.__version__)


@st.cache_data(show_spinner="Comparing ...", max_entries=64)
def _answer(asked: Question, archive_version: tuple[str, int], program_version: str) -> "Finding":
    """The last two arguments only say when an answer kept is out of date."""
    from lapdelta.asking import ask

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


def dark() -> bool:
    """True if the page is dark, so that pictures are too."""
    return getattr(st.context.theme, "type", None) == "dark"


def page_link(name: str, label: str) -> None:
    """A link to another page; nothing when a page is drawn on its own, as tests do."""
    links: Mapping[str, Any] = st.session_state.get("_pages", {})
    if name in links:
        st.page_link(links[name], label=label)
