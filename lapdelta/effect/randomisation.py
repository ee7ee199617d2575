"""Orders of sessions: balanced ones, drawing one at random, and the exact test that a draw allows.

An order is a string of A (before) and B (after), one letter a session. The list an order is drawn
from holds all orders with equally many A and B whose variance inflation by an own trend is at most 2;
the exact test counts over exactly that list (Fisher 1935; Box, Hunter & Hunter, from memory).
"""

import itertools
import random
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from functools import lru_cache
from typing import Any, Literal

import numpy as np

from lapdelta.effect.arrays import Floats
from lapdelta.effect.design import INTERLEAVED_SESSIONS, INTERLEAVED_VIF, variance_inflation
from lapdelta.errors import QuestionError

Tail = Literal["both", "less", "greater"]

#: From fewer orders a draw is refused: with 20 (six sessions) the smallest two-sided p would be .10.
FEWEST_ORDERS = 40
#: A day holds no more sessions than this, and the list of orders grows fast.
MOST_SESSIONS = 12
#: Values this near to the observed one count as equal to it.
TIE = 1e-12


def order_inflation(order: str) -> float:
    """Variance inflation of an order by an own trend over equally spaced sessions; inf for A then B."""
    after = np.array([letter == "B" for letter in order], dtype=np.float64)
    return variance_inflation(after, np.arange(len(order), dtype=np.float64))


def swaps_in(order: str) -> int:
    """How often the kart is changed over."""
    return sum(one != other for one, other in itertools.pairwise(order))


def is_interleaved_order(order: str) -> bool:
    """Whether the analysis can separate the change from a trend of our own kart."""
    return len(order) >= INTERLEAVED_SESSIONS and order_inflation(order) <= INTERLEAVED_VIF


@lru_cache
def best_order(sessions: int) -> str:
    """The order of so many sessions, starting with A, that a trend and its bend disturb least.

    Least size 1/m_A + 1/m_B times VIF first, then least correlation with the squared time, then fewest
    swaps: ABA, ABBA, ABBABAAB.
    """
    starts: list[tuple[float, float, int, str]] = []
    place = np.arange(sessions, dtype=np.float64)
    bend = (place - place.mean()) ** 2
    bend -= bend.mean()
    for count in {sessions // 2, (sessions + 1) // 2} - {0}:
        for first in itertools.combinations(range(sessions), count):
            if first[0] != 0:
                continue
            order = "".join("A" if index in first else "B" for index in range(sessions))
            size = (1.0 / count + 1.0 / (sessions - count)) * order_inflation(order)
            after = np.array([letter == "B" for letter in order], dtype=np.float64)
            bent = abs(float(bend @ after))
            swaps = swaps_in(order)
            starts.append((round(size, 9), round(bent, 9), swaps, order))
    return min(starts)[3]


def orders_that_fit(sessions_left: int) -> tuple[str, ...]:
    """Orders worth a row for the sessions left: the best of each length, and the usual blocks beside it."""
    usual = ("AB", "AABB", "ABAB", "AAABBB")
    fitting = [order for order in usual if len(order) <= sessions_left]
    best = [best_order(sessions) for sessions in range(3, min(sessions_left, MOST_SESSIONS) + 1)]
    return tuple(sorted(dict.fromkeys([*fitting, *best]), key=lambda order: (len(order), order)))


@lru_cache
def balanced_orders(sessions: int) -> tuple[str, ...]:
    """All orders with equally many A and B and a variance inflation of at most 2, in alphabetical order.

    66 of the 70 for eight sessions.

    Raises:
        QuestionError: an odd number of sessions, or not 2 to 12 of them.
    """
    if sessions % 2 or not 2 <= sessions <= MOST_SESSIONS:
        raise QuestionError(
            f"{sessions} sessions cannot be split evenly between two settings.",
            f"Take an even number of sessions from 2 to {MOST_SESSIONS}.",
            "sessions",
        )
    every = (
        "".join("A" if place in first else "B" for place in range(sessions))
        for first in itertools.combinations(range(sessions), sessions // 2)
    )
    return tuple(order for order in every if order_inflation(order) <= INTERLEAVED_VIF + TIE)


@dataclass(frozen=True)
class Draw:
    """An order drawn at random, to be kept sealed with the list it was drawn from.

    Attributes:
        order: the order drawn.
        orders: the list it was drawn from; the exact test uses this list and no other.
        seed: of the draw; drawing again with it gives the same order.
        smallest_p: the smallest two-sided p-value the exact test can give.
    """

    order: str
    orders: tuple[str, ...]
    seed: int
    smallest_p: float

    def to_dict(self) -> dict[str, Any]:
        """Plain values for ``--json`` and for the archive."""
        return asdict(self) | {"orders": list(self.orders)}


def draw_order(sessions: int, seed: int | None = None) -> Draw:
    """Draw one order; ``seed`` None takes one from the operating system's randomness.

    Raises:
        QuestionError: the list has fewer than 40 orders, so that the exact test could hardly ever decide.
    """
    orders = balanced_orders(sessions)
    if len(orders) < FEWEST_ORDERS:
        raise QuestionError(
            f"{sessions} sessions give {len(orders)} orders to draw from: too few, for luck alone shows the largest "
            f"difference in {2 / max(len(orders), 2):.0%} of such draws.",
            "Take eight sessions or more for a random order, or a fixed balanced order such as ABBA.",
            "sessions",
        )
    chosen_seed = random.SystemRandom().getrandbits(32) if seed is None else seed
    order = random.Random(chosen_seed).choice(orders)
    return Draw(order, orders, chosen_seed, 2.0 / len(orders))


def order_statistic(values: Floats, order: str) -> float:
    """Mean of the B sessions minus mean of the A sessions; ``values`` one adjusted pace a session."""
    after = np.array([letter == "B" for letter in order])
    return float(values[after].mean() - values[~after].mean())


def exact_p_value(values: Sequence[float], order: str, orders: Sequence[str], tail: Tail = "both") -> float:
    """Share of the list's orders whose statistic is at least as far out as that of the order run.

    Args:
        values: one adjusted pace (pace minus what all karts shared) for each session, in order.
        order: the order that was run; must be in ``orders``.
        orders: the sealed list.
        tail: both sides by size, or ``greater`` / ``less`` for one side.

    Raises:
        QuestionError: the order is not in the list, or the lengths differ.
    """
    paces = np.asarray(values, dtype=np.float64)
    if order not in orders or any(len(other) != len(paces) for other in orders):
        raise QuestionError(
            f"The order {order} over {len(paces)} sessions is not in the sealed list.",
            "Run and test exactly the order that was drawn.",
            "order",
        )
    sign = -1.0 if tail == "less" else 1.0
    all_values = np.array([sign * order_statistic(paces, other) for other in orders])
    observed = sign * order_statistic(paces, order)
    if tail == "both":
        all_values, observed = np.abs(all_values), abs(observed)
    return float(np.mean(all_values >= observed - TIE))
