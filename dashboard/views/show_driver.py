"""Show the driver: one page for a phone or a printer, with nobody's name on it."""

import base64

import streamlit as st

from dashboard import state
from lapdelta.effect.finding import Finding


def show() -> None:
    """The page."""
    st.title("Show the driver")
    finding = state.finding()
    if finding is None:
        st.write("Here you get one page to send to a phone or to print.")
        state.page_link("help", "First ask: did it help?")
        return
    from lapdelta.sheet.content import page_content

    # On a phone columns lie below each other: saving first, for the preview is long.
    saving, preview = st.columns([2, 3], gap="large")
    with saving:
        nickname = st.text_input(
            "Nickname in place of the kart's number", max_chars=24, key="driver_nickname",
            help="Leave it empty for the number. A child's full name does not belong on a shared page.",
        )  # fmt: skip
        nickname = nickname.strip() or None
        forms, stem = _forms(finding.to_json(), nickname), _stem(finding)
        st.download_button("Save the picture for a phone (PNG)", forms["png"], f"{stem}.png", "image/png")
        st.download_button("Save the page (HTML)", forms["html"], f"{stem}.html", "text/html")
        st.download_button("Save for printing (PDF, A4)", forms["pdf"], f"{stem}.pdf", "application/pdf")
    content = page_content(finding, nickname=nickname, show_names=False, language="en")
    with preview:
        _preview(forms["png"], " ".join((content.headline, *content.driver)))


@st.cache_data(show_spinner="Drawing ...", max_entries=16)
def _forms(finding_json: str, nickname: str | None) -> dict[str, bytes]:
    """The page in its three forms."""
    from lapdelta.sheet.page import page_html, page_pdf, page_png

    finding = Finding.from_json(finding_json)
    return {
        "html": page_html(finding, nickname=nickname).encode(),
        "png": page_png(finding, nickname=nickname),
        "pdf": page_pdf(finding, nickname=nickname),
    }


def _preview(png: bytes, alt_text: str) -> None:
    """The picture as it will look on a phone, with its text alternative."""
    import html

    data = base64.b64encode(png).decode()
    st.html(
        f'<img src="data:image/png;base64,{data}" alt="{html.escape(alt_text, quote=True)}" '
        'style="width:390px;max-width:100%;border:1px solid #999;border-radius:8px">'
    )


def _stem(finding: Finding) -> str:
    """A file name of letters and digits only."""
    kart = "".join(character if character.isalnum() else "-" for character in finding.kart)
    return f"kart-{kart}-{finding.measure}"
