"""The usual cautions beside anything about sprockets, chains and tests on track."""

import streamlit as st

from dashboard.plain import plain
from dashboard.says import mark, told


def show_cautions() -> None:
    """What goes before everything, and the whole check list to open."""
    from lapdelta.gearing import FIRST, check_list

    st.warning(plain(told(FIRST)), icon=":material/warning:")
    with st.expander(mark("cautions")):
        lines = [f"- **{plain(told(one.when))}**: {plain(told(one.text))}" for one in check_list()]
        st.markdown("\n".join(lines))
