"""Longley, Wampler and all eleven analysis-of-variance sets of NIST against our least squares.

NIST Statistical Reference Datasets (US government work). Longley's data come with statsmodels, the
analysis-of-variance sets with scipy's tests; Wampler's are generated here by NIST's own rule.
"""

import importlib.resources

import numpy as np
import pytest
from statsmodels.datasets import longley

from lapdelta.effect.scale import least_squares

SCIPY = importlib.resources.files("scipy") / "stats" / "tests" / "data"


def test_longley():
    """Six nearly dependent columns; certified values to 15 digits, as printed by NIST."""
    table = longley.load_pandas().data
    y = table["TOTEMP"].to_numpy(float)
    X = np.column_stack([np.ones(16), table.drop(columns="TOTEMP").to_numpy(float)])
    fit = least_squares(X, y)
    certified = [-3482258.63459582, 15.0618722713733, -0.358191792925910e-01, -2.02022980381683,
                 -1.03322686717359, -0.511041056535807e-01, 1829.15146461355]  # fmt: skip
    errors = [890420.383607373, 84.9149257747669, 0.334910077722432e-01, 0.488399681651699,
              0.214274163161675, 0.226073200069370, 455.478499142212]  # fmt: skip
    # condition number about 5e9, so some seven of sixteen digits are lost
    assert fit.coefficients == pytest.approx(certified, rel=1e-8)
    assert fit.standard_errors == pytest.approx(errors, rel=1e-8)
    assert np.sqrt(fit.residual_squares / fit.dof) == pytest.approx(304.854073561965, rel=1e-9)
    total = ((y - y.mean()) ** 2).sum()
    assert 1 - fit.residual_squares / total == pytest.approx(0.995479004577296, rel=1e-11)
    ratio = (total - fit.residual_squares) / 6 / (fit.residual_squares / fit.dof)
    assert ratio == pytest.approx(330.285339234588, rel=1e-9)


X_WAMPLER = np.arange(21.0)
POLYNOMIAL = X_WAMPLER[:, None] ** np.arange(6)
#: y of Wampler 3: the sum of the powers plus this; 100 times of it in Wampler 4, 10000 times in Wampler 5.
DELTA = (
    np.array([760, -2042, 2111, -1684, 3888, 1858, 11379, 17560, 39287, 64382, 113159, 175108, 273291,
              400186, 581243, 811568, 1121004, 1506550, 2002767, 2611612, 3369180])
    - POLYNOMIAL.sum(axis=1)
)  # fmt: skip
#: Certified standard errors of Wampler 3.
ERRORS = np.array([2152.32624678170, 2363.55173469681, 779.343524331583, 101.475507550350, 5.64566512170752,
                   0.112324854679312])  # fmt: skip


@pytest.mark.parametrize("base", [1.0, 0.1], ids=["Wampler 1", "Wampler 2"])
def test_wampler_without_scatter(base):
    """A polynomial of degree five that fits exactly: coefficients 1 (Wampler 1), 10^-k (Wampler 2)."""
    certified = base ** np.arange(6)
    fit = least_squares(POLYNOMIAL, POLYNOMIAL @ certified)
    assert fit.coefficients == pytest.approx(
        certified, rel=1e-7
    )  # condition number 6e6: nine digits are left
    assert np.sqrt(fit.residual_squares / fit.dof) < 1e-8  # certified 0


@pytest.mark.parametrize("times", [1, 100, 10_000], ids=["Wampler 3", "Wampler 4", "Wampler 5"])
def test_wampler_with_scatter(times):
    """The scatter is at right angles to the polynomial, so every coefficient stays 1."""
    fit = least_squares(POLYNOMIAL, POLYNOMIAL.sum(axis=1) + times * DELTA)
    # what rounding leaves of a coefficient is a share of the size of y, so it grows with the scatter
    assert fit.coefficients == pytest.approx(np.ones(6), abs=2e-8 * times)
    assert fit.standard_errors == pytest.approx(times * ERRORS, rel=1e-12)
    assert np.sqrt(fit.residual_squares / fit.dof) == pytest.approx(times * 2360.14502379268, rel=1e-12)


# certified F; tolerance by the leading digits that the set makes float64 lose (NIST: constant leading
# digits 3, 7 and 13 in SmLs01-03, 04-06 and 07-09; 13 of 16 leave three)
@pytest.mark.parametrize(
    ("name", "certified", "tolerance"),
    [
        ("AtmWtAg", 15.9467335677930, 1e-9), ("SiRstv", 1.18046237440255, 1e-11),
        ("SmLs01", 21, 1e-10), ("SmLs02", 201, 1e-10), ("SmLs03", 2001, 1e-10),
        ("SmLs04", 21, 1e-7), ("SmLs05", 201, 1e-7), ("SmLs06", 2001, 1e-7),
        ("SmLs07", 21, 1e-3), ("SmLs08", 201, 1e-3), ("SmLs09", 2001, 1e-3),
    ],
)  # fmt: skip
def test_analysis_of_variance(name, certified, tolerance):
    """One-way layout with a weight for each mean, as a balanced set allows: means against the grand mean."""
    lines = (SCIPY / "nist_anova" / f"{name}.dat").read_text().splitlines()[60:]
    group, y = np.array([line.split() for line in lines if line.strip()], float).T
    levels, place = np.unique(group, return_inverse=True)
    first = y[0]
    away = y - first  # the difference of two near numbers is exact: what is left of the digits is kept
    cells = [
        least_squares(np.ones((int((place == i).sum()), 1)), away[place == i]) for i in range(len(levels))
    ]
    means, sizes = np.array([c.coefficients[0] for c in cells]), np.array([c.dof + 1.0 for c in cells])
    between = least_squares(np.ones((len(levels), 1)), means, sizes)
    within = sum(c.residual_squares for c in cells) / sum(c.dof for c in cells)
    assert between.residual_squares / between.dof / within == pytest.approx(certified, rel=tolerance)
