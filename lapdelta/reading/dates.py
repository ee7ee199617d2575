"""Calendar dates: which readings a cell has, and the order of day and month decided for a whole column."""

import re
from datetime import date
from functools import lru_cache

from lapdelta.reading.numbers import tidy
from lapdelta.reading.vocabulary import fold, is_word, months

_ISO = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})\.?")
_COMPACT = re.compile(r"(20\d{2})(\d{2})(\d{2})")
_JAPANESE = re.compile(r"(\d{4})年(\d{1,2})月(\d{1,2})日(?:\s*\(.(?:曜日?)?\))?")
_TRIPLE = re.compile(r"(\d{1,2})([-/. ])\s?(\d{1,2})\2\s?(\d{4}|\d{2})\.?")
#: What may stand behind the day: 1st, 2nd, 1er, 1º (which tidying makes 1o), 16:e, 16-go.
ORDINAL = r"(?:(?:st|nd|rd|th|er|ère|e|o|a|:[ea]|-go)(?![^\W\d_]))?"
_NAMED = re.compile(
    rf"(\d{{1,2}}){ORDINAL}[.\s-]*(?:(?:of|de|di)\s+)?([^\W\d_]+)[.,\s-]*(?:(?:of|de|del|di)\s+)?(\d{{4}})(?:\s*r\.)?",
    re.IGNORECASE,
)
_NAMED_FIRST = re.compile(
    rf"([^\W\d_]+)\.?[\s-]+(?:the\s+)?(\d{{1,2}}){ORDINAL},?[\s-]+(?:of\s+)?(\d{{4}})", re.IGNORECASE
)
#: A word before a date in a cell, such as a weekday in a language that we do not know.
_ANY_WORD = re.compile(r"^[^\W\d_]{2,12}\.?,?\s+(?=\d)")
_FIRST_WORD = re.compile(r"^([^\W\d_]+(?:-[^\W\d_]+)?)[.,]*\s+")


def _date(year: str, month: int, day: str) -> date | None:
    try:
        return date(int(year), month, int(day))
    except ValueError:
        return None


@lru_cache(maxsize=4096)
def date_readings(text: str) -> dict[str, date]:
    """Readings of a cell: ``{"sure": date}``, or ``dmy`` / ``mdy`` or both; empty if it is no date.

    Day first is sure with dots (30.05.2026): no language writes the month first with them.
    """
    bare = tidy(text)
    return (
        _plain_readings(bare)
        or _plain_readings(without_weekday(bare))
        or _plain_readings(_ANY_WORD.sub("", bare))
    )


def without_weekday(text: str) -> str:
    """A text without the weekdays and small words that it begins with (``Saturday, the 16th`` is ``16th``)."""
    while (match := _FIRST_WORD.match(text)) and (
        is_word("weekday", match.group(1)) or is_word("before_date", match.group(1))
    ):
        text = text[match.end() :]
    return text


def _plain_readings(bare: str) -> dict[str, date]:
    for pattern in (_ISO, _COMPACT, _JAPANESE):
        match = pattern.fullmatch(bare)
        if match:
            found = _date(match.group(1), int(match.group(2)), match.group(3))
            return {"sure": found} if found else {}
    match = _TRIPLE.fullmatch(bare)
    if match:
        return _triple(match)
    match = _NAMED.fullmatch(bare)
    if match:
        return _named(match.group(3), match.group(2), match.group(1))
    match = _NAMED_FIRST.fullmatch(bare)
    return _named(match.group(3), match.group(1), match.group(2)) if match else {}


def _named(year: str, name: str, day: str) -> dict[str, date]:
    month = months().get(fold(name))
    found = _date(year, month, day) if month else None
    return {"sure": found} if found else {}


def _triple(match: re.Match[str]) -> dict[str, date]:
    first, sign, second, year = match.groups()
    if len(year) == 2:
        if sign == "-":  # 26-05-16 may begin with the year: three readings, no question offers them
            return {}
        year = f"20{year}"
    readings = {"dmy": _date(year, int(second), first), "mdy": _date(year, int(first), second)}
    kept = {order: found for order, found in readings.items() if found}
    if sign == ".":
        return {"sure": kept["dmy"]} if "dmy" in kept else {}
    return kept


def decide_day_order(cells: list[str]) -> str | None:
    """``dmy`` or ``mdy`` where every cell allows just one order, ``any`` if none hangs on it, None to ask."""
    orders: set[str] = {"dmy", "mdy"}
    hangs = False
    for cell in set(cells):
        readings = date_readings(cell)
        if not readings or "sure" in readings:
            continue
        if len(readings) == 2 and readings["dmy"] == readings["mdy"]:
            continue
        hangs = True
        orders &= set(readings)
    if not hangs:
        return "any"
    return next(iter(orders)) if len(orders) == 1 else None


def pick_date(text: str, order: str | None) -> date | None:
    """The date of a cell under a decided order; None where the cell has no such reading."""
    readings = date_readings(text)
    if "sure" in readings:
        return readings["sure"]
    if order == "any":
        order = "dmy"
    return readings.get(order) if order else None
