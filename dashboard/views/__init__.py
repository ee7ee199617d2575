"""One page a file; each has ``show()`` and answers one question."""

from typing import Any

import streamlit as st

from dashboard.views import bring_in, did_it_help, show_driver, why


def page_objects() -> dict[str, Any]:
    """The pages by short name, in the order in which they are shown."""
    return {
        "help": st.Page(did_it_help.show, title="Did it help?", url_path="did-it-help", default=True),
        "why": st.Page(why.show, title="Why we think so", url_path="why"),
        "driver": st.Page(show_driver.show, title="Show the driver", url_path="driver"),
        "bring": st.Page(bring_in.show, title="Bring in timing", url_path="bring-in"),
    }
