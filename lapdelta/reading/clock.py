"""The clock grammar: lap and sector times, and times of day. Our own, because general guessers turn laps into dates."""

import re
from dataclasses import dataclass
from datetime import time
from functools import lru_cache

from lapdelta.reading.numbers import read_number, tidy

_FRACTION = r"(?:[.,](\d{1,6}))?"
_COLON = re.compile(rf"(?:(\d{{1,2}}):)?(\d{{1,3}}):(\d{{1,2}}){_FRACTION}")
_COLON_MS = re.compile(r"(?:(\d{1,2}):)?(\d{1,3}):(\d{2}):(\d{3})")
_COLON_THOUSANDTHS = re.compile(r"(\d{1,3}):(\d{3})")  # three digits are no minutes: seconds and thousandths
_SPACED = re.compile(r"(\d{1,2}) (\d{2})[.,](\d{1,3})")  # thousands would have three digits behind the space
_MINUTES = re.compile(r"(\d{1,3})\s?min(?:utes?|\.)?\s?(\d{1,2})(?:[.,](\d{1,6}))?", re.IGNORECASE)
_DOTTED = re.compile(r"(\d{1,2})[.](\d{2})[.,](\d{1,3})")
_PRIMED = re.compile(
    r"(?:(\d{1,3})\s?['’′]\s?)?(\d{1,3})\s?(?:\"|''|″|”|’’|′′|[.,])\s?(\d{1,4})?(?:\"|''|″|”)?"
)
_LETTERED = re.compile(
    r"(?:(\d{1,2})\s?h(?:ours?|rs?)?\s?)?(?:(\d{1,3})\s?m(?:in(?:utes?|\.)?)?\s?)?(\d{1,6})"
    r"(?:[.,](\d{1,6}))?\s?s(?:ec(?:onds?|s|\.)?|ek\.?)?",
    re.IGNORECASE,
)
_SPELLED_MS = re.compile(
    r"(?:(\d{1,3})\s?m(?:in(?:utes?|\.)?)?\s?)?(\d{1,2})\s?s(?:ec(?:onds?|s|\.)?|ek\.?)?\s?(\d{1,3})\s?ms(?:ec)?",
    re.IGNORECASE,
)
_JAPANESE = re.compile(r"(?:(\d{1,3})分)?(\d{1,2})(?:秒(\d{1,6})?|[.,](\d{1,6})秒)")
_MILLI = re.compile(r"(\d{1,9}(?:[.,]\d+)?)\s?ms(?:ec)?", re.IGNORECASE)
_ISO = re.compile(r"P(?:0D)?T(?:(\d{1,2})H)?(?:(\d{1,4})M)?(?:(\d{1,6})(?:[.,](\d{1,9}))?S)?", re.IGNORECASE)
_OF_DAY = re.compile(
    r"(\d{1,2})[:.h](\d{2})(?:[:.m](\d{2})(?:[.,:](\d{1,9}))?s?)?\s?(?:([ap])\.?\s?m\.?)?(Z|[+-]\d{2}:?\d{2})?",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class Duration:
    """A time as printed: ``seconds`` where the cell tells its unit, else ``number`` (unit still open)."""

    seconds: float | None
    number: float | None = None
    thousands: float | None = None


def _sum(hours: str | None, minutes: str | None, seconds: str, fraction: str | None) -> float | None:
    """Seconds from groups of digits; None if seconds or minutes run over 59 behind a larger group."""
    if minutes is not None and int(seconds) >= 60:
        return None
    if hours is not None and int(minutes or 0) >= 60:
        return None
    whole = int(hours or 0) * 3600 + int(minutes or 0) * 60 + int(seconds)
    return float(f"{whole}.{fraction or 0}")


@lru_cache(maxsize=65536)
def read_duration(text: str) -> Duration | None:
    """A lap or sector time, or None where the cell is not one (seconds of 60 or more after a minute included)."""
    bare = tidy(text)
    for pattern in (_COLON_MS, _COLON, _ISO):
        match = pattern.fullmatch(bare)
        if match:
            return _grouped(pattern, match)
    for pattern in (_DOTTED, _SPACED, _MINUTES):
        match = pattern.fullmatch(bare)
        if match:
            return _told(_sum(None, match.group(1), match.group(2), match.group(3)))
    match = _COLON_THOUSANDTHS.fullmatch(bare)
    if match:
        return _told(_sum(None, None, match.group(1), match.group(2)))
    match = _MILLI.fullmatch(bare)
    if match:
        return Duration(float(match.group(1).replace(",", ".")) / 1000)
    match = _LETTERED.fullmatch(bare)
    if match:
        return _told(_sum(*match.groups()))
    match = _SPELLED_MS.fullmatch(bare)
    if match:
        return _told(_sum(None, match.group(1), match.group(2), match.group(3).zfill(3)))
    match = _JAPANESE.fullmatch(bare)
    if match:
        return _told(_sum(None, match.group(1), match.group(2), match.group(3) or match.group(4)))
    return _plain(bare) or _primed(bare)


def _grouped(pattern: re.Pattern[str], match: re.Match[str]) -> Duration | None:
    hours, minutes, seconds, fraction = match.groups()
    if pattern is _ISO:
        if seconds is None:
            return None if minutes is None else _told(_sum(hours, minutes, "0", None))
        return _told(_sum(hours, minutes, seconds, fraction))
    if len(seconds) != 2:
        return None
    return _told(_sum(hours, minutes, seconds, fraction))


def _told(seconds: float | None) -> Duration | None:
    return None if seconds is None else Duration(seconds)


def _plain(bare: str) -> Duration | None:
    """A bare number; with one mark it is a decimal mark, and the thousands reading is kept beside it."""
    dot, comma = read_number(bare, "."), read_number(bare, ",")
    read = [number for number in (dot, comma) if number is not None]
    if not read or ("e" in bare.lower() and max(read) >= 1):  # 6.9E-4 is a fraction of a day, 1e3 no time
        return None
    if dot is None or comma is None:
        return Duration(None, read[0])
    if "." in bare:
        return Duration(None, dot, comma)
    return Duration(None, comma, dot)


def _primed(bare: str) -> Duration | None:
    if not any(sign in bare for sign in "'’′\"″”"):
        return None
    match = _PRIMED.fullmatch(bare)
    if match is None:
        return None
    minutes, seconds, fraction = match.groups()
    if minutes is not None and len(seconds) != 2:
        return None
    return _told(_sum(None, minutes, seconds, fraction))


@lru_cache(maxsize=65536)
def read_time_of_day(text: str) -> time | None:
    """A local time of day, 12 h or 24 h; None for anything else, UTC included (it is not local)."""
    match = _OF_DAY.fullmatch(tidy(text))
    if match is None or (match.group(6) or "").upper() == "Z":
        return None
    hour, minute, second = int(match.group(1)), int(match.group(2)), int(match.group(3) or 0)
    half = match.group(5)
    if half:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if half.lower() == "p" else 0)
    if hour > 23 or minute > 59 or second > 59:
        return None
    return time(hour, minute, second, int((match.group(4) or "0").ljust(6, "0")[:6]))


def day_fraction(text: str) -> time | None:
    """A spreadsheet's fraction of a day as a time of day, to the millisecond; None for anything else."""
    duration = _plain(tidy(text))
    number = duration.number if duration else None
    if number is None or not 0 <= number < 1:
        return None
    total = round(number * 86_400_000)
    hour, rest = divmod(total, 3_600_000)
    minute, rest = divmod(rest, 60_000)
    return time(hour, minute, rest // 1000, rest % 1000 * 1000) if hour < 24 else None


def looks_timed(text: str) -> bool:
    """Whether a cell could be a lap or sector time: a clock form, or a number with decimals or five digits."""
    duration = read_duration(text)
    if duration is None:
        return False
    if duration.seconds is not None:
        return True
    return bool(re.search(r"\d[.,]\d", tidy(text))) or (duration.number or 0) >= 5000
