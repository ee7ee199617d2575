"""Words such as one for a mean, below the laps, that would pass for karts or drivers."""

from collections.abc import Collection, Iterable, Sequence
from itertools import pairwise
from statistics import mean, median

from lapdelta.reading.checks import Named
from lapdelta.reading.unsaid import last_digit, made_of
from lapdelta.reading.vocabulary import is_summary

#: Laps of karts with a number, at the least, beside which a word is doubted.
_FEWEST = 3
#: The same where times are compared lap by lap and printed to a tenth, and what two equal times may differ by, in s.
_FEWEST_IN_TENTHS, _TENTH_S, _SAME_S = 5, 0.1, 5e-5
NO_NUMBER = "no lap number, and a word where the others have a kart or driver"
MADE = "a word where the others have a kart or driver, and a time made of theirs"


def suspects(names: Iterable[str]) -> set[str]:
    """The karts that may be none: those without a figure among others with one, else the words for a best or a sum."""
    found = set(names)
    words = {name for name in found if not any(sign.isdigit() for sign in name)}
    return words if len(words) < len(found) else summaries(words)


def summaries(names: Iterable[str]) -> set[str]:
    """The names that are words for a best, mean or sum."""
    return {name for name in names if is_summary(name)}


def footers(
    laps: Sequence[Named], names: Sequence[str], suspected: Collection[str], counted: Collection[int] = ()
) -> dict[int, str]:
    """Position -> reason, for rows of ``suspected`` karts or drivers that are none; ``names``: that of each lap.

    It is none if each of its laps is the best, slowest, mean, median or sum of the others' laps with that number. Else
    no two rows of such a word follow each other, and it is none if it never has a lap number where the others have one
    (``counted``: positions whose number was counted by us), or if each of its times is the best, the mean or the
    sum of the laps above. A row that is marked (``out``) is a lap.
    """
    words: dict[str, list[int]] = {}
    for at, name in enumerate(names):
        if name in suspected:
            words.setdefault(name, []).append(at)
    others = [at for at, name in enumerate(names) if name not in suspected]
    if not words or len(others) < _FEWEST:
        return {}
    printed = all(laps[at].lap is not None for at in others if not laps[at].marks)
    found: dict[int, str] = {}
    by_number: dict[int | None, list[float]] = {}
    for at in others:
        by_number.setdefault(laps[at].lap, []).append(laps[at].lap_time_s)
    for rows in words.values():
        if any(laps[at].marks for at in rows):
            continue
        if _made_lap_by_lap([(laps[at].lap_time_s, by_number.get(laps[at].lap, [])) for at in rows]):
            found.update(dict.fromkeys(rows, MADE))
            continue
        if any(later == row + 1 for row, later in pairwise(rows)):
            continue
        lacks = all(laps[at].lap is None for at in rows) or (len(rows) == 1 and rows[0] in counted)
        if printed and lacks and rows[0] > others[_FEWEST - 1]:
            found.update(dict.fromkeys(rows, NO_NUMBER))
        elif all(_made_of_others(laps, at, others, rows) for at in rows):
            found.update(dict.fromkeys(rows, MADE))
    return found


def _made_lap_by_lap(laps: Sequence[tuple[float, Sequence[float]]]) -> bool:
    """Whether every time of several is made of the others' times beside it, wherever there are two or more of those.

    Times to a tenth agree by chance too often to be told by a few laps.
    """
    beside = [(seconds, others) for seconds, others in laps if len(others) > 1]
    finest = min((last_digit(seconds) for seconds, _ in beside), default=1.0)
    if len(beside) < (_FEWEST if finest < _TENTH_S else _FEWEST_IN_TENTHS):
        return False
    slack = {min: _SAME_S, max: _SAME_S, median: finest / 2, mean: finest / 2, sum: finest / 2}
    return any(
        all(abs(made(others) - seconds) <= slack[made] + _SAME_S for seconds, others in beside)
        for made in slack
    )


def _made_of_others(laps: Sequence[Named], row: int, others: Sequence[int], rows: Sequence[int]) -> bool:
    """Whether a time is the best, mean or sum of the laps above the row, or of those since the word stood there."""
    last = max((at for at in rows if at < row), default=-1)
    seconds = laps[row].lap_time_s
    for start in {-1, last}:
        above = [laps[at].lap_time_s for at in others if start < at < row]
        if len(above) >= _FEWEST and (abs(seconds - min(above)) < _SAME_S or made_of(seconds, above)):
            return True
    return False
