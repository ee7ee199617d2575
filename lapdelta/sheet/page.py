"""One page for one finding, to send to a phone or to print: HTML, PNG and PDF.

The kart's number or a nickname stands on it and nobody's name; other karts are "other karts". The HTML
has its pictures inside, no script and no link; the PNG and PDF are one drawing converted without a browser.
"""

import html
from typing import Any

from lapdelta.effect.finding import Finding
from lapdelta.pictures.export import PHONE_SCALE, inline_svg, svg_to_pdf, svg_to_png
from lapdelta.pictures.style import printable
from lapdelta.sheet.content import PageContent, page_content
from lapdelta.sheet.drawing import drawing

_STYLE = """
:root{color-scheme:light dark;--ground:#fff;--ink:#1b1b1b;--line:#c8c8c8}
@media (prefers-color-scheme:dark){:root{--ground:#14171c;--ink:#f2f2f2;--line:#555}}
*{box-sizing:border-box}
body{margin:0 auto;padding:16px;max-width:44rem;background:var(--ground);color:var(--ink);
font:16px/1.45 "Liberation Sans",Arial,Helvetica,sans-serif;overflow-wrap:anywhere}
h1{font-size:1rem;margin:0;font-weight:normal}
h2{font-size:1rem;margin:1.1rem 0 .2rem}
.verdict{font-size:1.6rem;font-weight:bold;margin:.1rem 0}
.headline{margin:.2rem 0 .8rem}
.driver{font-size:1.25rem;line-height:1.35;margin:.2rem 0 .6rem}
p,ul{margin:.25rem 0}ul{padding-left:1.2rem}
figure{margin:1rem 0 0}svg{display:block;height:auto;max-width:34rem}
footer{margin-top:1.2rem;padding-top:.5rem;border-top:1px solid var(--line);font-size:.85rem}
@media (min-width:40rem){.pictures{display:grid;grid-template-columns:1fr 1fr;gap:0 1.2rem;align-items:start}
.pictures section{grid-row:2;grid-column:1/3}}
@page{size:A4;margin:12mm}
@media print{:root{--ground:#fff;--ink:#000;--line:#999}body{font-size:10.5pt;line-height:1.3;padding:0;
max-width:none}.pictures{display:grid;grid-template-columns:1fr 1fr;gap:0 8mm}
.pictures section{grid-row:2;grid-column:1/3}
figure,section{break-inside:avoid}}
""".strip()


def page_html(
    finding: Finding, *, nickname: str | None = None, show_names: bool = False, language: str = "en",
    season: tuple[int, int] | None = None,
) -> str:  # fmt: skip
    """The page as one HTML document under 100 KB that opens with no network.

    ``nickname`` stands in place of the kart's number; ``show_names`` lets numbers of other karts through;
    ``season``: which question of its season this is, and the season, as ``keep_in_mind``.
    """
    content = page_content(
        finding, nickname=nickname, show_names=show_names, language=language, season=season
    )
    return (
        f'<!doctype html>\n<html lang="{_escaped(language)}"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        '<meta name="referrer" content="no-referrer">'
        f"<title>{_escaped(content.title)}</title><style>{_STYLE}</style></head><body>"
        f"{_body(content)}</body></html>\n"
    )


def page_png(
    finding: Finding, *, nickname: str | None = None, show_names: bool = False, language: str = "en",
    season: tuple[int, int] | None = None,
) -> bytes:  # fmt: skip
    """The page as a picture for a phone: 390 px wide, drawn at twice that."""
    content = page_content(
        finding, nickname=nickname, show_names=show_names, language=language, season=season
    )
    return svg_to_png(drawing(content), scale=PHONE_SCALE)


def page_pdf(
    finding: Finding, *, nickname: str | None = None, show_names: bool = False, language: str = "en",
    season: tuple[int, int] | None = None,
) -> bytes:  # fmt: skip
    """The page as a PDF of one A4 sheet."""
    content = page_content(
        finding, nickname=nickname, show_names=show_names, language=language, season=season
    )
    return svg_to_pdf(drawing(content, a4=True))


def _body(content: PageContent) -> str:
    """From top to bottom: who, verdict, the driver's words, headline, pictures, sections, facts."""
    driver = "".join(f"<p>{_escaped(line)}</p>" for line in content.driver)
    above, now, below = content.blocks
    sections = "".join(_section(title, lines) for title, lines in content.sections[1:])
    facts = "".join(f"<p>{_escaped(line)}</p>" for line in content.facts)
    return (
        f'<main><h1>{_escaped(content.title)}</h1><p class="verdict">{_escaped(content.verdict)}</p>'
        f'<div class="driver">{driver}</div><p class="headline">{_escaped(content.headline)}</p>'
        f'<div class="pictures">{_figures(above, "a")}{_section(*now)}{_figures(below, "b")}</div>'
        f"{sections}</main><footer>{facts}</footer>"
    )


def _figures(charts: tuple[Any, ...], prefix: str) -> str:
    return "".join(
        f"<figure>{inline_svg(chart, f'{prefix}{place}')}</figure>" for place, chart in enumerate(charts)
    )


def _section(title: str, lines: tuple[str, ...]) -> str:
    items = "".join(f"<li>{_escaped(line)}</li>" for line in lines)
    return f"<section><h2>{_escaped(title)}</h2><ul>{items}</ul></section>"


def _escaped(text: str) -> str:
    """Harmless in HTML text and attributes; control characters are taken out."""
    return html.escape(printable(text), quote=True)
