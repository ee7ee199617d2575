"""How the cells of a column are to be read, decided from the whole column: time unit, decimal mark, speed unit."""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from lapdelta.reading.clock import read_duration
from lapdelta.reading.numbers import certain_mark, read_number, tidy

#: Seconds in one unit of a plain number.
_SECONDS_IN = {"s": 1.0, "ms": 0.001, "day": 86400.0}
#: A lap of a kart circuit, in s: from the shortest indoor hall to a pit lap; wide, yet s, ms and days never overlap.
LAP_RANGE_S = (8.0, 1800.0)
#: A sector, in s.
SECTOR_RANGE_S = (1.5, 1200.0)
#: What a single lap may be before it is called absurd, in s.
LAP_LIMITS_S = (8.0, 3600.0)
#: Top speeds of karts, in km/h, for a single value.
SPEED_LIMITS_KMH = (10.0, 250.0)
#: The median of a column of top speeds, in km/h, where no unit is printed: from a small indoor hall to a quick
#: single-gear kart on a long straight. 95 is then km/h, for 95 mph would be 153 km/h; 60 may be either.
SPEED_RANGE_KMH = (40.0, 140.0)
#: Peak engine speeds, in 1/min.
RPM_LIMITS = (1000.0, 30000.0)
#: In place of a decimal mark: marks are mixed, and every number by itself tells its own.
EACH = "each"
KMH_IN = {"km/h": 1.0, "mph": 1.609344, "m/s": 3.6}
#: Languages that write the day before the month wherever they are the first language.
DAY_FIRST = frozenset({"de", "fr", "it", "es", "pt", "nl", "pl", "cs", "sv"})
PRINTED_UNITS = {"km_h": "km/h", "mph": "mph", "m_s": "m/s"}


def to_seconds(text: str, unit: str | None) -> float | None:
    """A time in s, rounded to the microsecond; ``unit`` is that of plain numbers (s, ms, day)."""
    duration = read_duration(text)
    if duration is None:
        return None
    if duration.seconds is not None:
        return duration.seconds
    number = duration.number
    if number is None or unit not in _SECONDS_IN:
        return None
    if unit == "ms" and number < 1000 and duration.thousands is not None:
        number = duration.thousands
    return round(number / 1000 if unit == "ms" else number * _SECONDS_IN[unit], 6)


def decide_time_unit(
    texts: Sequence[str], told: str | None, answer: str | None, limits: tuple[float, float] = LAP_RANGE_S
) -> str | None:
    """The unit of the plain numbers in a time column (``clock`` if there are none); None to ask.

    ``told`` is the unit in the header or the unit row. It is believed only where the values allow it.
    """
    durations = [found for text in texts if (found := read_duration(text)) is not None]
    plain = [text for text in texts if (found := read_duration(text)) is not None and found.seconds is None]
    if answer is not None:
        return answer
    if not plain:
        return "clock"
    tried = (
        [told] if told in _SECONDS_IN else ["s"] if len(plain) < len(durations) else _units_of_numbers(plain)
    )
    fitting = {unit: share for unit in tried if unit and (share := _share_within(plain, unit, limits)) >= 0.5}
    best = [unit for unit, share in fitting.items() if share == max(fitting.values())]
    if not best and told not in _SECONDS_IN and 2 * len(plain) < len(durations):
        return (
            "s"  # among clock forms a few numbers that are no laps in any unit; each is set aside by itself
        )
    return best[0] if len(best) == 1 else None


def _units_of_numbers(plain: Sequence[str]) -> list[str]:
    """Units that plain numbers may have: decimals of 1 and more are seconds, for no one prints parts of a ms."""
    fractions = [text for text in map(tidy, plain) if "." in text or "," in text]
    if 2 * len(fractions) >= len(plain):
        return ["s", "day"]
    return ["s", "ms"]


def _share_within(plain: Sequence[str], unit: str, limits: tuple[float, float]) -> float:
    """Share of the positive times that lie within the limits under this unit."""
    seconds = [value for text in plain if (value := to_seconds(text, unit)) is not None and value > 0]
    return sum(1 for value in seconds if limits[0] <= value <= limits[1]) / len(seconds) if seconds else 0.0


@dataclass(frozen=True)
class NumberFormat:
    """How a column of numbers is read: its decimal mark (None to ask), and the factor to the canonical unit."""

    mark: str | None
    factor: float = 1.0


def decide_mark(
    texts: Sequence[str], file_marks: set[str], answer: str | None, limits: tuple[float, float]
) -> str | None:
    """The decimal mark of a column: its own evidence, the file's, then what is plausible; None to ask."""
    own = {mark for text in texts if (mark := certain_mark(text)) is not None}
    if answer is not None:
        return answer
    if len(own) == 1:
        return next(iter(own))
    marked = [text for text in texts if "." in text or "," in text]
    if len(own) == 2 and all(certain_mark(text) is not None for text in marked):
        return EACH
    plausible: list[str] = []
    for mark in ".,":
        values = [value for text in texts if (value := read_number(text, mark)) is not None]
        if values and limits[0] <= median(values) <= limits[1]:
            plausible.append(mark)
    if all("." not in text and "," not in text for text in map(tidy, texts)):
        return "."
    if len(plausible) == 1:
        return plausible[0]
    if len(plausible) == 2 and len(file_marks) == 1:
        return next(iter(file_marks))
    return None if plausible else "."


def decide_speed_unit(
    values: Sequence[float], told: str | None, answer: str | None, metric: bool
) -> str | None:
    """``km/h``, ``mph`` or ``m/s``; None to ask. ``metric``: the header is in a language without miles."""
    if answer is not None:
        return answer
    if told in PRINTED_UNITS:
        return PRINTED_UNITS[told]
    if not values:
        return "km/h"
    middle = median(values)
    fitting = [
        unit for unit, factor in KMH_IN.items() if SPEED_RANGE_KMH[0] <= middle * factor <= SPEED_RANGE_KMH[1]
    ]
    if metric and "km/h" in fitting:
        return "km/h" if "m/s" not in fitting else None
    return fitting[0] if len(fitting) == 1 else None
