"""The one table that ties a probability to a word and to "x in 20".

The same denominator everywhere, and the word never without its number (Budescu, Por & Broomell 2012;
Wintle et al. 2019). The cut points are those of the IPCC's likelihood scale (Mastrandrea et al. 2010,
table 1: virtually certain 99 %, very likely 90 %, likely 66 %, about as likely as not 33-66 %) moved to
the nearest edge between two whole dots of twenty, so that word, number and dot picture cannot disagree.
"""

import math
from dataclasses import dataclass
from typing import Final

from lapdelta.words.catalogue import phrase

#: Denominator of every chance that is said or drawn.
TWENTY: Final = 20


@dataclass(frozen=True)
class Step:
    """One row of the table: from ``least`` dots of twenty (inclusive) the word with this key."""

    least: int
    key: str

    @property
    def edge(self) -> float:
        """Smallest probability that is said with this word: half a dot below ``least``; 0 for the lowest."""
        return max(0.0, (self.least - 0.5) / TWENTY)


#: Highest first; every whole number of dots 0..20 falls in exactly one step.
SCALE: Final = (
    Step(20, "almost_certain"),
    Step(18, "very_likely"),
    Step(14, "likely"),
    Step(7, "as_likely_as_not"),
    Step(3, "unlikely"),
    Step(1, "very_unlikely"),
    Step(0, "almost_certainly_not"),
)


def dots_below(probability: float) -> int:
    """How many of 20 equally likely answers lie on the side that has this probability.

    The dots stand at the quantiles (i - 1/2)/20, i = 1..20, so a side with probability P holds
    floor(20 P + 1/2) of them. ValueError outside 0..1.
    """
    if not 0.0 <= probability <= 1.0:
        raise ValueError(f"not a probability: {probability!r}")
    # The tiny slack keeps an edge that was taken as 1 minus another on its upper side in spite of binary fractions.
    return math.floor(TWENTY * probability + 0.5 + 1e-9)


def step_for(probability: float) -> Step:
    """The row of the table for a probability in 0..1."""
    dots = dots_below(probability)
    return next(step for step in SCALE if dots >= step.least)


def probability_word(probability: float, language: str = "en") -> str:
    """The fixed word alone, as in a legend; in a sentence use ``in_twenty`` beside it."""
    return phrase(f"chance.{step_for(probability).key}", language)


def in_twenty(probability: float, language: str = "en") -> str:
    """The number as said: "17 in 20"; the ends are said as bounds, for nothing is certain."""
    dots = dots_below(probability)
    if dots == TWENTY:
        return phrase("chance.more_than", language, n=TWENTY - 1)
    if dots == 0:
        return phrase("chance.less_than", language, n=1)
    return phrase("chance.count", language, n=dots)
