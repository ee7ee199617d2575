"""t, F and chi-squared: printed tables, and scipy.special as the referee over the whole range that is met."""

import itertools
import math

import pytest
from scipy import special

from lapdelta.effect.distributions import (
    chi2_above,
    chi2_exceeded,
    f_above,
    f_quantile,
    t_below,
    t_quantile,
)

DOFS = (1.0, 1.3, 2.0, 3.7, 10.0, 34.0, 272.1, 5000.0, 2e6)


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


@pytest.mark.parametrize("dof", DOFS)
def test_t(dof):
    for x in (-30.0, -4.1, -1.0, -0.3, -1e-6, 0.0, 0.02, 0.7, 2.0, 12.0):
        assert t_below(dof, x) == pytest.approx(special.stdtr(dof, x), rel=1e-10, abs=1e-300)
    for p in (1e-9, 0.003, 0.025, 0.3, 0.4999, 0.5, 0.6, 0.95, 0.975, 0.9995):
        assert t_quantile(dof, p) == pytest.approx(special.stdtrit(dof, p), rel=1e-9, abs=1e-12)
        assert t_below(dof, t_quantile(dof, p)) == pytest.approx(p, rel=1e-10)


def test_f():
    for one, other in itertools.product(DOFS, DOFS):
        for x in (1e-4, 0.2, 1.0, 3.3, 40.0):
            assert f_above(one, other, x) == pytest.approx(special.fdtrc(one, other, x), rel=1e-9, abs=1e-280)
        for p in (0.01, 0.5, 0.9, 0.95, 0.999):
            found = f_quantile(one, other, p)
            assert found == pytest.approx(special.fdtri(one, other, p), rel=1e-8)
            assert 1 - f_above(one, other, found) == pytest.approx(p, rel=1e-9)


@pytest.mark.parametrize("dof", [*DOFS[:-1], 0.6])
def test_chi_squared(dof):
    for share in (0.01, 0.3, 1.0, 1.4, 3.0):
        assert chi2_above(dof, share * dof) == pytest.approx(
            special.chdtrc(dof, share * dof), rel=1e-9, abs=1e-280
        )
    for p in (1e-6, 0.025, 0.5, 0.975, 0.9999):
        found = chi2_exceeded(dof, p)
        assert found == pytest.approx(special.chdtri(dof, p), rel=1e-8)
        assert chi2_above(dof, found) == pytest.approx(p, rel=1e-9)


def test_ends():
    assert t_below(5, math.inf) == 1
    assert t_below(5, -math.inf) == 0
    assert math.isnan(t_below(5, math.nan))
    assert t_quantile(5, 1.0) == math.inf
    assert f_above(3, 4, 0.0) == 1
    assert f_above(3, 4, math.inf) == 0
    assert chi2_above(3, 0.0) == 1
