"""What was written on a page just now: said after it is drawn anew, with the way back."""

import streamlit as st

from dashboard import state
from dashboard.plain import plain
from dashboard.says import mark


def keep_entries(page: str, entries: list[str], *said: str) -> None:
    """Remember what was written on that page (or part of one), so that it can be said, a line each, and taken back."""
    st.session_state[_key(page)] = (entries, said)


def written_just_now(page: str) -> bool:
    """What was written there last, and the way back; whether there was anything."""
    done: tuple[list[str], tuple[str, ...]] | None = st.session_state.get(_key(page))
    if done is None:
        return False
    entries, said = done
    st.success("  \n".join(map(plain, said)), icon=":material/check:")
    if entries and st.button(mark("undo"), key=f"{page}_undo"):
        for entry in reversed(entries):
            state.archive().undo(entry, why="undone on the page")
        del st.session_state[_key(page)]
        st.rerun()
    return True


def _key(page: str) -> str:
    return f"_written_{page}"
