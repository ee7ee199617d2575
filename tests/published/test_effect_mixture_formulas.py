"""The mixture against its own formulas written out lap by lap, with the library's normal distribution function.

Expectation and maximisation as Dempster, Laird & Rubin 1977 (from memory) have it, without any of the sums by group
that make the module quick. One stretch at a time; the formulas stand in the module's docstring and in the code below.
"""

import math

import numpy as np
import pytest
from scipy.special import log_ndtr

from lapdelta.effect.mixture import fit_mixture

START = {0: 0.15, 1: 0.15, 2: 0.5, 3: 0.8, 4: 0.15}


def made(seed, karts=4, sessions=3, laps=11, sigma=0.12):
    """Laps of three karts or four, some missing, one kart with five laps in all, classes and warm-up in all places."""
    rng = np.random.default_rng(seed)
    shape = (karts, sessions, laps)
    met = rng.choice(5, shape, p=[0.4, 0.2, 0.15, 0.15, 0.1])
    position = np.broadcast_to(np.arange(2, laps + 2), shape).copy()
    kept = rng.random(shape) < 0.85
    kept[-1] = False
    kept[-1, 0, :3] = True
    y = 20 + rng.normal(0, 0.3, shape[:2])[..., None] + rng.normal(0, sigma, shape) + 0.2 / position
    y += (rng.random(shape) < np.array([START[c] for c in range(5)])[met]) * rng.exponential(0.5, shape)
    return y, kept, position, met


def log_density(x, scale=1.0):
    """Of the normal distribution with that standard deviation."""
    return -((x / scale) ** 2) / 2 - math.log(scale * math.sqrt(2 * math.pi))


def expected_delay(r, s, p, m):
    """(chance of a delay, its mean, its mean square) of a lap that lies r above what it should be."""
    a = (r - s**2 / m) / s
    below_a = float(log_ndtr(a))
    log_clean = math.log1p(-p) + log_density(r, s)
    log_late = math.log(p / m) + s**2 / (2 * m**2) - r / m + below_a
    late = 1 / (1 + np.exp(log_clean - log_late))
    ratio = math.exp(log_density(a) - below_a)
    x, v = s * (a + ratio), s**2 * (1 - ratio * (ratio + a))
    return late, late * x, late * (v + x**2)


def below(values, centre):
    return [abs(v - c) for v, c in zip(values, centre, strict=True) if v <= c]


def by_formulas(y, kept, position, met, smallest, rounds):
    laps = [tuple(place) for place in np.argwhere(kept)]
    cells, karts = sorted({lap[:2] for lap in laps}), sorted({lap[0] for lap in laps})
    of = {
        group: [lap for lap in laps if lap[: len(group)] == group]
        for group in [*cells, *((k,) for k in karts)]
    }
    time, cls, place = ({lap: values[lap] for lap in laps} for values in (y, met, position))
    mu = {cell: float(np.median([time[lap] for lap in of[cell]])) for cell in cells}
    quick = {k: below([time[lap] for lap in of[(k,)]], [mu[lap[:2]] for lap in of[(k,)]]) for k in karts}
    pooled = 1.4826 * np.median([away for k in karts for away in quick[k]])
    s = {
        k: max(1.4826 * np.median(quick[k]) if len(quick[k]) >= 4 else pooled, pooled / 4, 1e-3)
        for k in karts
    }
    p, m, g, w = (
        dict(START),
        dict.fromkeys(range(5), 0.5),
        dict.fromkeys(range(5), 0.0),
        dict.fromkeys((2, 3, 4), 0.0),
    )
    in_class = {c: [lap for lap in laps if cls[lap] == c] for c in range(5)}
    in_place = {j: [lap for lap in laps if place[lap] == j] for j in (2, 3, 4)}

    def found(lap):
        r = time[lap] - mu[lap[:2]] - w.get(place[lap], 0.0) - g[cls[lap]]
        return r, *expected_delay(r, s[lap[0]], p[cls[lap]], m[cls[lap]])

    for _ in range(rounds):
        step = {lap: found(lap) for lap in laps}
        net = {lap: time[lap] - step[lap][2] for lap in laps}
        bracket = {
            k: sum(
                (r - loss) ** 2 + square - loss**2 for r, _, loss, square in (step[lap] for lap in of[(k,)])
            )
            for k in karts
        }
        mu = {c: np.mean([net[lap] - w.get(place[lap], 0.0) - g[cls[lap]] for lap in of[c]]) for c in cells}
        for j, here in in_place.items():
            left = sum(net[lap] - mu[lap[:2]] - g[cls[lap]] for lap in here)
            w[j] = left / (len(here) + 3) if len(here) >= 4 else 0.0
        for c in range(1, 5):
            left = sum(net[lap] - mu[lap[:2]] - w.get(place[lap], 0.0) for lap in in_class[c])
            g[c] = left / (len(in_class[c]) + 8)
        pooled = sum(bracket.values()) / len(laps)
        s = {k: max(np.sqrt((bracket[k] + 6 * pooled) / (len(of[(k,)]) + 6)), 1e-3) for k in karts}
        for c, here in in_class.items():
            late, loss = sum(step[lap][1] for lap in here), sum(step[lap][2] for lap in here)
            p[c] = min(max((late + 0.5) / (len(here) + 2), 0.01), 0.97)
            m[c] = min(max((loss + 1) / (late + 2), smallest), 3.0)
    worth = {}
    for k in karts:
        step = [found(lap) for lap in of[(k,)]]
        worth[k] = np.mean(
            [np.clip(1 - (square - loss**2) / s[k] ** 2, 0.05, 1) for _, _, loss, square in step]
        )
    return mu, s, worth, p, m, g, w


@pytest.mark.parametrize(("seed", "sigma", "smallest"), [(1, 0.12, 0.05), (2, 0.05, 0.08), (3, 0.3, 0.05)])
def test_every_number_of_the_fit(seed, sigma, smallest):
    y, kept, position, met = made(seed, sigma=sigma)
    found = fit_mixture(y[None], kept, position, met[None], smallest)
    mu, s, worth, p, m, g, w = by_formulas(y, kept, position, met, smallest, found.rounds)
    assert {tuple(cell): found.pace_s[(0, *cell)] for cell in mu} == pytest.approx(mu, abs=1e-9)
    assert np.isfinite(found.pace_s).sum() == len(mu)
    assert {k: found.sigma_s[0, k] for k in s} == pytest.approx(s, abs=1e-9)
    assert {k: found.information[0, k] for k in s} == pytest.approx(worth, abs=1e-9)
    assert found.share[0] == pytest.approx([p[c] for c in range(5)], abs=1e-9)
    assert found.mean_loss_s[0] == pytest.approx([m[c] for c in range(5)], abs=1e-9)
    assert found.class_term_s[0] == pytest.approx([g[c] for c in range(5)], abs=1e-9)
    assert found.warm_up_s[0] == pytest.approx([w[j] for j in (2, 3, 4)], abs=1e-9)


def test_three_laps_tell_no_warm_up_four_do():
    """Lap 3 runs in three cells, laps 2 and 4 in four."""
    y, kept, position, met = made(5, karts=2, sessions=2, laps=12)
    kept[:] = True
    kept[0, 0, 1] = False
    found = fit_mixture(y[None], kept, position, met[None], 0.05)
    assert (found.warm_up_s[0] != 0).tolist() == [True, False, True]
    _, _, _, _, _, _, w = by_formulas(y, kept, position, met, 0.05, found.rounds)
    assert found.warm_up_s[0] == pytest.approx([w[j] for j in (2, 3, 4)], abs=1e-9)


def test_it_stops_when_no_pace_moves_by_a_hundred_thousandth():
    """Laps without scatter or delays: their class terms and paces settle long before the last round."""
    _, kept, position, _ = made(1)
    steady = fit_mixture(
        np.full((1, *kept.shape), 20.0), kept, position, np.zeros((1, *kept.shape), int), 0.05
    )
    assert steady.rounds < 20
