"""t, F and chi-squared: printed tables, and the ends of their ranges."""

import math

import pytest

from lapdelta.effect.distributions import (
    chi2_above,
    chi2_exceeded,
    f_above,
    f_quantile,
    t_below,
    t_quantile,
)


@pytest.mark.parametrize(
    ("found", "printed"),
    [
        # NIST/SEMATECH e-Handbook of Statistical Methods 1.3.6.7.2 to 1.3.6.7.4, from memory
        (t_quantile(10, 0.975), 2.228),
        (t_quantile(1, 0.975), 12.706),
        (t_quantile(math.inf, 0.975), 1.960),
        (f_quantile(3, 10, 0.95), 3.708),
        (f_quantile(1, 1, 0.95), 161.448),
        (chi2_exceeded(10, 0.05), 18.307),
        (chi2_exceeded(1, 0.05), 3.841),
        (chi2_exceeded(10, 0.95), 3.940),
    ],
)
def test_printed_tables(found, printed):
    assert round(found, 3) == printed


def test_quantiles_and_tails_are_each_others_inverse():
    for dof in (1.0, 3.7, 34.0, 5000.0):
        assert t_below(dof, t_quantile(dof, 0.9)) == pytest.approx(0.9, rel=1e-9)
        assert f_above(dof, 7.0, f_quantile(dof, 7.0, 0.9)) == pytest.approx(0.1, rel=1e-9)
        assert chi2_above(dof, chi2_exceeded(dof, 0.1)) == pytest.approx(0.1, rel=1e-9)


def test_ends():
    assert t_below(5, math.inf) == 1
    assert t_below(5, -math.inf) == 0
    assert math.isnan(t_below(5, math.nan))
    assert f_above(3, 4, 0.0) == 1
    assert f_above(3, 4, math.inf) == 0
    assert chi2_above(3, 0.0) == 1
