"""How the pages look beyond the theme: less empty space, and targets that a thumb can hit."""

from typing import Final

import streamlit as st

#: 44 px is the least target size of WCAG 2.2 success criterion 2.5.5 (from memory).
_STYLE: Final = """
<style>
[data-testid="stMainBlockContainer"] {padding-top: 4.5rem; padding-bottom: 3rem; max-width: 72rem;}
[data-testid="stHeading"] h1 {font-size: 1.9rem; padding: 0 0 .3rem 0;}
[data-testid="stHeading"] h3 {font-size: 1.5rem; padding: .2rem 0;}
[data-testid="stMarkdownContainer"] h4 {font-size: 1.2rem; line-height: 1.4; padding: .1rem 0 .6rem 0;}
[data-testid="stMarkdownContainer"] ul {margin-bottom: .4rem;}
[data-testid="stButtonGroup"] button, [data-testid="stPageLink"] a, [data-testid="stDownloadButton"] button,
[data-testid="stButton"] button, [data-testid="stExpander"] summary, [data-testid="stTopNavLink"],
[data-testid="stSidebarNavLink"], [data-testid="stNumberInput"] button, [data-baseweb="select"] > div,
[data-testid="stTextInput"] input, [data-testid="stNumberInput"] input {min-height: 44px;}
[data-testid="stNumberInput"] button, [data-testid="stButtonGroup"] button {min-width: 44px;}
[data-testid="stPageLink"] a {text-decoration: underline; padding-left: 0;}
</style>
"""


def dress() -> None:
    """Put the style on the page."""
    st.html(_STYLE)
