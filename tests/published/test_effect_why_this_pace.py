"""Why a pace was taken from what it was, and designs at the ends of their range; small cubes by hand."""

import numpy as np
import pytest

from lapdelta.effect.arrays import LapCube
from lapdelta.effect.design import Design, has_own_trend, is_interleaved, variance_inflation
from lapdelta.effect.sharp import CLOCKS, LAPS, SECTORS, SECTORS_AND_CLOCKS, best_source, sectors_add_up
from lapdelta.effect.source import why_this_pace

NAN = float("nan")


def cube(sectors=None, clock=None, laps=10):
    """One kart, one session of 60 s laps; ``sectors`` laps by sectors."""
    shape = (1, 1, laps)
    nothing = np.full(shape, NAN)
    parts = np.empty((*shape, 0)) if sectors is None else np.array(sectors, float).reshape(*shape, -1)
    position = np.arange(1, laps + 1).reshape(shape)
    reason = np.zeros(shape, int)
    clocks = None if clock is None else np.full(shape, float(clock))
    return LapCube(
        np.full(shape, 60.0), np.ones(shape, bool), reason, position, parts, nothing, nothing, clocks
    )


WHOLE, SHORT, GONE = [20.0, 40.0], [20.0, 39.9], [NAN, 40.0]
UNFIT = "the clocks do not fit the laps to a tenth or two"


@pytest.mark.parametrize(
    ("sectors", "add_up"),
    [
        (None, False),
        ([WHOLE] * 10, True),
        ([WHOLE] * 9 + [SHORT], True),
        ([WHOLE] * 8 + [SHORT] * 2, False),
        ([WHOLE] * 8 + [GONE] * 2, True),
        ([GONE] * 10, False),
        ([[20.0, 40.019]] * 10, True),
        ([[20.0, 40.021]] * 10, False),
    ],
)
def test_sectors_add_up_in_nine_printed_laps_of_ten_within_two_hundredths(sectors, add_up):
    assert sectors_add_up(cube(sectors)) is add_up


@pytest.mark.parametrize(
    ("sectors", "source"),
    [
        (None, LAPS),
        ([WHOLE] * 10, SECTORS),
        ([WHOLE] * 9 + [GONE], SECTORS),
        ([WHOLE] * 8 + [GONE] * 2, LAPS),  # more than one lap in ten would be lost
        ([[60.0]] * 10, LAPS),  # one sector is the lap
    ],
)
def test_the_sharpest_pace_without_clocks(sectors, source):
    assert best_source(cube(sectors), np.ones((1, 1), bool)) == source
    assert best_source(cube(sectors), np.zeros((1, 1), bool)) == LAPS


@pytest.mark.parametrize(
    ("source", "sectors", "clock", "missing"),
    [
        (LAPS, None, None, "no sectors and no clock that all karts share"),
        (LAPS, [SHORT] * 10, 36000, "sectors do not add up to the lap and " + UNFIT),
        (LAPS, [WHOLE] * 8 + [GONE] * 2, None, "too many laps lack sectors and no clock that all karts share"),
        (CLOCKS, None, 36000, "no sectors"),
        (SECTORS, [WHOLE] * 10, None, "no clock that all karts share"),
        (SECTORS, [WHOLE] * 10, 36000, UNFIT),
        (SECTORS_AND_CLOCKS, [WHOLE] * 10, 36000, ""),
    ],
)  # fmt: skip
def test_why_this_pace_and_what_a_sharper_one_lacks(source, sectors, clock, missing):
    said = why_this_pace(cube(sectors, clock), source)
    assert said.startswith(f"Pace from {source}: ")
    assert said.endswith(f" Sharper is not possible: {missing}.") is bool(missing)
    assert ("Sharper" in said) is bool(missing)


def test_variance_inflation_by_correlation_and_at_its_ends():
    """1/(1 - r^2), numpy's r; sessions all at one time inflate nothing, one setting alone cannot be told."""
    after, time = np.array([0.0, 1, 1, 0, 1]), np.array([0.0, 1, 2.5, 3, 7])
    r = np.corrcoef(after, time)[0, 1]
    assert variance_inflation(after, time) == pytest.approx(1 / (1 - r**2))
    assert variance_inflation(after, np.ones(5)) == 1
    assert variance_inflation(np.ones(5), time) == np.inf
    assert variance_inflation(np.array([0.0, 1]), np.array([0.0, 1])) == np.inf


def test_own_columns_hold_the_setting_the_others_and_the_hour_where_ours_ran():
    design = Design(np.array([0, 1, 2, 1]), np.array([9.0, 10.0, 11.0, 14.0]), np.arange(4))
    present = np.array([True, True, True, False])
    columns = design.own_columns(present, trend=True)
    assert columns.T[:2].tolist() == [[0, 1, 0, 0], [0, 0, 1, 0]]
    assert columns.T[2] == pytest.approx(
        [-2 / 3, -1 / 3, 0, 0]
    )  # hours from their mean 11, over the farthest, 3
    assert not design.own_columns(present, trend=False)[:, 2].any()


@pytest.mark.parametrize(
    ("order", "interleaved", "trend"),
    [
        ("AB", False, False),
        ("ABA", True, False),
        ("AABB", False, True),
        ("ABBA", True, True),
        ("ABAB", True, True),
        ("ABC", False, False),
    ],
)
def test_orders_in_turns_and_with_a_trend_of_their_own(order, interleaved, trend):
    design = Design(
        np.array(["ABC".index(letter) for letter in order]),
        np.arange(len(order), dtype=float),
        np.arange(len(order)),
    )
    there = np.ones(len(order), bool)
    assert is_interleaved(design, there) is interleaved
    assert has_own_trend(design, there) is trend
