"""What is around every page: the row of links above it, the choice of language below it."""

from collections.abc import Callable
from typing import Any, Final

import streamlit as st

from dashboard import state
from dashboard.addresses import FIRST, address, other_addresses
from dashboard.card import error_card
from dashboard.says import say
from dashboard.views import PAGES

#: The first page's address is ``/``; this only keeps it apart from others.
_NO_ADDRESS: Final = "first"
_OWN_NAMES: Final = {"en": "English", "de": "Deutsch"}


def run() -> None:
    """Draw the page that the address names, inside its frame."""
    objects = _page_objects()
    st.session_state["_pages"] = objects
    page = st.navigation([*objects.values(), *_under_other_names(objects)], position="hidden")
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
            url_path=_NO_ADDRESS if name == FIRST else address(name),
            default=name == FIRST,
        )
        for name, show in PAGES.items()
    }


def _under_other_names(objects: dict[str, Any]) -> list[Any]:
    """The pages once more under whatever else may be typed; each leads on to the page itself."""
    return [
        st.Page(_leading_to(objects[name]), title=say(f"page.{name}"), url_path=typed)
        for typed, name in other_addresses().items()
    ]


def _leading_to(target: Any) -> Callable[[], None]:
    return lambda: st.switch_page(target)


def _choose_language() -> None:
    codes = list(_OWN_NAMES)
    st.session_state.setdefault("language", state.language())
    st.radio(
        say("language"), codes, format_func=_OWN_NAMES.__getitem__, key="language", horizontal=True,
        on_change=state.keep_language,
    )  # fmt: skip
