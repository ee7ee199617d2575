"""What all pictures share: colours, text sizes, light and dark, wrapped titles, numbers as the language has them.

Colour says one thing in every picture: blue #0072B2 is towards better, vermillion #D55E00 towards worse, with
a circle and a square beside them; what is neither (old and new setting, our kart and others) is told by shape
and filling in the colours of the text. The two (Okabe & Ito 2008, Color Universal Design) are told apart by
people with the usual colour vision deficiencies and pass 3:1 on white and on dark; no text is set in them.
"""

import math
import unicodedata
from collections.abc import Sequence
from itertools import takewhile
from typing import Any, Final

import altair as alt

from lapdelta.words import phrase
from lapdelta.words.printing import printable as printable

#: Towards better and towards worse.
BLUE: Final = "#0072B2"
VERMILLION: Final = "#D55E00"
#: Characters that fit beside each other below a picture of the usual width, and for one label at most.
_CHARACTERS_BELOW: Final = 55
_MOST_BELOW: Final = 12
FONT: Final = "Liberation Sans, Arial, Helvetica, sans-serif"
#: Width of a whole picture with its axes, px: fits a 390 px phone with a margin of 16 px.
WIDTH: Final = 358
_LIGHT_INK, _DARK_INK = "#1b1b1b", "#f2f2f2"
_LIGHT_GREY, _DARK_GREY = "#6b6b6b", "#a8a8a8"
_TITLE_PX: Final = 15
#: Size of labels and notes, px.
TEXT_PX: Final = 12
#: Advance widths in em of a Helvetica-like face (Adobe Core 14 metrics, rounded up), for wrapping only.
_NARROW, _WIDE = frozenset("ijl.,:;'|!()[]ftr I-"), frozenset("mwMW@%")


def ink(dark: bool) -> str:
    """Colour of text and axes."""
    return _DARK_INK if dark else _LIGHT_INK


def grey(dark: bool) -> str:
    """Colour of the other karts; at least 4.5:1 against the page."""
    return _DARK_GREY if dark else _LIGHT_GREY


def text_width_px(text: str, size_px: float) -> float:
    """About how wide a text is set; never much too small, so that wrapped lines stay inside."""
    width = 0.0
    for character in text:
        if character in _NARROW:
            width += 0.34
        elif character in _WIDE:
            width += 0.90
        elif unicodedata.east_asian_width(character) in "WF":
            width += 1.0
        else:
            width += 0.68 if character.isupper() else 0.57
    return width * size_px


def wrap(text: str, width_px: float, size_px: float) -> list[str]:
    """The text in lines that fit; a word that is too long for a line is broken."""
    lines: list[str] = []
    line = ""
    for word in printable(text).split():
        for piece in _pieces(word, width_px, size_px):
            longer = f"{line} {piece}" if line else piece
            if line and text_width_px(longer, size_px) > width_px:
                lines.append(line)
                line = piece
            else:
                line = longer
    return [*lines, line] if line else lines


def _pieces(word: str, width_px: float, size_px: float) -> list[str]:
    """A word in parts that each fit a line."""
    pieces: list[str] = []
    while text_width_px(word, size_px) > width_px and len(word) > 1:
        cut = next(
            n for n in range(len(word) - 1, 0, -1) if n == 1 or text_width_px(word[:n], size_px) <= width_px
        )
        pieces.append(word[:cut])
        word = word[cut:]
    return [*pieces, word]


def short(text: str, most: int = 14) -> str:
    """A label that fits beside others."""
    text = printable(text).strip()
    return text if len(text) <= most else text[: most - 1] + "…"


def labels(names: Sequence[str], most: int | None = None) -> list[str]:
    """Labels for an axis, no two alike: what all long names begin with is left out, then they are cut.

    ``most``: characters a label; None for as many as fit beside each other below a picture.
    """
    most = most or min(_MOST_BELOW, max(4, _CHARACTERS_BELOW // max(1, len(names))))
    texts = [printable(name).strip() for name in names]
    if any(len(text) > most for text in texts) and len(texts) > 1:
        alike = takewhile(lambda signs: len(set(signs)) == 1, zip(*texts, strict=False))
        common = "".join(signs[0] for signs in alike)
        start = max(common.rfind(sign) + 1 for sign in " -_./:")
        texts = [text[start:] for text in texts]
    cut = [short(text, most) for text in texts]
    if len(set(cut)) == len(cut):
        return cut
    return [f"{place} {short(text, most - 2)}" for place, text in enumerate(texts, start=1)]


def round_steps(values: list[float], most: int = 5) -> list[float]:
    """Round numbers a step apart that hold zero and all values, at most about ``most`` steps; for an axis."""
    low, high = min([0.0, *values]), max([0.0, *values])
    if low == high:
        return [0.0, 1.0]
    rough = (high - low) / most
    unit = 10.0 ** math.floor(math.log10(rough))
    step = unit * next(size for size in (1.0, 2.0, 5.0, 10.0) if size * unit >= rough * (1 - 1e-9))
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return [round(place * step, 10) for place in range(first, last + 1)]


def _numbers(language: str) -> alt.Locale:
    """How axes and tooltips write numbers; it stands in the specification, so a saved picture has it too."""
    marks = {name: phrase(f"number.{name}_mark", language) for name in ("decimal", "thousands")}
    return alt.Locale(number=alt.NumberLocale(**marks, grouping=[3], currency=["", ""]))


def finish(
    chart: Any, *, title: str, note: str | None, alt_text: str, width: int, height: int, dark: bool,
    language: str,
) -> Any:  # fmt: skip
    """Give a chart its title (the finding), note, text alternative, size, theme and decimal mark.

    ``width`` is that of the whole picture, ``height`` that of the plot alone, both px.

    Args and result are Altair charts; Altair's layered and single charts share no public base type.
    """
    title_lines = wrap(title, width, _TITLE_PX * 1.06)
    heading = alt.TitleParams(
        text=title_lines, subtitle=wrap(note, width, TEXT_PX) if note else [], anchor="start", frame="bounds"
    )
    return (
        chart.properties(
            title=heading,
            description=printable(alt_text),
            width=width,
            height=height,
            autosize=alt.AutoSizeParams(type="fit-x", contains="padding"),
            background="transparent",
            padding={"left": 2, "right": 6, "top": 2, "bottom": 2},
        )
        .configure(aria=False, font=FONT, locale=_numbers(language))
        .configure_view(stroke=None)
        .configure_title(
            color=ink(dark), subtitleColor=ink(dark), fontSize=_TITLE_PX, subtitleFontSize=TEXT_PX,
            font=FONT, subtitleFont=FONT, fontWeight="bold", offset=10, lineHeight=18, subtitleLineHeight=15,
        )
        .configure_axis(
            labelColor=ink(dark), titleColor=ink(dark), domainColor=ink(dark), tickColor=ink(dark),
            gridColor=ink(dark), gridOpacity=0.12, labelFontSize=TEXT_PX, titleFontSize=TEXT_PX,
            titleFontWeight="normal", labelFont=FONT, titleFont=FONT,
        )
        .configure_legend(
            labelColor=ink(dark), titleColor=ink(dark), labelFontSize=TEXT_PX, labelFont=FONT,
            labelLimit=260, symbolSize=90, orient="top", direction="vertical", title=None, offset=6,
            padding=0,
        )
    )  # fmt: skip
