"""Pieces that several pages show: a section with a list, a table that a phone can read, a picture to save."""

import html
from typing import TYPE_CHECKING, Any, Final

import streamlit as st

from dashboard import state
from dashboard.launch import wait_until_ready
from dashboard.plain import plain
from dashboard.says import mark, say, told
from lapdelta.words.printing import printable

if TYPE_CHECKING:
    from collections.abc import Callable

    from lapdelta import Finding
    from lapdelta.effect.season_finding import SeasonFinding

_MOST_PICTURES: Final = 60
#: Columns that fit beside each other on a phone.
_MOST_ON_A_PHONE: Final = 4


def bullets(title: str, sentences: "list[str] | tuple[str, ...]") -> None:
    """A short list under its title (raw texts, the library's own as it wrote them); nothing if it is empty."""
    if sentences:
        st.header(plain(title), anchor=False)
        st.markdown("\n".join(f"- {plain(told(sentence))}" for sentence in sentences))


def table(title: str, rows: list[dict[str, Any]], heading: bool = True) -> None:
    """A small table under its title; a wide one shows the cells of a row below each other on a phone."""
    if not rows:
        return
    if heading:
        st.header(plain(title), anchor=False)
    names = list(rows[0])
    kind = "ld" if len(names) <= _MOST_ON_A_PHONE else "ld wide"
    head = "".join(f'<th role="columnheader" scope="col">{_safe(name)}</th>' for name in names)
    body = "".join(_row(row) for row in rows)
    st.html(
        f'<table class="{kind}" role="table" aria-label="{_safe(title)}"><thead role="rowgroup">'
        f'<tr role="row">{head}</tr></thead><tbody role="rowgroup">{body}</tbody></table>'
    )


def _row(row: dict[str, Any]) -> str:
    first, *rest = row.items()
    cells = "".join(
        f'<td role="cell" data-label="{_safe(name)}">{_safe(cell(value))}</td>' for name, value in rest
    )
    return f'<tr role="row"><th role="rowheader" scope="row">{_safe(cell(first[1]))}</th>{cells}</tr>'


def cell(value: Any) -> str:
    """A value as it is printed in a table: lists joined, numbers to two decimals."""
    if value is None:
        return "–"
    if isinstance(value, bool):
        return say("yes") if value else say("no")
    if isinstance(value, float):
        # Adding zero turns "-0.00" into "0.00".
        text = f"{value:g}" if value == round(value, 2) else f"{round(value, 2) + 0.0:.2f}"
        return text.replace(".", say("decimal_mark"))
    if isinstance(value, (list, tuple)):
        return ", ".join(cell(item) for item in value)
    return str(value)


def with_range(row: dict[str, Any]) -> str:
    """An estimate with its interval behind it, where it has one."""
    change = cell(row["estimate"])
    if row["low"] is None or row["high"] is None:
        return change
    return say("why.range", change=change, low=cell(row["low"]), high=cell(row["high"]))


def _safe(text: object) -> str:
    return html.escape(printable(str(text)), quote=True)


def picture(name: str, make: "Callable[[], Any]", finding: "Finding | SeasonFinding | None" = None) -> None:
    """A chart with its own text alternative, and below it the ways to save it.

    ``make`` draws it; what it drew for a finding is kept for as long as finding, ground and language stay.
    """
    wait_until_ready("pictures")
    from lapdelta.pictures.export import for_screen, quickly

    about = None if finding is None else _about(finding)
    key = (name, about, state.dark(), state.language())
    kept: dict[Any, Any] = st.session_state.setdefault("_pictures", {})
    if finding is None or key not in kept:
        if len(kept) > _MOST_PICTURES:
            kept.clear()
        with quickly():
            kept[key] = for_screen(make())
    spec, alt_text = kept[key]
    st.vega_lite_chart(spec=spec, theme=None, alt=alt_text, width="content")
    with st.popover(mark("save_picture"), key=f"save_{name}"):
        _save_buttons(name, make, alt_text)


def _about(finding: "Finding | SeasonFinding") -> tuple[Any, ...]:
    """What tells one finding from another of the same archive."""
    one = getattr(finding, "low", None), getattr(finding, "factor", None)
    return finding.fingerprint, finding.measure, finding.margin, *one


def pictures_two_by_two(
    makers: "list[tuple[str, Callable[[], Any]]]", finding: "Finding | SeasonFinding"
) -> None:
    """Pictures side by side on a laptop, one below the other on a phone."""
    for place in range(0, len(makers), 2):
        pair = zip(st.columns(2, gap="large"), makers[place : place + 2], strict=False)
        for column, (name, make) in pair:
            with column:
                picture(name, make, finding)


def _save_buttons(name: str, make: "Callable[[], Any]", title: str) -> None:
    """The picture as a file, made when the button is pressed and not before."""
    ground, language = "#14171c" if state.dark() else "#ffffff", state.language()

    def png() -> bytes:
        from lapdelta.pictures.export import to_png

        return to_png(make(), background=ground)

    def svg() -> str:
        from lapdelta.pictures.export import to_svg

        return to_svg(make())

    def page() -> str:
        from lapdelta.pictures.export import to_html

        return to_html(make(), title, language)

    for form, made, mime in (
        ("PNG", png, "image/png"),
        ("SVG", svg, "image/svg+xml"),
        ("HTML", page, "text/html"),
    ):
        st.download_button(
            form, made, f"{name}.{form.lower()}", mime, key=f"save_{name}_{form}", on_click="ignore"
        )
