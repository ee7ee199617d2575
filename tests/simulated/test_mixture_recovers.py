"""The mixture gives back what laps were drawn from: pace, scatter, warm-up, class terms, delays (seeded)."""

import numpy as np
import pytest

from lapdelta.effect.mixture import CLASS_PRIOR, WARM_UP_PRIOR, Mixture, fit_mixture

KARTS, SESSIONS, LAPS = 8, 6, 24
WARM_UP_S = np.array([0.50, 0.25, 0.10])
CLASS_TERM_S = np.array([0.0, -0.08, 0.10, 0.15, 0.06])
SHARE = np.array([0.05, 0.10, 0.25, 0.30, 0.10])
LOSS_S = np.array([0.6, 0.5, 0.6, 0.8, 0.5])
SIGMA_S = np.linspace(0.05, 0.15, KARTS)


def drawn(seed: int, share: np.ndarray = SHARE) -> tuple[Mixture, np.ndarray]:
    """A fit of one stretch, and the paces that it was drawn with."""
    rng = np.random.default_rng(seed)
    shape = (KARTS, SESSIONS, LAPS)
    pace = 20 + rng.normal(0, 0.3, (KARTS, SESSIONS))
    position = np.broadcast_to(np.arange(2, LAPS + 2), shape)
    met = rng.choice(5, shape, p=[0.6, 0.1, 0.1, 0.1, 0.1])
    late = rng.random(shape) < share[met]
    time_s = pace[..., None] + SIGMA_S[:, None, None] * rng.normal(size=shape) + CLASS_TERM_S[met]
    time_s += np.where(position <= 4, WARM_UP_S[np.clip(position - 2, 0, 2)], 0.0)
    time_s += np.where(late, rng.exponential(LOSS_S[met]), 0.0)
    kept = np.ones(shape, bool)
    return fit_mixture(time_s[None], kept, position, met[None], 0.05), pace


@pytest.fixture(scope="module")
def fits() -> list[tuple[Mixture, np.ndarray]]:
    return [drawn(seed) for seed in range(4)]


def test_pace(fits: list[tuple[Mixture, np.ndarray]]) -> None:
    away = np.concatenate([(found.pace_s[0] - pace).ravel() for found, pace in fits])
    assert abs(away.mean()) < 0.015
    assert away.std() < 0.05  # sigma/sqrt(24 laps) is .02; delays and terms cost the rest


def test_scatter_of_each_kart(fits: list[tuple[Mixture, np.ndarray]]) -> None:
    found = np.mean([found.sigma_s[0] for found, _ in fits], axis=0)
    assert found == pytest.approx(SIGMA_S, rel=0.15)


def test_warm_up_and_class_terms(fits: list[tuple[Mixture, np.ndarray]]) -> None:
    """Drawn to 0 by their priors: n/(n + prior) of what is there."""
    warm_up = np.mean([found.warm_up_s[0] for found, _ in fits], axis=0)
    laps = KARTS * SESSIONS
    assert warm_up == pytest.approx(WARM_UP_S * laps / (laps + WARM_UP_PRIOR), abs=0.03)
    term = np.mean([found.class_term_s[0] for found, _ in fits], axis=0)
    laps = 0.1 * KARTS * SESSIONS * LAPS
    assert term == pytest.approx(CLASS_TERM_S * laps / (laps + CLASS_PRIOR), abs=0.04)
    assert term[0] == 0.0


def test_delays(fits: list[tuple[Mixture, np.ndarray]]) -> None:
    """The rounds are few on purpose: a share that starts far away (.8 of the stopped) has come half of the way."""
    share = np.mean([found.share[0] for found, _ in fits], axis=0)
    told = [0, 1, 2, 4]
    assert share[told] == pytest.approx(SHARE[told], abs=0.08)
    assert SHARE[3] < share[3] < 0.6
    assert np.mean([found.mean_loss_s[0] for found, _ in fits], axis=0) == pytest.approx(LOSS_S, abs=0.3)


def test_a_lap_that_may_be_delayed_is_worth_less_than_a_clean_one() -> None:
    clean, held_up = drawn(7, np.zeros(5))[0], drawn(7, np.full(5, 0.5))[0]
    assert (clean.information > 0.75).all()
    assert (clean.information <= 1.0).all()
    assert (held_up.information < clean.information).all()
    assert held_up.information.mean() < 0.65
