"""What is around every page: the row of links above it, the choice of language below it."""

from typing import Any, Final

import streamlit as st

from dashboard import state
from dashboard.card import error_card
from dashboard.says import say
from dashboard.views import PAGES

_FIRST: Final = "help"
#: The first page's address is ``/``; this only keeps it apart from others.
_NO_ADDRESS: Final = "first"
_OWN_NAMES: Final = {"en": "English", "de": "Deutsch"}


def run() -> None:
    """Draw the page that the address names, inside its frame."""
    objects = _page_objects()
    st.session_state["_pages"] = objects
    page = st.navigation([*objects.values(), _first_page_by_name()], position="hidden")
    with st.container(key="pages_row"):
        for name, target in objects.items():
            st.page_link(target, label=say(f"page.{name}"))
    with st.container(key="page_body"), error_card():
        page.run()
    with st.container(key="page_foot"):
        _choose_language()


def _page_objects() -> dict[str, Any]:
    """The pages by short name, in the order in which they are shown."""
    return {
        name: st.Page(
            show,
            title=say(f"page.{name}"),
            url_path=_NO_ADDRESS if name == _FIRST else path,
            default=name == _FIRST,
        )
        for name, (show, path) in PAGES.items()
    }


def _first_page_by_name() -> Any:
    """The first page once more: the server knows it as ``/`` only, and people type the name that they read."""
    show, path = PAGES[_FIRST]
    return st.Page(show, title=say(f"page.{_FIRST}"), url_path=path)


def _choose_language() -> None:
    codes = list(_OWN_NAMES)
    st.session_state.setdefault("language", state.language())
    st.radio(
        say("language"), codes, format_func=_OWN_NAMES.__getitem__, key="language", horizontal=True,
        on_change=state.keep_language,
    )  # fmt: skip
