"""The mixture's parts against a reference library and numerical integration, and a small case worked by hand.

The normal plus exponential is the exponentially modified normal, ``scipy.stats.exponnorm``; the expected loss
is integrated with ``scipy.integrate.quad``. The worked case is our own arithmetic, not published anywhere.
"""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import expon, exponnorm, norm

from lapdelta.effect.mills import inverse_mills
from lapdelta.effect.mixture import _delays, _flat, _start, fit_mixture

#: Two cells of one kart, s.
ONE_STRETCH = [
    [60.10, 60.22, 59.95, 60.05, 61.40, 60.18, 60.02, 60.12],
    [60.30, 60.41, 60.25, 62.00, 60.35, 60.28, 60.90, 60.33],
]
SHAPE = (1, 1, 2, 8)
NO_WARM_UP = np.tile(np.arange(5, 13), (1, 2, 1))  # positions past the warm-up
ALL_KEPT = np.ones(SHAPE[1:], bool)


def fit(y, traffic):
    return fit_mixture(np.reshape(y, SHAPE), ALL_KEPT, NO_WARM_UP, np.reshape(traffic, SHAPE), 0.05)


def test_chance_and_size_of_a_delay():
    """Bayes' rule with the library's densities; the loss by integration over what it could have been."""
    y = np.array(ONE_STRETCH)
    laps = _flat(y.reshape(SHAPE), ALL_KEPT, NO_WARM_UP, np.zeros(SHAPE, int))
    state = _start(y.reshape(SHAPE), ALL_KEPT)
    s, p, m = state.s[0], state.p[0, 0], state.m[0, 0]
    rest = (y - np.median(y, axis=1, keepdims=True)).ravel()
    found = _delays(laps, state, rest)
    delayed, clean = p * exponnorm.pdf(rest, m / s, scale=s), (1 - p) * norm.pdf(rest, scale=s)
    assert found.late == pytest.approx(delayed / (delayed + clean), rel=1e-9)
    for i, r in enumerate(rest):
        moments = [
            quad(
                lambda x, k=k, r=r: x**k * expon.pdf(x, scale=m) * norm.pdf(r - x, scale=s), 0, 4, points=[r]
            )[0]
            for k in (0, 1, 2)
        ]
        assert found.loss[i] == pytest.approx(found.late[i] * moments[1] / moments[0], rel=1e-6)
        assert found.square[i] == pytest.approx(found.late[i] * moments[2] / moments[0], rel=1e-6)


def test_ratio_of_density_to_distribution_function():
    """phi(a)/Phi(a) by the library's logarithms, on the table's nodes, between them, at its ends and beyond."""
    a = np.concatenate([np.linspace(-60, 9, 40_011), [-16.0, -16.001, -15.999]])
    expected = np.exp(norm.logpdf(a) - norm.logcdf(a))
    assert inverse_mills(a) == pytest.approx(expected, rel=2e-12, abs=1e-12)
    assert inverse_mills(np.array([10.0, 40.0, 1e6])) == pytest.approx(0, abs=1e-21)
    assert inverse_mills(np.array([])).size == 0


@pytest.mark.parametrize("away", [-30.0, -3.0, 0.0, 4.0, 1e4])
def test_far_out_laps_stay_finite(away):
    """A lap a hundred scales too quick, or an hour long, breaks nothing."""
    y = np.array(ONE_STRETCH)
    y[0, 0] += away
    found = fit(y, np.zeros(SHAPE, int))
    assert np.isfinite(found.pace_s).all()
    assert np.isfinite(found.sigma_s).all()
    assert (found.information > 0).all()
    assert (found.information <= 1).all()


def test_worked_by_hand():
    """All stretches clear; and laps 5, 12 and 15 held up. Four printed decimals."""
    clear = fit(ONE_STRETCH, np.zeros(SHAPE, int))
    assert clear.pace_s.ravel() == pytest.approx([60.0844, 60.3189], abs=6e-5)
    assert clear.sigma_s[0, 0] == pytest.approx(0.0707, abs=6e-5)
    assert clear.sigma_s[0, 0] * np.sqrt(16 / 14) == pytest.approx(0.0755, abs=6e-5)
    traffic = np.zeros(16, int)
    traffic[[4, 11, 14]] = 3
    held = fit(ONE_STRETCH, traffic)
    assert held.pace_s.ravel() == pytest.approx([60.0904, 60.3211], abs=6e-5)
    assert held.sigma_s[0, 0] == pytest.approx(0.0720, abs=6e-5)
    assert held.sigma_s[0, 0] * np.sqrt(16 / 14) == pytest.approx(0.0770, abs=6e-5)


def test_constant_laps_have_that_pace():
    """Nothing scatters: the pace is the constant, and the scale the printed step."""
    found = fit(np.full(16, 50.0), np.zeros(SHAPE, int))
    assert found.pace_s.ravel() == pytest.approx([50, 50], abs=1e-3)
    assert found.sigma_s[0, 0] == pytest.approx(1e-3, rel=0.5)


def test_stretches_and_missing_laps_do_not_mix():
    """Three stretches at once are three fits; a lap that is not kept may hold anything."""
    rng = np.random.default_rng(8)
    shape = (3, 2, 3, 9)
    y = 20 + rng.normal(0, 0.1, shape) + (rng.random(shape) < 0.3) * rng.exponential(0.6, shape)
    traffic = rng.integers(0, 5, shape)
    kept = rng.random(shape[1:]) < 0.8
    kept[1, 2] = False  # a cell without laps
    position = np.broadcast_to(np.arange(2, 11), shape[1:])
    whole = fit_mixture(y, kept, position, traffic, 0.05)
    other = fit_mixture(np.where(kept, y, 7.0), kept, position, np.where(kept, traffic, 4), 0.05)
    for name in ("pace_s", "sigma_s", "information", "share", "mean_loss_s", "class_term_s", "warm_up_s"):
        found = getattr(whole, name)
        assert np.array_equal(found, getattr(other, name), equal_nan=True)
        for q in range(3):
            alone = fit_mixture(y[q : q + 1], kept, position, traffic[q : q + 1], 0.05)
            if alone.rounds == whole.rounds:
                assert getattr(alone, name)[0] == pytest.approx(found[q], abs=1e-9, nan_ok=True)
    assert np.isnan(whole.pace_s[:, 1, 2]).all()
    assert np.isfinite(whole.pace_s).sum() == 3 * 5
    assert whole.rounds == 20


def test_recovers_what_the_laps_were_made_from():
    """Many laps of the model itself: paces, scale, share and mean of the delays, warm-up, come back."""
    rng = np.random.default_rng(9)
    shape = (1, 4, 5, 60)
    position = np.broadcast_to(np.arange(2, 62), shape[1:])
    traffic = np.where(rng.random(shape) < 0.3, 3, 0)
    pace, warm = 30 + rng.normal(0, 0.3, (4, 5)), np.zeros(60)
    warm[:3] = 0.15, 0.1, 0.05
    late = rng.random(shape) < np.where(traffic == 3, 0.7, 0.1)
    y = pace[..., None] + warm + rng.normal(0, 0.1, shape) + late * rng.exponential(0.5, shape)
    found = fit_mixture(y, np.ones(shape[1:], bool), position, traffic, 0.05)
    assert found.pace_s[0] == pytest.approx(pace, abs=5 * 0.1 / np.sqrt(50))
    assert found.sigma_s == pytest.approx(np.full((1, 4), 0.1), rel=0.2)
    assert found.share[0, [0, 3]] == pytest.approx([0.1, 0.7], abs=0.08)
    assert found.mean_loss_s[0, 3] == pytest.approx(
        0.5, rel=0.15
    )  # of class 0 few delays stand out of the noise
    assert found.warm_up_s[0] == pytest.approx([0.15, 0.1, 0.05], abs=0.08)
    lost = found.share[0, 3] * found.mean_loss_s[0, 3] + found.class_term_s[0, 3]
    assert lost == pytest.approx(0.7 * 0.5, abs=0.05)
