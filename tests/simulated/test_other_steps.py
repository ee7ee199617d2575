"""With few other karts their other steps of the day narrow the range, and it stays right as often as it says."""

import math

from simulated.other_steps import LEARNING, both_ways
from simulated.trials import binomial_limits

DAYS = 400
#: Own bounds (no outside source): false calls at most 6.5 %, and the limits of chance around the nominal 5 %.
FALSE_CALLS = 0.065


def highest(share: float) -> float:
    return binomial_limits(share, DAYS)[1]


def test_the_range_narrows_and_stays_right() -> None:
    without, with_them = both_ways(3, 6, 2, DAYS, seed=1)
    assert with_them.used > 0.9
    assert with_them.false <= highest(0.05)
    # 3 karts: t with 2 df is 4.30, with some 7 df 2.36 (tables of Student's t).
    assert with_them.width < 0.75 * without.width
    assert with_them.power[-1] > without.power[-1]


def test_karts_that_wandered_more_at_first_do_not_make_false_calls() -> None:
    for at in (1, 2):
        _, with_them = both_ways(3, 6, at, DAYS, seed=2 + at, wander=LEARNING)
        assert with_them.false <= highest(FALSE_CALLS)


def test_many_other_karts_need_no_other_steps() -> None:
    without, with_them = both_ways(12, 6, 2, 40, seed=5)
    assert with_them.used == 0
    assert math.isclose(without.width, with_them.width)
