"""Sums, averages and best laps below the laps that no word tells: rows that would pass for laps."""

from collections.abc import Sequence
from statistics import mean, median
from typing import Protocol

#: A sum or an average of fewer laps may be a lap of the same time.
FEWEST = 3
#: Times are printed to 0.001 s at the most that counts here.
_MOST_DECIMALS = 3
#: A sum or average may be rounded or cut: by one unit of its last digit, and what binary fractions add.
_ONE_UNIT = 1.01
#: A row without a number, where all others have one, that is so many times as long as the median is no lap.
LONG_WITHOUT_NUMBER = 3
#: A row that is longer than so many medians of all laps may be a sum of three or more.
LONG_FOR_A_SUM = 2
AVERAGE = "the average of the laps above, not a lap"
SUM = "the sum of the laps above, not a lap"


class Timed(Protocol):
    """What is compared of a row that passes for a lap."""

    @property
    def lap(self) -> int | None:
        """Its number; None where none is printed."""
        ...

    @property
    def lap_time_s(self) -> float:
        """Seconds."""
        ...

    @property
    def marks(self) -> Sequence[str]:
        """What the file says of it."""
        ...


def unnumbered(laps: Sequence[Timed], members: Sequence[int]) -> dict[int, str]:
    """Position -> reason, for rows of one session and kart that have no number and are made of the numbered laps above.

    ``members``: positions in ``laps``, in the order of the file. A row that is marked (``out`` where the number
    should be) is a lap.
    """
    faults: dict[int, str] = {}
    above: list[float] = []
    since: list[float] = []
    for at in members:
        lap = laps[at]
        if lap.lap is not None:
            above.append(lap.lap_time_s)
            since.append(lap.lap_time_s)
            continue
        if lap.marks:
            continue
        reason = (
            made_of(lap.lap_time_s, since) or made_of(lap.lap_time_s, above) or _no_lap(lap.lap_time_s, above)
        )
        if reason:
            faults[at] = reason
            since = []
    return faults


def numbered(laps: Sequence[Timed], members: Sequence[int], least_s: float) -> dict[int, str]:
    """Position -> reason, for rows of one session and kart that are the sum of the laps above, numbered on or not.

    Only rows longer than ``least_s`` are looked at. An average cannot be told from a lap where it has a number: it
    stays, with a note.
    """
    faults: dict[int, str] = {}
    above: list[float] = []
    since: list[float] = []
    for at in members:
        seconds = laps[at].lap_time_s
        if seconds > least_s and not laps[at].marks and (sum_of(seconds, since) or sum_of(seconds, above)):
            faults[at] = SUM
            since = []
            continue
        above.append(seconds)
        since.append(seconds)
    return faults


def sum_of(seconds: float, laps: Sequence[float]) -> bool:
    """Whether a time is the sum of these laps, to its last digit."""
    return len(laps) >= FEWEST and abs(seconds - sum(laps)) <= last_digit(seconds)


def made_of(seconds: float, laps: Sequence[float], digits: int = 0) -> str | None:
    """Why a time is no lap: it is the sum or the average of these laps, to its last digit.

    ``digits``: decimals that it is printed with, where that is known: 51.000 is no rounded 50.6. Laps to 0.01 s equal
    their average too often by chance: then only an average with more digits is told.
    """
    if len(laps) < FEWEST:
        return None
    if sum_of(seconds, laps):
        return SUM
    finest = max(_decimals(lap) for lap in laps)
    chance = finest < _MOST_DECIMALS and _decimals(seconds) <= finest
    slack = min(last_digit(seconds), _ONE_UNIT * 10.0**-digits if digits else 1.0)
    if abs(seconds - mean(laps)) <= slack and not chance:
        return AVERAGE
    return None


def last_digit(seconds: float) -> float:
    """By how much a sum or average may miss, s."""
    return _ONE_UNIT * 10.0 ** -_decimals(seconds)


def _decimals(seconds: float) -> int:
    """Decimals that a time needs, three at the most."""
    return next((n for n in range(_MOST_DECIMALS) if abs(seconds - round(seconds, n)) < 5e-5), _MOST_DECIMALS)


def _no_lap(seconds: float, laps: Sequence[float]) -> str | None:
    """Why a time without a number is no lap: it repeats the best, or is far longer."""
    if len(laps) < FEWEST:
        return None
    if abs(seconds - min(laps)) < 5e-5:
        return "the best of the laps above once more"
    if seconds > LONG_WITHOUT_NUMBER * median(laps):
        return "no lap number, and far longer than the laps above"
    return None


def last_is_made_of(laps: Sequence[Timed], digits: int = 0) -> str | None:
    """Why the last of the laps of a table that prints no numbers is none; the laps are of one session and kart.

    ``digits``: decimals that it is printed with.
    """
    *above, last = [lap.lap_time_s for lap in laps] or [0.0]
    return None if laps and laps[-1].marks else made_of(last, above, digits)
