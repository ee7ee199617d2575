"""Both routes, history and verdicts against published single-case tests and worked examples."""

import numpy as np
import polars as pl
import pytest
from scipy.special import nctdtr, stdtr, stdtrit

import lapdelta
from lapdelta.effect.design import Design, variance_inflation
from lapdelta.effect.history import NO_HISTORY, History, from_numbers
from lapdelta.effect.measures import find_measure
from lapdelta.effect.routes import Batch, shifts
from lapdelta.effect.shift import Shift
from lapdelta.effect.verdict import judge
from lapdelta.tables import LAPS

#: Four sessions, our kart first; made up for this test and computed by hand-written formulas elsewhere.
PACE = np.array(
    [
        [60.40, 60.05, 60.02, 60.10],
        [60.90, 60.71, 60.66, 60.55],
        [61.20, 61.05, 60.88, 60.93],
        [60.35, 60.22, 60.16, 60.01],
        [62.00, 61.78, 61.80, 61.62],
    ]
)
VARIANCE = np.array([[0.0010]] + [[0.0005]] * 4) * np.ones((5, 4))
PAST = from_numbers([0.12 * np.sqrt(2), -0.12 * np.sqrt(2)] * 4)  # eight, half mean square .12^2


def design(order):
    after = np.array([letter == "B" for letter in order]).astype(np.int64)
    return Design(after, np.arange(len(order), dtype=float), np.arange(len(order)))


def shift_of(order, pace=PACE, variance=VARIANCE, history=NO_HISTORY):
    return shifts(Batch(pace[None], variance[None], design(order), history))[0]


def test_a_session_without_the_two_other_karts_does_not_make_the_order_interleaved():
    """A, B, A with two other karts in the first two only: A, B is left, and for that two other karts are few."""
    pace = PACE[:3, :3].copy()
    pace[1:, 2] = np.nan
    shift = shift_of("ABA", pace, VARIANCE[:3, :3])
    assert shift.route == "blocked"
    assert shift.reason.startswith("only 2 comparable other karts")


def test_three_karts_that_agree_by_chance_are_not_believed_beyond_a_quarter():
    """z = 0, .01, -.01 with lap noise V = 2 x .01 each: q = .0002/.02/2 = .005, taken as .25; by hand.

    SE = sqrt(.25 (V + V/3)) = sqrt(.25 x .02667) = .08165. Karts that agree exactly tell nothing.
    """
    pace = np.array([[50.0, 50.3], [50.0, 50.0], [51.0, 51.01], [52.0, 51.99]])
    shift = shift_of("AB", pace, np.full((4, 2), 0.01))
    assert shift.estimate == pytest.approx(0.3)
    assert shift.standard_error == pytest.approx(np.sqrt(0.25 * 0.02 * 4 / 3))
    pace[2:, 1] = pace[2:, 0]
    assert shift_of("AB", pace, np.full((4, 2), 0.01)).standard_error == pytest.approx(0, abs=1e-9)


# (order, history, estimate, standard error, df, low, high, p, tau): worked example, not published
@pytest.mark.parametrize(
    ("order", "history", "estimate", "error", "dof", "rest"),
    [
        ("AABB", NO_HISTORY, 0.035, 0.02449, 3, {"low": -0.0430, "high": 0.1130, "p": 0.2484}),
        ("AABB", PAST, 0.035, 0.10930, 11, {}),
        (
            "ABBA",
            NO_HISTORY,
            -0.1775,
            0.05413,
            10,
            {"low": -0.2981, "high": -0.0569, "p": 0.0083, "tau": 0.0380},
        ),
        ("ABBA", PAST, -0.1775, 0.09643, 18, {}),
        ("ABAB", NO_HISTORY, -0.0175, 0.08484, 10, {"p": 0.8407, "tau": 0.0593}),
    ],
)
def test_worked_example(order, history, estimate, error, dof, rest):
    shift = shift_of(order, history=history)
    # half a unit of the last printed digit
    assert shift.estimate == pytest.approx(estimate, abs=5e-6)
    assert shift.standard_error == pytest.approx(error, abs=5.1e-6)
    assert shift.dof == dof
    low, high = shift.interval(0.95)
    got = {"low": low, "high": high, "p": shift.p_value, "tau": np.sqrt(shift.tau2)}
    for name, value in rest.items():
        assert got[name] == pytest.approx(value, abs=5.1e-5), name
    assert shift.history_used == bool(history.raw)


def test_single_case_t():
    """Crawford & Howell 1998, the formula (z0 - mean)/(s sqrt(1 + 1/n)), on seven shifts of one change."""
    others, ours = np.array([0.12, -0.05, 0.03, 0.08, -0.02, 0.06]), -0.21
    pace = 60 + np.array([[0, ours], *([0, z] for z in others)])
    shift = shift_of("AB", pace, np.full((7, 2), 1e-4))
    assert shift.estimate / shift.standard_error == pytest.approx(-3.5989, abs=5e-5)
    assert shift.dof == 5
    assert shift.p_value == pytest.approx(0.0156, abs=5e-5)


def laps_of(rows):
    named = [dict.fromkeys(LAPS) | row for row in rows]
    return pl.DataFrame(named, schema=LAPS)


def crawford_howell_laps(laps=8):
    """Case 33, controls mean 50, sd 10, n 15, as shifts of 1/100 s on constant laps of 60 s."""
    controls = np.linspace(-1, 1, 15)
    controls = 0.50 + 0.10 * controls / controls.std(ddof=1)
    shift_by_kart = {"33": 0.33} | {f"c{i}": value for i, value in enumerate(controls)}
    return laps_of(
        {"session": session, "kart": kart, "lap": lap, "lap_time_s": 60 + shift * (session == "P2")}
        for session in ("P1", "P2")
        for kart, shift in shift_by_kart.items()
        for lap in range(1, laps + 1)
    )


def test_crawford_howell_through_compare():
    """Crawford & Howell 1998, p. 483: t(14) = -1.646, one-sided p .061 (p from memory, recomputed)."""
    finding = lapdelta.compare(crawford_howell_laps(), kart="33", before=["P1"], after=["P2"])
    # constant laps: no floor of a scale may show in the numbers, so 1e-9 rather than a printed digit
    assert finding.estimate == pytest.approx(-0.170, abs=1e-9)
    assert finding.standard_error == pytest.approx(0.10 * np.sqrt(16 / 15), abs=1e-9)
    assert finding.dof == 14
    assert finding.estimate / finding.standard_error == pytest.approx(-1.646, abs=5e-4)
    assert finding.chance_better == pytest.approx(1 - 0.061, abs=5e-4)
    assert finding.p_value == pytest.approx(0.122, abs=5e-4)
    assert finding.verdict == "not settled"
    assert finding.method == "blocked"


# r^2 = .8, .2, 0, .7714, .0857 of 0/1 against equally spaced times: arithmetic
@pytest.mark.parametrize(
    ("order", "inflation"),
    [("AABB", 5), ("ABAB", 1.25), ("ABBA", 1), ("AAABBB", 4.375), ("ABABAB", 1.09375), ("AB", np.inf)],
)
def test_variance_inflation(order, inflation):
    used = design(order)
    assert variance_inflation(used.level.astype(float), used.time) == pytest.approx(inflation, rel=1e-12)


def test_power_of_cohen():
    """Cohen 1988 (from memory): d = .5, 64 a group, 5 % two-sided: power .8015, by the noncentral t."""
    dof, ratio = 126, 0.5 * np.sqrt(32)
    assert 1 - nctdtr(dof, ratio, stdtrit(dof, 0.975)) == pytest.approx(0.8015, abs=5e-5)


LAP_TIME = find_measure("lap_time", 0)


def test_equivalence_by_two_one_sided_tests():
    """Welch summaries 38.97 (8.05, 61), 39.17 (7.57, 64), d = +-.3, from a published analysis script:

    bounds +-2.344, larger one-sided p .064 with t(121.54) 1.532; difference t -.143, p .887.
    """
    se = np.sqrt(8.05**2 / 61 + 7.57**2 / 64)
    shift = Shift("blocked", "", 38.97 - 39.17, se, 121.54)
    assert shift.p_value == pytest.approx(0.887, abs=5e-4)
    assert (shift.estimate + 2.344) / se == pytest.approx(1.532, abs=2e-3)  # bound printed to 3 decimals
    assert 1 - stdtr(121.54, (shift.estimate + 2.344) / se) == pytest.approx(0.064, abs=5e-4)
    assert judge(shift, LAP_TIME, 2.344, 0.95).verdict == "not settled"  # p .064 > .05: not equivalent
    assert judge(shift, LAP_TIME, 2.344, 0.93).verdict == "no worthwhile difference"  # .064 < .07


def test_history_needs_three_adjusted_differences():
    assert shift_of("AABB", history=History((0.1, 0.2), 2.0)).dof == 3
