"""The day that a line of words names, such as ``Training am 16. Mai 2026, Ring Oberau``, and the words around it."""

import re
from dataclasses import dataclass
from datetime import date

from lapdelta.reading.dates import ORDINAL, date_readings
from lapdelta.reading.vocabulary import fact_of, fold, heading, holds_word, is_word, months

_PIECES = re.compile(r"\s*[;|\t]\s*|,\s+|\s+[-–—/·]\s+|\s{2,}(?=[^\W\d_][^:=]{0,30}[:=]\s*\S)")
_DECORATION = re.compile(r"^[*=~#_+<>-]{2,}\s*|\s*[*=~#_+<>-]{2,}$")
#: Dates within a text: nothing that goes on with figures, and years of four digits only.
_DATES = tuple(
    re.compile(rf"(?<![^\W_])(?<!\d[-./]){form}(?![^\W_]|[-./]\d)", re.IGNORECASE)
    for form in (
        rf"\d{{1,2}}{ORDINAL}[.\s-]*(?:(?:of|de|di)\s+)?[^\W\d_]{{3,}}[.,\s-]*(?:(?:of|de|del|di)\s+)?20\d\d(?:\s*r\.)?",
        rf"[^\W\d_]{{3,}}\.?[\s-]+(?:the\s+)?\d{{1,2}}{ORDINAL},?[\s-]+20\d\d",
        r"20\d\d([-/.])\d{1,2}\1\d{1,2}",
        r"\d{1,2}([-/.])\s?\d{1,2}\1\s?20\d\d",
    )
)
_JAPANESE = re.compile(r"(?<!\d)20\d\d年\d{1,2}月\d{1,2}日(?:\s*[(（].(?:曜日?)?[)）])?")
#: A day as file names write it.
_DAY_IN_NAME = re.compile(r"[-_ .]*(?<!\d)(20\d\d)[_ .-]?([01]\d)[_ .-]?([0-3]\d)(?!\d)")
#: A number before the date, and the sign or word that joins the two.
_NUMBER_BEFORE = re.compile(
    rf"(?P<before>[./]?)(?<!\d)(?P<number>\d{{1,2}})(?P<suffix>\.|{ORDINAL})(?P<sign>\s*[-–—/&+,]\s*|\s*)(?P<word>[^\W\d_]*)\s*$",
    re.IGNORECASE,
)
#: Letters of a line that may be a title.
_LONGEST_LINE = 400
#: Days that one line may join to a span (``16 - 17 May``); a session or lap may have such a number, too.
_LONGEST_SPAN = 3
_LAST_WORD = re.compile(r"(?:^|[\s,.;(])([^\W\d_]+(?:-[^\W\d_]+)?)[.,:(\s]*$")


@dataclass(frozen=True)
class Named:
    """A day within a line: the date as printed, its piece of the line, the words beside it there, the other pieces."""

    text: str
    piece: str
    beside: tuple[str, ...]
    apart: tuple[str, ...]


def pieces_of(text: str) -> list[str]:
    """The pieces of a line that separators part, without its decoration."""
    return [piece for piece in _PIECES.split(_DECORATION.sub("", text.strip())) if piece.strip()]


def day_in(text: str) -> Named | None:
    """The one date in a line; None where there is none or several, or where it may be another than that of the laps."""
    line = _DECORATION.sub("", text.strip())
    found = _dates_in(line)
    if len({str(date_readings(line[start:end])) for start, end in found}) != 1:
        return None
    start, end = min(found)
    *before, left = _PIECES.split(line[:start])
    right, *behind = _PIECES.split(line[end:])
    if left.rstrip().endswith((":", "=")):
        if fact_of(left.rstrip(" :=")) != "date":
            return None
        left = ""
    if holds_word("other_day", without_weekday_behind(left)) or holds_word("other_day", right):
        return None
    if _ends_a_span(line[:start], date_readings(line[start:end])) or _takes_the_number(left, line[start:end]):
        return None
    words = without_weekday_behind(left)
    beside = tuple(part.strip(" ,.:()") for part in (words, right) if re.search(r"[^\W\d_]", part))
    apart = tuple(part for part in (*before, *behind) if part.strip() and not is_word("weekday", part))
    return Named(line[start:end], f"{left}{line[start:end]}{right}".strip(), beside, apart)


def holds_date(text: str) -> bool:
    """Whether there is any date in a line, be it one that ``day_in`` does not take."""
    return bool(_dates_in(text))


def with_years(cells: tuple[str, ...]) -> tuple[str, ...]:
    """The cells of a line, a date that its own comma parted (``May 16th`` and ``2026``) in one again."""
    kept: list[str] = []
    for cell in cells:
        whole = f"{kept[-1]}, {cell}" if kept else cell
        if kept and re.match(r"20\d\d(?!\d)", cell) and day_in(whole) and not day_in(kept[-1]):
            kept[-1] = whole
        else:
            kept.append(cell)
    return tuple(kept)


def day_in_name(name: str) -> date | None:
    """The one day that the name of a file holds for sure; an underscore stands for a space."""
    line = _DAY_IN_NAME.sub(r" \1-\2-\3 ", name).replace("_", " ")
    dates = {span: date_readings(line[slice(*span)]) for span in _dates_in(line)}
    days = {readings.get("sure") for readings in dates.values()}
    spans = any(_ends_a_span(line[:start], readings) for (start, _), readings in dates.items())
    return next(iter(days)) if len(days) == 1 and not spans else None


def without_weekday_behind(text: str) -> str:
    """A text without the weekdays and small words that it ends with (``Training am`` is ``Training``)."""
    while (match := _LAST_WORD.search(text)) and (
        is_word("weekday", match.group(1)) or is_word("before_date", match.group(1))
    ):
        text = text[: match.start(1)]
    return text


def _dates_in(line: str) -> list[tuple[int, int]]:
    """Start and end of every date; of two that overlap the longer one. A long line is no title and not searched."""
    if len(line) > _LONGEST_LINE:
        return []
    spans = [match.span() for pattern in (*_DATES, _JAPANESE) for match in pattern.finditer(line)]
    dates = sorted((span for span in spans if date_readings(line[slice(*span)])), key=lambda s: s[0] - s[1])
    kept: list[tuple[int, int]] = []
    for start, end in dates:
        if all(end <= other or start >= other_end for other, other_end in kept):
            kept.append((start, end))
    return kept


def _ends_a_span(before: str, readings: dict[str, date]) -> bool:
    """Whether a date may be the end of a span that the text before it begins: ``16.-``, ``16 and``, ``30 May -``."""
    bare = without_weekday_behind(before)
    last = re.search(r"([^\W\d_]+)\.?\s*[-–—/&+]\s*$", bare)
    if last and fold(last.group(1)) in months():
        return True
    match = _NUMBER_BEFORE.search(bare)
    if match is None:
        return False
    if match["word"] or match["before"] or match["suffix"]:
        return bool(match["word"] or match["before"] or match["suffix"] == "." or match["sign"].strip())
    if not match["sign"].strip():
        return False
    parted = "," in match["sign"] or re.fullmatch(r"\s+\S\s+", match["sign"])
    above = re.findall(r"[^\W\d_]+|[,;|]", bare[: match.start()])[-1:]
    if not parted or not above or not above[0].isalpha():
        return True
    near = any(0 < day.day - int(match["number"]) <= _LONGEST_SPAN for day in readings.values())
    return near and heading(above[0]).meaning != "kart"


def _takes_the_number(left: str, printed: str) -> bool:
    """Whether the word before may own the number that the date begins with: ``Session 2 May 2026``."""
    if not left or not printed[0].isdigit():
        return False
    last = re.findall(r"[^\W\d_]+", left)[-1:]
    return bool(last) and left.rstrip().endswith(last[0]) and heading(last[0]).meaning in (
        "session", "kart", "number", "lap",
    )  # fmt: skip
