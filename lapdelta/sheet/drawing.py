"""The page as one drawing (SVG): text set in wrapped lines, pictures placed below each other."""

import html
import re
from typing import Any, Final

from lapdelta.pictures.export import to_svg
from lapdelta.pictures.style import FONT, WIDTH, ink, printable, wrap
from lapdelta.sheet.content import PageContent

_MARGIN: Final = 16
#: A4 in points, and the least margin of common printers.
_A4_WIDTH, _A4_HEIGHT, _A4_MARGIN = 595.0, 842.0, 34.0
_LINE: Final = 1.32


class _Pen:
    """Writes lines and pictures from top to bottom and knows how far down it is."""

    def __init__(self, width: float) -> None:
        self.parts: list[str] = []
        self.y = float(_MARGIN)
        self.width = width

    def text(
        self, text: str, size: float, *, bold: bool = False, indent: float = 0.0, bullet: bool = False
    ) -> None:
        """A paragraph, wrapped."""
        lines = wrap(text, self.width - indent, size * (1.06 if bold else 1.0))
        if bullet and lines:
            middle = self.y + size * 0.62
            dot = f'<circle cx="{_MARGIN + indent - 8}" cy="{middle:.1f}" r="2" fill="{ink(False)}"/>'
            self.parts.append(dot)
        weight = ' font-weight="bold"' if bold else ""
        for line in lines:
            self.parts.append(
                f'<text x="{_MARGIN + indent}" y="{self.y + size:.1f}" font-size="{size}"{weight} '
                f'fill="{ink(False)}">{html.escape(line, quote=True)}</text>'
            )
            self.y += size * _LINE

    def picture(self, chart: Any, prefix: str, x: float, width: float) -> float:
        """A picture at x, scaled to width; returns its height and leaves the pen where it is."""
        svg = re.sub(r'id="([^"]+)"', rf'id="{prefix}-\1"', to_svg(chart))
        svg = re.sub(r"url\(#([^)]+)\)", rf"url(#{prefix}-\1)", svg)
        size = re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', svg)
        if size is None:
            raise ValueError("the converter gave no SVG")
        height = width * float(size[2]) / float(size[1])
        opening = f'<svg x="{x:.1f}" y="{self.y:.1f}" width="{width:.1f}" height="{height:.1f}" {size[0]}>'
        self.parts.append(opening + re.sub(r"^.*?<svg[^>]*>", "", svg, count=1, flags=re.S))
        return height


def drawing(content: PageContent, *, a4: bool = False) -> str:
    """The page as an SVG document: 390 px wide and as long as it takes, or fitted on one A4 sheet."""
    width = 2.0 * WIDTH + 24 if a4 else float(WIDTH)
    pen = _Pen(width)
    _head(pen, content)
    above, now, below = content.blocks
    if a4:
        _pictures(pen, content.pictures, side_by_side=True)
        _section(pen, *now)
    else:
        _pictures(pen, above)
        _section(pen, *now)
        pen.y += 12
        _pictures(pen, below)
    for title, lines in content.sections[1:]:
        _section(pen, title, lines)
    pen.y += 10
    for line in content.facts:
        pen.text(line, 11)
    return _document(pen, width + 2 * _MARGIN, pen.y + _MARGIN, a4, content.title)


def _head(pen: _Pen, content: PageContent) -> None:
    pen.text(content.title, 14)
    pen.text(content.verdict, 25, bold=True)
    for line in content.driver:
        pen.text(line, 17)
        pen.y += 2
    pen.y += 4
    pen.text(content.headline, 13)
    pen.y += 14


def _section(pen: _Pen, title: str, lines: tuple[str, ...]) -> None:
    pen.y += 10
    pen.text(title, 15, bold=True)
    for line in lines:
        pen.text(line, 13, indent=14, bullet=True)
        pen.y += 2


def _pictures(pen: _Pen, charts: tuple[Any, ...], *, side_by_side: bool = False) -> None:
    heights = [0.0]
    for place, chart in enumerate(charts):
        x = _MARGIN + (place % 2 * (WIDTH + 24) if side_by_side else 0)
        heights.append(pen.picture(chart, f"p{len(pen.parts)}", x, WIDTH))
        if not side_by_side:
            pen.y += heights[-1] + 12
    if side_by_side:
        pen.y += max(heights) + 6


def _document(pen: _Pen, width: float, height: float, a4: bool, title: str) -> str:
    """The finished SVG; on A4 the drawing is scaled to fit inside the margins."""
    name = html.escape(printable(title), quote=True)
    opening = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
    body = "".join(pen.parts)
    if not a4:
        return (
            f'{opening} width="{width:.0f}" height="{height:.0f}" viewBox="0 0 {width:.0f} {height:.0f}" '
            f'font-family="{FONT}"><title>{name}</title><rect width="100%" height="100%" fill="#ffffff"/>'
            f"{body}</svg>"
        )
    scale = min((_A4_WIDTH - 2 * _A4_MARGIN) / width, (_A4_HEIGHT - 2 * _A4_MARGIN) / height)
    left = (_A4_WIDTH - width * scale) / 2
    return (
        f'{opening} width="{_A4_WIDTH}" height="{_A4_HEIGHT}" viewBox="0 0 {_A4_WIDTH} {_A4_HEIGHT}" '
        f'font-family="{FONT}"><title>{name}</title><rect width="100%" height="100%" fill="#ffffff"/>'
        f'<g transform="translate({left:.2f},{_A4_MARGIN}) scale({scale:.4f})">{body}</g></svg>'
    )
