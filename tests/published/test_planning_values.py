"""Planning against published and hand-computed numbers; the source stands beside each."""

import math

import pytest

from lapdelta.effect.power import Noise, Setting, option, smallest_effect
from lapdelta.effect.randomisation import (
    balanced_orders,
    best_order,
    draw_order,
    exact_p_value,
    order_inflation,
)
from lapdelta.errors import QuestionError


def test_power_of_the_two_sample_t_test():
    # Cohen 1988, table 2.3 (from memory): d = .5, 64 a group, 5 % two-sided has power .80 (.8015 exactly)
    error = math.sqrt(2 / 64)
    assert smallest_effect(error, 126, 0.95, 0.8015) == pytest.approx(0.5, abs=2e-4)


@pytest.mark.parametrize(
    ("lap_sd", "session_sd", "expected"),
    # SE^2 = (tau^2 + sigma^2/n)(1/kA + 1/kB), df kA + kB - 2, noncentral t with 80 % power; computed
    # separately, not published; 2+2, 3+3, 4+4, 6+6 and 10+10 sessions of 10 laps
    [
        (0.15, 0.05, (0.39, 0.21, 0.16, 0.12, 0.09)),
        (0.20, 0.10, (0.67, 0.36, 0.28, 0.21, 0.16)),
        (0.30, 0.20, (1.25, 0.68, 0.53, 0.40, 0.29)),
    ],
)
def test_what_a_plain_two_sample_design_resolves(lap_sd, session_sd, expected):
    for sessions, effect in zip((2, 3, 4, 6, 10), expected, strict=True):
        error = math.sqrt((session_sd**2 + lap_sd**2 / 10) * 2 / sessions)
        assert smallest_effect(error, 2 * sessions - 2) == pytest.approx(effect, abs=0.0061)


def test_inflation_of_orders():
    # r^2 = .8, .2, 0, 27/35, 3/35 by hand
    expected = {"AABB": 5, "ABAB": 1.25, "ABBA": 1, "AAABBB": 4.375, "ABABAB": 1.09375, "ABA": 1}
    for order, inflation in expected.items():
        assert order_inflation(order) == pytest.approx(inflation)
    assert order_inflation("AB") == math.inf


def test_best_orders_are_free_of_trend():
    assert best_order(3) == "ABA"
    assert best_order(4) == "ABBA"  # trend-robust order, Cox 1951 (from memory)
    assert best_order(8) == "ABBABAAB"  # free of trend and bend: Thue-Morse, Daniel & Wilcoxon 1966 (memory)


def test_list_of_a_sealed_draw():
    # 8!/(4! 4!) = 70 orders; the four with a variance inflation above 2 go: counted by hand
    orders = balanced_orders(8)
    assert len(orders) == 66
    assert {"AAAABBBB", "BBBBAAAA"} & set(orders) == set()
    draw = draw_order(8, seed=5)
    assert draw.order in draw.orders == orders
    assert draw.smallest_p == pytest.approx(0.030, abs=5e-4)
    assert draw_order(8, seed=5) == draw
    with pytest.raises(QuestionError, match="eight"):
        draw_order(6)


def test_exact_test_of_the_tomato_plants():
    # Box, Hunter & Hunter, Statistics for Experimenters, fertilisers on tomato plants (data read in a stored
    # copy): 154 of the 462 orders of 5 A and 6 B are at least as large (33 %)
    pounds = [29.9, 11.4, 26.6, 23.7, 25.3, 28.5, 14.2, 17.9, 16.5, 21.1, 24.3]
    from itertools import combinations

    orders = ["".join("A" if i in first else "B" for i in range(11)) for first in combinations(range(11), 5)]
    assert len(orders) == 462
    assert exact_p_value(pounds, "AABBABBBAAB", orders, "greater") == pytest.approx(154 / 462)


def test_exact_test_refuses_another_order():
    with pytest.raises(QuestionError, match="sealed"):
        exact_p_value([1.0] * 8, "AAAABBBB", balanced_orders(8))


@pytest.mark.parametrize(("order", "dof"), [("AB", 11), ("ABBA", 34), ("ABBABAAB", 82), ("ABA", 23)])
def test_degrees_of_freedom_by_counting(order, dof):
    # cells minus change, karts, sessions - 1 and, from four sessions on, the own trend; A/B: karts - 1
    seen = option(order, Setting(Noise(0.1, 0.28, 2.8, "stated"), 9, 12, 0.95, 0.8), 0.1)
    assert seen.dof == dof


def test_looks_half_way_spend_as_lan_and_demets():
    # Lan & DeMets 1983, O'Brien-Fleming kind, one-sided .025 spent as 2 - 2 Phi(z / sqrt t) (from memory)
    from scipy import special

    from lapdelta.effect.planning import LOOKS

    z = special.ndtri(1 - 0.0125)
    spent = 2 - 2 * special.ndtr(z / math.sqrt(0.5))
    assert LOOKS["half way"][0][1] == pytest.approx(2 * spent, abs=6e-5)
