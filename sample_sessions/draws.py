"""Random draws that come out alike on every machine and Python version.

Only ``random.Random.random`` is promised to stay the same (Python's documentation of ``random``), so
the distributions are made from it by their inverse functions.
"""

import math
from random import Random
from statistics import NormalDist

_NORMAL = NormalDist()
_SMALLEST = 1e-12  # the inverse functions are not defined at 0


class Draws:
    """One stream of draws, named by words: the same words give the same draws, whatever else is drawn."""

    def __init__(self, seed: int, *words: str) -> None:
        """A stream of its own for these words."""
        self._random = Random("/".join((str(seed), *words)))

    def uniform(self, low: float = 0.0, high: float = 1.0) -> float:
        """A number evenly spread between ``low`` and ``high``."""
        return low + (high - low) * self._random.random()

    def normal(self, sd: float) -> float:
        """A normal deviate of mean 0."""
        return sd * _NORMAL.inv_cdf(max(self._random.random(), _SMALLEST))

    def exponential(self, mean: float) -> float:
        """An exponential deviate: always a loss, mostly small, now and then large."""
        return -mean * math.log(max(self._random.random(), _SMALLEST))

    def chance(self, probability: float) -> bool:
        """True with that probability."""
        return self._random.random() < probability
