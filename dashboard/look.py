"""How the pages look beyond the theme: less empty space, and targets that a thumb can hit."""

from typing import Final

import streamlit as st

#: 44 px is the least target size of WCAG 2.2 success criterion 2.5.5 (from memory).
_STYLE: Final = """
<style>
[data-testid="stHeader"] {height: 0; min-height: 0; background: transparent;}
[data-testid="stMainBlockContainer"] {padding: 1rem 1rem 3rem 1rem; max-width: 72rem; margin: 0 auto;}
[data-testid="stHeading"] h1 {font-size: 1.8rem; padding: 0 0 .3rem 0;}
[data-testid="stHeading"] h2 {font-size: 1.25rem; line-height: 1.35; padding: .6rem 0 .1rem 0;}
[data-testid="stMarkdownContainer"] ul {margin-bottom: .4rem;}
[data-testid="stMarkdownContainer"], [data-testid="stCaptionContainer"] {overflow-wrap: anywhere;}
[data-testid="stCaptionContainer"], [data-testid="stCaptionContainer"] p {color: inherit; opacity: 1;}
[data-testid="stButtonGroup"] button, [data-testid="stPageLink"] a, [data-testid="stDownloadButton"] button,
[data-testid="stButton"] button, [data-testid="stFormSubmitButton"] button, [data-testid="stPopover"] button,
[data-testid="stExpander"] summary, [data-testid="stNumberInput"] button, [data-baseweb="select"] > div,
[data-testid="stFileUploader"] button, [data-testid="stRadio"] label, [data-testid="stTextInput"] input,
[data-testid="stNumberInput"] input, [data-testid="stDateInput"] input {min-height: 44px;}
[data-testid="stNumberInput"] button, [data-testid="stButtonGroup"] button,
[data-testid="stTooltipIcon"] button, [data-testid="stTooltipHoverTarget"] button {min-width: 44px;}
[data-testid="stTooltipIcon"] button, [data-testid="stDateInputCalendarButton"] {min-height: 44px; min-width: 44px;}
[data-testid="stSelectbox"] input, [data-testid="stSelectbox"] button {min-height: 44px; min-width: 44px;}
[data-testid="stVegaLiteChart"], [data-testid="stVegaLiteChart"] .vega-embed {max-width: 100%;}
[data-testid="stVegaLiteChart"] svg {max-width: 100%; height: auto;}
[data-testid="stRadio"] label {align-items: center; padding-right: .6rem;}
[data-testid="stButton"] button, [data-testid="stFormSubmitButton"] button {white-space: normal; height: auto;}
[data-testid="stButton"] button * {white-space: normal; overflow: visible; text-overflow: clip;}
[data-testid="stPageLink"] a {text-decoration: underline; padding-left: 0;}
.st-key-pages_row {flex-direction: row; flex-wrap: wrap; gap: 0 .4rem; border-bottom: 1px solid #80808080;}
.st-key-pages_row > div {width: auto; flex: 0 0 auto;}
.st-key-pages_row a {text-decoration: none; padding: 0 .5rem; justify-content: center; text-align: center;}
.st-key-pages_row a[aria-current="page"] {text-decoration: underline; text-underline-offset: .35em;}
table.ld {border-collapse: collapse; width: 100%; font-size: .95rem; overflow-wrap: anywhere;}
table.ld th, table.ld td {text-align: left; vertical-align: top; padding: .3rem .6rem .3rem 0; font-weight: normal;}
table.ld thead th {font-weight: 600; border-bottom: 1px solid #80808080;}
table.ld tbody tr {border-bottom: 1px solid #80808040;}
@media (min-width: 1000px) {
  [data-testid="stVegaLiteChart"] svg {width: 28rem; max-width: none;}
}
@media (max-width: 640px) {
  .st-key-pages_row {display: grid; grid-template-columns: repeat(4, minmax(0, 1fr)); gap: 0;}
  .st-key-pages_row > div, .st-key-pages_row a {width: 100%; min-width: 0; padding: 0 .1rem;}
  .st-key-pages_row a p, .st-key-pages_row a span {white-space: normal; font-size: .82rem; line-height: 1.15;}
  .st-key-season_choice {flex-direction: column;}
  .st-key-season_choice > div {flex: 0 0 auto; width: 100%;}
  table.ld {font-size: .88rem; overflow-wrap: break-word; hyphens: auto;}
  table.wide thead {position: absolute; left: -200vw;}
  table.wide, table.wide tbody, table.wide tr, table.wide th, table.wide td {display: block; width: 100%;}
  table.wide tbody tr {padding: .4rem 0; border-bottom: 1px solid #80808080;}
  table.wide tbody th {font-weight: 600;}
  table.wide td {display: flex; justify-content: space-between; gap: 1rem; padding: .1rem 0;}
  table.wide td::before {content: attr(data-label); flex: 0 0 auto; max-width: 55%;}
}
@media (max-width: 360px) {
  .st-key-pages_row {grid-template-columns: repeat(3, minmax(0, 1fr));}
}
</style>
"""


#: Text on the main button: the dark theme's accent is light.
_ON_ACCENT: Final = {True: "#14171c", False: "#ffffff"}


def say_upload(button: str, limit: str) -> None:
    """The widget that takes files speaks English only: our words in place of its own."""
    st.html(
        "<style>"
        '[data-testid="stFileUploader"] section button p, [data-testid="stFileUploaderDropzoneInstructions"] '
        "{font-size: 0 !important;}"
        '[data-testid="stFileUploaderDropzoneInstructions"] * {font-size: 0 !important;}'
        f'[data-testid="stFileUploader"] section button p::after {{content: "{button}"; font-size: .875rem;}}'
        f'[data-testid="stFileUploaderDropzoneInstructions"]::after {{content: "{limit}"; font-size: .875rem;}}'
        "</style>"
    )


def dress(dark: bool) -> None:
    """Put the style on the page."""
    accent = f'<style>button[kind^="primary"]:not(:disabled) p {{color: {_ON_ACCENT[dark]};}}</style>'
    st.html(_STYLE + accent)
