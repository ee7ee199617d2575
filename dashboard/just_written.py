"""What was written on the page just now: said after it is drawn anew, with the way back."""

from typing import Final

import streamlit as st

from dashboard import state
from dashboard.plain import plain
from dashboard.says import mark

_UNDO: Final = "_fitted_entry"


def keep_entries(entries: list[str], said: str) -> None:
    """Remember what was written, so that it can be said and taken back."""
    st.session_state[_UNDO] = (entries, said)


def written_just_now() -> None:
    """What was written last, and the way back."""
    done: tuple[list[str], str] | None = st.session_state.get(_UNDO)
    if done is None:
        return
    st.success(plain(done[1]), icon=":material/check:")
    if st.button(mark("undo"), key="fitted_undo"):
        for entry in reversed(done[0]):
            state.archive().undo(entry, why="undone on the page")
        del st.session_state[_UNDO]
        st.rerun()
