"""Linear regression, analysis of variance and univariate summaries against NIST's certified values.

NIST Statistical Reference Datasets (US government work). Norris and the analysis-of-variance sets come
with scipy's own tests; the univariate series are in tests/data/nist_univariate.json.
"""

import importlib.resources
import json
from pathlib import Path

import numpy as np
import pytest

from lapdelta.effect.arrays import masked_median, masked_quantile
from lapdelta.effect.scale import least_squares

SERIES = json.loads((Path(__file__).parent.parent / "data" / "nist_univariate.json").read_text())
SCIPY = importlib.resources.files("scipy") / "stats" / "tests" / "data"


def numbers_after(text, start):
    return np.array([[float(x) for x in line.split()] for line in text.splitlines()[start:] if line.strip()])


def test_norris():
    rows = numbers_after((SCIPY / "nist_linregress" / "Norris.dat").read_text(), 60)
    y, x = rows.T
    fit = least_squares(np.column_stack([np.ones(36), x]), y)
    # certified to 15 digits; 1e-11 leaves room for the conditioning of uncentred float64
    assert fit.coefficients == pytest.approx([-0.262323073774029, 1.00211681802045], rel=1e-11)
    assert fit.standard_errors == pytest.approx([0.232818234301152, 0.000429796848199937], rel=1e-11)
    assert np.sqrt(fit.residual_squares / fit.dof) == pytest.approx(0.884796396144373, rel=1e-11)


@pytest.mark.parametrize(
    ("name", "certified", "digits"),
    [("AtmWtAg", 15.9467335677930, 1e-8), ("SiRstv", 1.18046237440255, 1e-10), ("SmLs01", 21.0, 1e-9),
     ("SmLs04", 21.0, 1e-6)],
)  # fmt: skip
def test_analysis_of_variance_as_least_squares(name, certified, digits):
    """F of a one-way layout from two least-squares fits; SmLs04 has 7 leading digits to lose."""
    rows = numbers_after((SCIPY / "nist_anova" / f"{name}.dat").read_text(), 60)
    group, y = rows.T
    levels = np.unique(group)
    X = (group[:, None] == levels).astype(float)
    y = y - y.mean()  # a constant leaves F unchanged and its digits to the differences
    full, none = least_squares(X, y), least_squares(np.ones((len(y), 1)), y)
    between = (none.residual_squares - full.residual_squares) / (len(levels) - 1)
    assert between / (full.residual_squares / full.dof) == pytest.approx(certified, rel=digits)


@pytest.mark.parametrize(
    ("name", "mean", "sd", "lag_one"),
    [
        ("Lew", -177.435, 277.332168044316, -0.307304800605679),
        ("Lottery", 518.958715596330, 291.699727470969, -0.120948622967393),
        ("Mavro", 2.001856, 0.000429123454003053, 0.937989183438248),
    ],
)
def test_univariate_series(name, mean, sd, lag_one):
    """Mean and sd as a fit of a constant; lag-1 r as the slope through the origin on the same sums."""
    y = np.array(SERIES[name]["data"])
    fit = least_squares(np.ones((len(y), 1)), y)
    assert fit.coefficients[0] == pytest.approx(mean, rel=1e-13)
    assert np.sqrt(fit.residual_squares / fit.dof) == pytest.approx(sd, rel=1e-11)  # Mavro: 4 leading digits
    d = y - y.mean()
    assert d[1:] @ d[:-1] / (d @ d) == pytest.approx(lag_one, rel=1e-10)
    every = np.ones(len(y), bool)
    assert masked_median(y, every) == np.median(y)
    for q in (0.1, 0.25, 0.75):
        assert masked_quantile(y, every, q) == pytest.approx(np.quantile(y, q), rel=1e-14)


def test_dependent_columns_are_refused():
    with pytest.raises(ValueError, match="not independent"):
        least_squares(np.ones((5, 2)), np.arange(5.0))
