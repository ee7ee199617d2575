"""A plan's noise from several days: pooling by degrees of freedom, and the F ratio that keeps unlike days apart.

F at 5 %, from any printed table: F(10, 10) 2.98 (one-sided), 3.72 at 2.5 %; F(5, 20) 2.71.
"""

from dataclasses import replace

import pytest

from lapdelta.effect.learned import learn, pooled
from lapdelta.effect.power import Noise


def noise(variance, dof=10.0, source="a day"):
    """Nothing but the wander from session to session, so that its variance is the session's."""
    return Noise(variance**0.5, 0.0, 2.0, source, dof, 8.0)


def test_nothing_known_is_nothing_learned():
    assert learn(None, None, None, 0, 6) is None
    assert learn(None, None, noise(0.01), 2, 6) is None  # two differences are no history


def test_only_our_own_other_days_are_known():
    ours = noise(0.01)
    found = learn(None, None, ours, 3, 6)
    assert (found.noise, found.conflict, found.history_dof) == (ours, "", 0.0)


@pytest.mark.parametrize(("ratio", "apart"), [(3.6, False), (3.8, True), (1 / 3.6, False), (1 / 3.8, True)])
def test_days_that_scatter_unlike_each_other_are_not_pooled(ratio, apart):
    """Two-sided: F(10, 10) is 3.72 at 2.5 %."""
    day, others = noise(0.01 * ratio, source="the day's karts"), noise(0.01)
    found = learn(day, others, None, 0, 6)
    assert found.conflict == ("the day" if apart else "")
    expected = day.session_sd**2 if apart else 0.01 * (ratio + 1) / 2
    assert found.noise.session_sd**2 == pytest.approx(expected)
    assert found.noise.source == "the day's karts"
    assert found.noise.dof == (10 if apart else 20)


@pytest.mark.parametrize(("ratio", "conflict"), [(2.6, ""), (2.8, "our kart"), (0.001, "")])
def test_a_kart_that_wanders_more_than_the_others_stands_for_itself(ratio, conflict):
    """F(5, 20) is 2.71 at 5 %, one-sided: too quiet does no harm. Its own variance counts, the others' over 6."""
    day, others, ours = noise(0.01), noise(0.01), noise(0.01 * ratio, dof=5.0)
    found = learn(day, others, ours, 5, 6)
    assert found.conflict == conflict
    variance = found.noise.session_sd**2
    if conflict:
        assert variance * (1 + 1 / 6) == pytest.approx(0.01 * ratio + 0.01 / 6)
        assert (found.history_dof, found.noise.dof) == (0.0, 5.0)
    else:
        assert variance == pytest.approx((20 * 0.01 + 5 * 0.01 * ratio) / 25)
        assert (found.history_dof, found.noise.dof) == (5.0, 25.0)


def test_without_other_karts_an_unlike_kart_is_all_there_is():
    ours = noise(1.0, dof=5.0)
    found = learn(noise(0.01), None, ours, 5, 0)
    assert found.conflict == "our kart"
    assert found.noise == ours


def test_lap_noise_and_its_price_are_pooled_as_variances():
    one = Noise(0.1, 0.3, 2.8, "one", 4.0, 10.0)
    other = Noise(0.2, 0.2, 1.7, "other", 12.0, 6.0)
    found = pooled([one, other])
    lap = (4 * 0.09 + 12 * 0.04) / 16
    assert found.lap_sd**2 == pytest.approx(lap)
    assert found.lap_factor * lap == pytest.approx((4 * 2.8 * 0.09 + 12 * 1.7 * 0.04) / 16)
    assert found.session_sd**2 == pytest.approx((4 * 0.01 + 12 * 0.04) / 16)
    assert (found.laps, found.dof, found.source) == (7.0, 16.0, "one")
    assert pooled([replace(one, lap_sd=0.0), replace(other, lap_sd=0.0)]).lap_factor == 2.8
