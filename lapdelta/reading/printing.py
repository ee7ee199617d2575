"""How the times of a column are printed, and cells printed otherwise: a letter for a digit, another clock form."""

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from statistics import median

from lapdelta.reading.numbers import decimals, tidy

#: Rows from the top by which it is judged in which forms the laps are printed.
JUDGED_ROWS = 100
#: Cells without a letter, at the least, beside which one with a letter is odd; and the share that may have one.
_FEWEST_BARE, _RARE = 3, 0.1
#: A lap of another form is doubted where it is so many times as long as the median.
LONG_OTHERWISE = 3
#: Laps at the least for that median.
_FEWEST_LAPS = 3
#: The form of a plain number.
NUMBER = "0"
_LETTER_LAST = re.compile(r"[\d:.,'\"]*\d[.,]\d*[^\W\d_]")


@dataclass(frozen=True)
class Printing:
    """How one column prints times.

    ``decimals``: the usual count; ``lettered`` of ``count`` filled cells have a letter behind the number; ``forms``:
    clock form -> the shortest time printed like that near the top, in s; ``middle_s``: the median time, where told.
    """

    decimals: int | None = None
    lettered: int = 0
    count: int = 0
    forms: Mapping[str, float] = field(default_factory=dict[str, float])
    middle_s: float | None = None

    def has_typed_letter(self, text: str) -> bool:
        """Whether a letter stands where nearly all others have their last digit, as in ``44,6S`` for 44,65."""
        bare = tidy(text)
        if (
            self.decimals is None
            or not _LETTER_LAST.fullmatch(bare)
            or (decimals(bare[:-1]) or 0) >= self.decimals
        ):
            return False
        rest = self.count - self.lettered
        return rest >= _FEWEST_BARE and self.lettered <= max(1, _RARE * self.count)

    def is_long_otherwise(self, text: str, seconds: float) -> bool:
        """Whether a time is far longer than the others, and in a clock form that no usual one has."""
        if self.middle_s is None or seconds <= LONG_OTHERWISE * self.middle_s:
            return False
        return clock_form(text) not in self.usual_forms()

    def usual_forms(self) -> set[str]:
        """The forms of laps that are not far longer than the others."""
        longest = LONG_OTHERWISE * (self.middle_s or 0.0)
        return {form for form, shortest in self.forms.items() if shortest <= longest}


def clock_form(text: str) -> str:
    """The signs of a time without its figures: ``0`` for 44.1, ``0:0.0`` for 1:02.3, ``0:0`` for 44:10."""
    form = re.sub(r"\d+", "0", tidy(text)).replace(",", ".").replace(" ", "")
    return NUMBER if form == "0.0" else form


def printing_of(texts: Sequence[str], seconds: Sequence[float | None]) -> Printing:
    """How these filled cells are printed; ``seconds``: what each is read as, None where it is no time."""
    usual = Counter(count for text in texts if (count := decimals(text)) is not None)
    forms: dict[str, float] = {}
    known = [value for value in seconds if value is not None and value > 0]
    for text, value in list(zip(texts, seconds, strict=True))[:JUDGED_ROWS]:
        if value is not None and value > 0:
            form = clock_form(text)
            forms[form] = min(value, forms.get(form, value))
    return Printing(
        decimals=usual.most_common(1)[0][0] if usual else None,
        lettered=sum(1 for text in texts if text[-1:].isalpha()),
        count=len(texts),
        forms=forms,
        middle_s=median(known) if len(known) >= _FEWEST_LAPS else None,
    )
