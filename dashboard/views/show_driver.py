"""Show the driver: one page for a phone or a printer, with nobody's name on it."""

import base64
import html
from typing import TYPE_CHECKING, Final

import streamlit as st

from dashboard import first_look, own_units, state
from dashboard.says import mark, say
from lapdelta.effect.finding import Finding

if TYPE_CHECKING:
    from collections.abc import Callable

#: What can be saved, and what each is.
_FORMS: Final = {"png": "image/png", "html": "text/html", "pdf": "application/pdf"}


def show() -> None:
    """The page."""
    st.title(mark("page.driver"), anchor=False)
    finding = state.finding()
    if finding is None:
        st.write(mark("driver.empty"))
        state.page_link("help", say("ask_first"))
        return
    from lapdelta.sheet.content import page_content

    language, season = state.language(), first_look.season_count(finding)
    finding = own_units.finding_shown(finding)
    # On a phone columns lie below each other: what is to be shown first, then how to save it.
    preview, saving = st.columns([3, 2], gap="large")
    with saving:
        nickname = st.text_input(
            mark("driver.nickname"), max_chars=24, key="driver_nickname", help=mark("driver.nickname.help")
        )
        nickname = nickname.strip() or None
        stem = _stem(finding)
        for form, mime in _FORMS.items():
            st.download_button(
                mark(f"driver.{form}"), _maker(form, finding, nickname, language, season), f"{stem}.{form}", mime,
                key=f"driver_{form}", on_click="ignore",
            )  # fmt: skip
    content = page_content(finding, nickname=nickname, show_names=False, language=language, season=season)
    with preview:
        _preview(
            _made("png", finding.to_json(), nickname, language, season),
            " ".join((content.headline, *content.driver)),
        )


def _maker(
    form: str, finding: Finding, nickname: str | None, language: str, season: tuple[int, int] | None
) -> "Callable[[], bytes]":
    """Makes that form when its button is pressed, and not before."""
    return lambda: _made(form, finding.to_json(), nickname, language, season)


@st.cache_data(show_spinner=False, max_entries=16)
def _made(
    form: str, finding_json: str, nickname: str | None, language: str, season: tuple[int, int] | None
) -> bytes:
    """The page in one of its forms."""
    from lapdelta.pictures.export import quickly
    from lapdelta.sheet.page import page_html, page_pdf, page_png

    finding = Finding.from_json(finding_json)
    with quickly():
        if form == "html":
            return page_html(finding, nickname=nickname, language=language, season=season).encode()
        make = page_png if form == "png" else page_pdf
        return make(finding, nickname=nickname, language=language, season=season)


def _preview(png: bytes, alt_text: str) -> None:
    """The picture as it will look on a phone, with its text alternative."""
    data = base64.b64encode(png).decode()
    st.html(
        f'<img src="data:image/png;base64,{data}" alt="{html.escape(alt_text, quote=True)}" '
        'style="width:390px;max-width:100%;border:1px solid #999;border-radius:8px">'
    )


def _stem(finding: Finding) -> str:
    """A file name of letters and digits only."""
    kart = "".join(character if character.isalnum() else "-" for character in finding.kart)
    return f"kart-{kart}-{finding.measure}"
