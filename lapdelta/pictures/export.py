"""A picture as SVG, PNG, PDF or one HTML file; with no network, no browser and no script in the result."""

import html
import re
from contextlib import AbstractContextManager
from typing import Any, Final

import vl_convert
from altair.utils.schemapi import debug_mode

from lapdelta.pictures.style import grey, ink

#: Altair 6 writes Vega-Lite 6.
_VEGALITE: Final = "6.4"
#: Inside a page that may be light or dark: at least 3:1 on either ground (WCAG 2.2, 1.4.11).
_GREY_ON_BOTH: Final = "#767676"
#: Pixels a CSS pixel in a PNG, for the screens of phones.
PHONE_SCALE: Final = 2.0


def to_svg(chart: Any) -> str:
    """The chart as an SVG document with a white or dark ground as the page has it (none of its own)."""
    svg = vl_convert.vegalite_to_svg(chart.to_dict(), vl_version=_VEGALITE)
    return re.sub(r'<rect width="[\d.]+" height="[\d.]+" fill="transparent"/>', "", svg, count=1)


def to_png(chart: Any, scale: float = PHONE_SCALE, background: str = "#ffffff") -> bytes:
    """The chart as PNG on a plain ground."""
    return vl_convert.vegalite_to_png(
        chart.properties(background=background).to_dict(), vl_version=_VEGALITE, scale=scale
    )


def inline_svg(chart: Any, prefix: str) -> str:
    """The chart for use inside a page: text alternative, own ids, the text colour of the page, no name space.

    ``prefix`` must differ between the charts of a page: ids are shared by the whole document.
    """
    svg = to_svg(chart)
    svg = re.sub(r'id="([^"]+)"', rf'id="{prefix}-\1"', svg)
    svg = re.sub(r"url\(#([^)]+)\)", rf"url(#{prefix}-\1)", svg)
    svg = svg.replace(f'"{ink(dark=False)}"', '"currentColor"').replace(grey(dark=False), _GREY_ON_BOTH)
    label = html.escape(description(chart), quote=True)
    head = re.match(r"<svg[^>]*>", svg)
    if head is None:
        raise ValueError("the converter gave no SVG")
    size = re.search(r'viewBox="[^"]+"', head.group())
    opening = f'<svg role="img" aria-label="{label}" {size.group() if size else ""} width="100%">'
    return _slim(opening + svg[head.end() :])


def to_html(chart: Any, title: str, language: str = "en") -> str:
    """One file that opens anywhere: the picture as inline SVG and nothing else."""
    return (
        f'<!doctype html><html lang="{html.escape(language)}"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{html.escape(title)}</title>"
        "<style>:root{color-scheme:light dark}body{margin:16px auto;max-width:720px;padding:0 16px;"
        "font-family:sans-serif}</style></head>"
        f"<body>{inline_svg(chart, 'p')}</body></html>"
    )


def _slim(svg: str) -> str:
    """Without what no reader sees: class names, hidden grounds, digits beyond a hundredth of a pixel."""
    svg = re.sub(r' (?:class|aria-hidden|pointer-events|role|aria-roledescription)="(?!img")[^"]*"', "", svg)
    svg = re.sub(r'<path d="M0,0h0v0h0Z"[^>]*/>', "", svg)
    return re.sub(r"(\d+\.\d{2})\d+", r"\1", svg)


def svg_to_png(svg: str, scale: float = PHONE_SCALE) -> bytes:
    """A drawing of our own as PNG."""
    return vl_convert.svg_to_png(svg, scale=scale)


def svg_to_pdf(svg: str) -> bytes:
    """A drawing of our own as a PDF page of its size, in points."""
    return vl_convert.svg_to_pdf(svg)


def description(chart: Any) -> str:
    """The chart's text alternative."""
    return str(chart.to_dict().get("description", ""))


def for_screen(chart: Any) -> tuple[dict[str, Any], str]:
    """The chart's specification without its text alternative, and that text, for a page that sets it itself.

    Not checked against the schema, which takes five times as long as all the rest; the tests check it.
    """
    spec: dict[str, Any] = chart.to_dict(validate=False)
    for part in _marks(spec):
        # The picture as a whole has its text; its marks, unnamed, would only be noise to a screen reader.
        part["mark"] = {**part["mark"], "aria": False}
    return spec, str(spec.pop("description", ""))


def _marks(spec: dict[str, Any]) -> list[dict[str, Any]]:
    """Every part that has a mark; layers may hold layers."""
    if "layer" not in spec:
        return [spec]
    return [part for layer in spec["layer"] for part in _marks(layer)]


def quickly() -> AbstractContextManager[None]:
    """Inside it charts are built without a check of each part; the tests build them with it."""
    return debug_mode(False)
