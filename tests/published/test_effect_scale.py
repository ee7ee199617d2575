"""The between-session variance where it has a closed form, and the searches that find it."""

import numpy as np
import pytest

from lapdelta.effect.scale import (
    FINE,
    QUICK,
    knapp_hartung,
    least_squares,
    minimise_tau2,
    paule_mandel_tau2,
    reml_tau2,
    restricted_criterion,
)

#: Made up for this test: eight paces of equal noise.
Y = np.array([0.31, -0.12, 0.05, 0.44, -0.28, 0.19, -0.40, 0.02])
NOISE = 0.01
ONES = np.ones((8, 1))


def test_with_equal_noise_tau2_is_what_the_sample_variance_leaves():
    """Searle, Casella & McCulloch 1992 (from memory), balanced data: REML is the sample variance minus the noise."""
    v = np.full(8, NOISE)
    assert reml_tau2(ONES, Y, v) == pytest.approx(Y.var(ddof=1) - NOISE, rel=1e-6)
    assert paule_mandel_tau2(Y[None], np.ones((1, 8)), v[None], np.ones((1, 8)))[0] == pytest.approx(
        Y.var(ddof=1) - NOISE
    )
    assert reml_tau2(ONES, Y, np.full(8, 1.0)) == 0  # less scatter than noise alone would make


def test_a_history_adds_its_degrees_of_freedom():
    """Equal noise: tau^2 + v is the mean of both variances, weighted by 7 and nu0 degrees of freedom."""
    for nu0, s2 in ((8.0, 0.25), (3.5, 0.04), (30.0, 0.02)):
        expected = (7 * Y.var(ddof=1) + nu0 * s2) / (7 + nu0) - NOISE
        found = reml_tau2(ONES, Y, np.full(8, NOISE), (nu0, s2, NOISE))
        assert found == pytest.approx(expected, rel=1e-6)


def test_where_the_day_says_nothing_the_history_is_all():
    """Two cells, two columns: nothing is left over, and tau^2 + v is the history's variance."""
    X = np.array([[1.0, 0.0], [1.0, 1.0]])
    found = reml_tau2(X, np.array([0.1, 0.4]), np.full(2, NOISE), (6.0, 0.09, NOISE))
    assert found == pytest.approx(0.09 - NOISE, rel=1e-6)


@pytest.mark.parametrize(("search", "near", "far"), [(FINE, 1e-6, 900.0), (QUICK, 2e-2, 9.0)])
def test_the_searches_find_the_lowest_point_over_powers_of_ten(search, near, far):
    """A batch: log T + a/T has its lowest point at T = a, so tau^2 = a - v; below v it is 0."""
    lowest = np.array([1e-3, 0.02, 0.5, 7.0, far, 0.0002])
    scale = np.full(6, 0.001)

    def criterion(tau2):
        total = tau2 + scale[:, None]
        return np.log(total) + lowest[:, None] / total

    found = minimise_tau2(criterion, scale, search)
    assert found[1:5] == pytest.approx(lowest[1:5] - 0.001, rel=near)
    assert found[0] == pytest.approx(0, abs=1e-6)
    assert found[5] == 0


def test_a_problem_does_not_feel_the_others_of_its_batch():
    rng = np.random.default_rng(4)
    z, noise = rng.normal(0, 0.2, (5, 7)), rng.uniform(0.001, 0.05, (5, 7))
    size, valid = rng.uniform(1, 2, (5, 7)), (rng.random((5, 7)) < 0.8).astype(float)
    whole = paule_mandel_tau2(z, size, noise, valid)
    for b in range(5):
        used = valid[b] > 0
        alone = paule_mandel_tau2(
            z[b : b + 1, used], size[b : b + 1, used], noise[b : b + 1, used], np.ones((1, used.sum()))
        )
        assert whole[b] == pytest.approx(alone[0], rel=1e-9, abs=1e-15)
        w = 1 / (whole[b] * size[b, used] + noise[b, used])
        squares = (w * (z[b, used] - (w * z[b, used]).sum() / w.sum()) ** 2).sum()
        assert squares == pytest.approx(used.sum() - 1, rel=1e-6) or (
            whole[b] == 0 and squares < used.sum() - 1
        )
    missing = np.where(valid > 0, z, np.nan)
    assert paule_mandel_tau2(missing, size, np.where(valid > 0, noise, np.nan), valid) == pytest.approx(whole)


def test_criterion_is_minus_the_restricted_likelihood():
    """Patterson & Thompson 1971: minus the log density of contrasts that no mean can change, up to a constant.

    The contrasts are an orthonormal basis of what is left of the columns (Harville 1974, from memory).
    """
    rng = np.random.default_rng(2)
    X, v = np.column_stack([np.ones(6), rng.normal(size=6)]), rng.uniform(0.01, 0.1, 6)
    y = rng.normal(0, 0.4, 6)
    basis = np.linalg.svd(X)[0][:, 2:]
    tau2 = np.array([0.0, 0.01, 0.1, 1.0])

    def density(t):
        covariance = basis.T @ np.diag(v + t) @ basis
        left = basis.T @ y
        return (np.linalg.slogdet(covariance)[1] + left @ np.linalg.solve(covariance, left)) / 2

    expected = np.array([density(t) for t in tau2])
    found = restricted_criterion(X, y, v)(tau2)
    assert found - found[0] == pytest.approx(expected - expected[0], abs=1e-9)
    with_history = restricted_criterion(X, y, v, (4.0, 0.3, 0.05))(tau2)
    assert with_history - found == pytest.approx(2 * (np.log(0.05 + tau2) + 0.3 / (0.05 + tau2)))


def test_columns_that_repeat_each_other_are_refused():
    X = np.column_stack([np.ones(5), np.arange(5.0), 2 + 3 * np.arange(5.0)])
    with pytest.raises(ValueError, match="not independent"):
        least_squares(X, np.arange(5.0))
    with pytest.raises(ValueError, match="not independent"):
        least_squares(X[:2, :], np.arange(2.0))


def test_weights_are_inverse_variances():
    """The weighted mean sum(w y)/sum(w), its variance 1/sum(w), and the weighted squares about it."""
    w = np.array([1.0, 4.0, 9.0, 2.0, 3.0, 1.0, 5.0, 2.0])
    found = least_squares(ONES, Y, w)
    mean = (w * Y).sum() / w.sum()
    assert found.coefficients[0] == pytest.approx(mean)
    assert found.unscaled_covariance[0, 0] == pytest.approx(1 / w.sum())
    assert found.residual_squares == pytest.approx((w * (Y - mean) ** 2).sum())
    assert found.dof == 7
    assert found.standard_errors[0] == pytest.approx(np.sqrt(found.residual_squares / 7 / w.sum()))


def test_the_scale_never_shrinks_below_the_models_own_error():
    """Less scatter than the noise: with the floor 1 the error is that of the noise, without it smaller."""
    v = np.full(8, 1.0)
    _, floored, dof = knapp_hartung(ONES, Y, v, 0.0)
    _, free, _ = knapp_hartung(ONES, Y, v, 0.0, floor=0.0)
    assert dof == 7
    assert floored[0] == pytest.approx(np.sqrt(1 / 8))
    assert free[0] == pytest.approx(np.sqrt(Y.var(ddof=1) / 8))
