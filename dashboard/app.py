"""The app: which pages there are. Started by ``lapdelta dashboard``."""

import sys
from pathlib import Path

import streamlit as st

# ``streamlit run`` puts this folder on the path, not the one that holds it and lapdelta.
_HOME = str(Path(__file__).resolve().parent.parent)
if _HOME not in sys.path:
    sys.path.insert(0, _HOME)

from dashboard.launch import wait_until_ready  # noqa: E402

wait_until_ready("pages")

from dashboard.card import error_card  # noqa: E402
from dashboard.look import dress  # noqa: E402

st.set_page_config(page_title="lapdelta", page_icon=str(Path(__file__).with_name("icon.png")), layout="wide")
dress(dark=getattr(st.context.theme, "type", None) == "dark")
with error_card():
    from dashboard.frame import run

    run()
