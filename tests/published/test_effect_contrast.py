"""Session terms, contrasts and the single case against ordinary least squares and the printed formulas."""

import numpy as np
import pytest

from lapdelta.effect.contrast import contrast_weights, contrasts, session_terms, single_case
from lapdelta.effect.design import Design
from lapdelta.effect.scale import paule_mandel_tau2

NAN = np.nan


def design(levels):
    return Design(np.array(levels), np.arange(len(levels), dtype=float), np.arange(len(levels)))


def holed(seed, karts=6, sessions=5, share=0.2):
    """Paces with holes, every kart and session left with two cells at least."""
    rng = np.random.default_rng(seed)
    pace = (
        50
        + rng.normal(0, 1, (karts, 1))
        + rng.normal(0, 0.5, sessions)
        + rng.normal(0, 0.1, (karts, sessions))
    )
    holes = rng.random(pace.shape) < share
    holes[:, :2] = holes[:2] = False
    return np.where(holes, NAN, pace)


def by_least_squares(pace):
    """Terms of the sessions by numpy's least squares on dummies of karts and sessions, centred."""
    kart, session = np.nonzero(np.isfinite(pace))
    karts, sessions = pace.shape
    X = np.zeros((len(kart), karts + sessions))
    X[np.arange(len(kart)), kart] = 1
    X[np.arange(len(kart)), karts + session] = 1
    terms = np.linalg.lstsq(X, pace[kart, session], rcond=None)[0][karts:]
    ran = np.isfinite(pace).any(axis=0)
    return np.where(ran, terms - terms[ran].mean(), NAN)


@pytest.mark.parametrize("seed", range(4))
def test_session_terms_are_least_squares_on_kart_and_session(seed):
    pace = holed(seed)
    found = session_terms(np.stack([pace, pace[::-1]]))
    assert found[0] == pytest.approx(by_least_squares(pace), abs=1e-9)
    assert found[1] == pytest.approx(found[0], abs=1e-9)


def test_a_session_in_which_nobody_else_ran_has_no_term_and_spoils_none():
    pace = holed(5)
    pace[:, 3] = NAN
    found = session_terms(pace[None])[0]
    assert np.isnan(found[3])
    assert np.delete(found, 3) == pytest.approx(np.delete(by_least_squares(pace), 3), abs=1e-9)


def test_sessions_that_no_kart_links_are_compared_inside_each_part_only():
    """Two karts in the first two sessions, two others in the last two: differences inside each pair are told."""
    pace = np.array([[50, 50.2, NAN, NAN], [51, 51.4, NAN, NAN], [NAN, NAN, 52, 52.5], [NAN, NAN, 53, 53.3]])
    found = session_terms(pace[None])[0]
    assert found[1] - found[0] == pytest.approx(0.3)
    assert found[3] - found[2] == pytest.approx(0.4)


@pytest.mark.parametrize("levels", [[0, 1], [0, 0, 1], [0, 1, 1, 0, 2], [2, 0, 1, 3, 1]])
def test_weights_are_a_row_of_the_pseudo_inverse(levels):
    """The row B of the pseudo-inverse of [1, B, a column for each further setup]."""
    used = design(levels)
    X = np.column_stack([np.ones(len(levels)), *(used.level == level for level in range(1, max(levels) + 1))])
    weights = contrast_weights(np.ones((1, 2, len(levels)), bool), used)
    assert weights[0, 1] == pytest.approx(np.linalg.pinv(X)[1], abs=1e-12)


def test_a_kart_that_lacks_one_side_has_no_contrast():
    present = np.array([[[1, 1, 1, 1], [1, 1, 0, 0], [0, 0, 1, 1], [0, 1, 1, 0]]], bool)
    weights = contrast_weights(present, design([0, 0, 1, 1]))[0]
    assert weights[0] == pytest.approx([-0.5, -0.5, 0.5, 0.5])
    assert not weights[1].any()
    assert not weights[2].any()
    assert weights[3] == pytest.approx([0, -1, 1, 0])


def test_contrasts_are_net_of_the_other_karts_sessions():
    """Ours .5 slower after, all others .2: net .3; the others' own are 0. Size 2 of one pair, 1 of two."""
    move = np.array([0, 0, 0.2, 0.2])
    pace = 50 + np.arange(4.0)[:, None] + move
    pace[0, 2:] += 0.3
    found = contrasts(pace[None], np.full((1, 4, 4), 0.01), design([0, 0, 1, 1]))
    assert found.z[0] == pytest.approx([0.3, 0, 0, 0], abs=1e-9)
    assert found.size[0] == pytest.approx(np.ones(4))
    assert found.noise[0] == pytest.approx(np.full(4, 0.01))
    pace[1, 2:] = NAN
    pace[2, [0, 3]] = NAN
    found = contrasts(pace[None], np.where(np.isfinite(pace), 0.01, NAN)[None], design([0, 0, 1, 1]))
    assert np.isnan(found.z[0, 1])
    assert found.size[0] == pytest.approx([1, 0, 2, 1])
    assert found.noise[0] == pytest.approx([0.01, 0, 0.02, 0.01])


def test_ours_never_moves_the_sessions():
    """Whatever we did: the other karts' contrasts stay."""
    pace, noise = holed(2), np.full((1, 6, 5), 0.01)
    moved = pace + np.array([[9.0], *[[0.0]] * 5]) * np.arange(5)
    one, other = (contrasts(p[None], noise, design([0, 1, 0, 1, 1])) for p in (pace, moved))
    assert other.z[0, 1:] == pytest.approx(one.z[0, 1:], abs=1e-9)


def found_of(z, noise=0.02, karts=7):
    noises = np.full((1, karts), noise)
    return contrasts(
        60 + np.arange(karts)[None, :, None] + np.array([0, 1]) * np.array(z)[None, :, None],
        np.broadcast_to(noises[..., None] / 2, (1, karts, 2)),
        design([0, 1]),
    )


Z = [-0.21, 0.12, -0.05, 0.03, 0.08, -0.02, 0.06]


def test_weights_fall_where_laps_are_few():
    """Paule-Mandel's tau^2, weights 1/(tau^2 f + V), the variance of a new kart: by the formulas, one by one."""
    case_of = found_of(Z)
    noise = np.array([0.02, 0.002, 0.004, 0.03, 0.001, 0.05, 0.006])
    found = case_of.__class__(case_of.z, case_of.size, noise[None], case_of.weights)
    case = single_case(found)
    z, v = found.z[0], noise
    tau2 = paule_mandel_tau2(z[None, 1:], np.full((1, 6), 2.0), v[None, 1:], np.ones((1, 6)))[0]
    w = 1 / (2 * tau2 + v[1:])
    mean = (w * z[1:]).sum() / w.sum()
    q = (w * (z[1:] - mean) ** 2).sum() / 5
    assert case.estimate[0] == pytest.approx(z[0] - mean)
    assert case.q[0] == pytest.approx(max(q, 0.25))
    assert case.variance[0] == pytest.approx(max(q, 0.25) * (2 * tau2 + v[0] + 1 / w.sum()))
    assert case.dof[0] == 5
    assert case.others[0] == 6


def test_a_history_is_weighed_by_its_degrees_of_freedom():
    """Smyth 2004: the scale is the mean of both, weighted by 5 and nu0 degrees of freedom."""
    found = found_of(Z, noise=1e-4)
    plain, with_it = single_case(found), single_case(found, nu0=8.0, s2=0.0144)
    own = plain.tau2[0] * 2 + 1e-4
    expected = (5 * plain.q[0] + 8 * 0.0144 * 2 / own) / 13
    assert with_it.q[0] == pytest.approx(expected)
    assert with_it.dof[0] == 13
    assert with_it.estimate[0] == pytest.approx(plain.estimate[0])


def test_for_a_sector_tau_is_given_and_the_scale_has_no_floor():
    """Others agree within a hundredth of their noise: q is what it is for a sector, .25 for the lap."""
    found = found_of([0.3, 0.001, -0.001, 0.0, 0.002, -0.002, 0.0])
    assert single_case(found).q[0] == pytest.approx(0.25)
    sector = single_case(found, tau2=np.array([0.01]))
    z = found.z[0, 1:]
    q = ((z - z.mean()) ** 2).sum() / (0.01 * 2 + 0.02) / 5
    assert sector.q[0] == pytest.approx(q)
    assert sector.tau2[0] == 0.01
    assert sector.variance[0] == pytest.approx(q * 0.04 * (1 + 1 / 6))


def test_a_kart_without_a_contrast_does_not_count():
    found = found_of(Z)
    z = found.z.copy()
    z[0, 6] = NAN
    fewer = found.__class__(z, found.size, found.noise, found.weights)
    direct = found.__class__(z[:, :6], found.size[:, :6], found.noise[:, :6], found.weights[:, :6])
    one, other = single_case(fewer), single_case(direct)
    assert (one.others[0], one.dof[0]) == (5, 4)
    assert one.variance[0] == pytest.approx(other.variance[0])
    assert one.estimate[0] == pytest.approx(other.estimate[0])
