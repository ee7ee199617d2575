"""Between-session variance, REML, Knapp-Hartung and Paule-Mandel against other people's numbers."""

import importlib.util
import json
from pathlib import Path

import numpy as np
import pytest
from scipy.special import stdtr

from lapdelta.effect.scale import knapp_hartung, least_squares, paule_mandel_tau2, reml_tau2

#: Thirteen trials of BCG vaccine against tuberculosis: cases and group totals, vaccinated and not;
#: Colditz et al. 1994, as distributed in R package HSAUR (data set BCG).
BCG = np.array(
    [
        (4, 123, 11, 139), (6, 306, 29, 303), (3, 231, 11, 220), (62, 13598, 248, 12867),
        (33, 5069, 47, 5808), (180, 1541, 372, 1451), (8, 2545, 10, 629), (505, 88391, 499, 88391),
        (29, 7499, 45, 7277),
        (17, 1716, 65, 1665), (186, 50634, 141, 27338), (5, 2498, 3, 2341), (27, 16913, 29, 17854),
    ],
    float,
)  # fmt: skip
LATITUDE = np.array([44, 55, 42, 52, 13, 44, 19, 13, 27, 42, 18, 33, 33], float)


def bcg():
    a, n1, c, n2 = BCG.T
    return np.log((a / n1) / (c / n2)), 1 / a - 1 / n1 + 1 / c - 1 / n2


def test_bcg_reml_and_knapp_hartung():
    y, v = bcg()
    X = np.ones((13, 1))
    tau2 = reml_tau2(X, y, v)
    plain = least_squares(X, y, 1 / (v + tau2))
    # manual of R package metafor, from memory, recomputed: four printed decimals, so half a unit of them
    assert tau2 == pytest.approx(0.3132, abs=5e-5)
    assert plain.coefficients[0] == pytest.approx(-0.7145, abs=5e-5)
    assert np.sqrt(plain.unscaled_covariance[0, 0]) == pytest.approx(0.1798, abs=5e-5)
    beta, se, dof = knapp_hartung(X, y, v, tau2, floor=0.0)
    # computed independently for this test, not printed anywhere
    assert dof == 12
    assert se[0] == pytest.approx(0.1808, abs=5e-5)
    assert beta[0] / se[0] == pytest.approx(-3.952, abs=5e-4)


def test_bcg_on_latitude():
    y, v = bcg()
    X = np.column_stack([np.ones(13), LATITUDE])
    tau2 = reml_tau2(X, y, v)
    fit = least_squares(X, y, 1 / (v + tau2))
    # metafor's manual, from memory: .0764; exact is .07635, the printed one carries the stopping rule's slack
    assert tau2 == pytest.approx(0.0764, abs=3e-4)
    assert fit.coefficients == pytest.approx([0.2515, -0.0291], abs=3e-4)
    assert np.sqrt(np.diag(fit.unscaled_covariance)) == pytest.approx([0.2491, 0.0072], abs=3e-4)


def reference():
    """R metafor 4.6.0 results, pinned in the test data of PyMARE 0.0.13 (MIT)."""
    # found, not imported: the package's import leaves a file open, and takes seconds
    spec = importlib.util.find_spec("pymare")
    folder = Path(spec.submodule_search_locations[0]) / "tests" / "data"
    table = (folder / "metafor_small_sample.csv").read_text().split()
    designs: dict[str, list[list[float]]] = {}
    for line in table[1:]:
        name, *numbers = line.split(",")
        designs.setdefault(name, []).append([float(number) for number in numbers])
    cases = json.loads((folder / "metafor_reference.json").read_text())["cases"]
    chosen = [case for case in cases if case["method"] == "REML" and case["test"] in ("knha", "adhoc")]
    return {name: np.array(rows) for name, rows in designs.items()}, chosen


DESIGNS, CASES = reference()


def test_reference_file_holds_the_cases():
    assert len(CASES) == 24


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case['design']}-{case['model']}-{case['test']}")
def test_reml_against_metafor(case):
    y, v, one, two = DESIGNS[case["design"]].T
    columns = [np.ones(len(y)), one, two][: {"intercept": 1, "one": 2, "two": 3}[case["model"]]]
    X = np.column_stack(columns)
    tau2 = reml_tau2(X, y, v)
    floor = 1.0 if case["test"] == "adhoc" else 0.0
    beta, se, dof = knapp_hartung(X, y, v, tau2, floor)
    # 5e-5: metafor stops at a step of 1e-5 in tau^2; the numbers themselves are printed in full
    assert tau2 == pytest.approx(case["tau2"], abs=5e-5, rel=5e-5)
    assert beta == pytest.approx(case["beta"], abs=5e-5)
    assert se == pytest.approx(case["se"], abs=5e-5)
    assert dof == case["dof"]
    assert 2 * stdtr(dof, -np.abs(beta / se)) == pytest.approx(case["pval"], abs=5e-5)


def test_grid_finds_the_higher_of_two_maxima():
    """extreme_k10 on one moderator has two modes under ML (metafor stops at the lower, tau^2 = 0)."""
    y, v, one, _ = DESIGNS["extreme_k10"].T
    X = np.column_stack([np.ones(len(y)), one])
    tau2 = reml_tau2(X, y, v)

    def restricted(t):
        w = 1 / (v + t)
        normal = X.T @ (w[:, None] * X)
        r = y - X @ np.linalg.solve(normal, X.T @ (w * y))
        return (-np.log(w).sum() + np.linalg.slogdet(normal)[1] + (w * r**2).sum()) / 2

    dense = np.concatenate([[0], np.geomspace(1e-6, 10, 4000)])
    assert restricted(tau2) <= min(restricted(t) for t in dense) + 1e-9  # no point of a dense grid is better


def test_paule_mandel_of_kacker():
    # Kacker 2004, table 1, as in statsmodels' own tests: tau .8399, four decimals
    y = np.array([61.00, 61.40, 62.21, 62.30, 62.34, 62.60, 62.70, 62.84, 65.90])
    v = np.array([0.2025, 1.2100, 0.0900, 0.2025, 0.3844, 0.5625, 0.0676, 0.0225, 1.8225])
    tau2 = paule_mandel_tau2(y[None], np.ones((1, 9)), v[None], np.ones((1, 9)))
    assert np.sqrt(tau2[0]) == pytest.approx(0.8399, abs=5e-5)


@pytest.mark.parametrize("case", CASES[:4], ids=lambda case: case["design"])
def test_paule_mandel_solves_its_equation(case):
    """By definition: the weighted squares about the weighted mean equal n - 1, or tau^2 is 0."""
    y, v, *_ = DESIGNS[case["design"]].T
    tau2 = paule_mandel_tau2(y[None], np.ones((1, len(y))), v[None], np.ones((1, len(y))))[0]
    w = 1 / (v + tau2)
    excess = (w * (y - (w * y).sum() / w.sum()) ** 2).sum() - (len(y) - 1)
    assert excess == pytest.approx(0, abs=1e-6) or (tau2 == 0 and excess < 0)
