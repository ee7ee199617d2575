"""Which route is taken and why none can be; the interleaved fit against least squares on dummies of all cells."""

import numpy as np
import pytest

from lapdelta.effect.design import Design
from lapdelta.effect.history import NO_HISTORY, from_numbers
from lapdelta.effect.routes import Batch, link, shifts
from lapdelta.effect.scale import knapp_hartung, reml_tau2

NAN = np.nan
PAST = from_numbers([0.1, -0.2, 0.15, -0.05, 0.2, -0.1])


def design(order):
    level = np.array(["ABCD".index(letter) for letter in order])
    return Design(level, np.arange(len(order), dtype=float), np.arange(len(order)))


def paces(order, karts=6, seed=1, holes=()):
    rng = np.random.default_rng(seed)
    pace = (
        50
        + rng.normal(0, 1, (karts, 1))
        + rng.normal(0, 0.3, len(order))
        + rng.normal(0, 0.08, (karts, len(order)))
    )
    for kart, session in holes:
        pace[kart, session] = NAN
    return pace


def shift_of(order, pace, history=NO_HISTORY, noise=0.001, **more):
    return shifts(Batch(pace[None], np.full((1, *pace.shape), noise), design(order), history, **more))[0]


def dummies(order, pace):
    """Rows and columns of the model by its definition: B, karts, sessions but the first, own trend from four on."""
    kart, session = np.nonzero(np.isfinite(pace))
    level, mine = design(order).level, kart == 0
    columns = [mine & (level[session] == 1)]
    columns += [mine & (level[session] == further) for further in range(2, level.max() + 1)]
    columns += [kart == k for k in range(pace.shape[0])]
    columns += [session == s for s in range(1, pace.shape[1])]
    if (mine & (level[session] <= 1)).sum() >= 4:
        columns.append(mine * session)
    X = np.column_stack(columns).astype(float)
    return X[:, X.any(axis=0)], pace[kart, session]


@pytest.mark.parametrize(
    ("order", "holes"),
    [
        ("ABA", ()), ("ABBA", ()), ("ABAB", [(2, 1), (3, 3)]), ("ABBABA", [(0, 2), (4, 0), (4, 5)]),
        ("ACBBA", [(1, 1)]),
        ("ABAB", [(1, 0), (1, 1), (1, 2), (1, 3)]),
    ],
)  # fmt: skip
@pytest.mark.parametrize("seed", [1, 2])
def test_interleaved_is_generalised_least_squares_on_all_cells(order, holes, seed):
    """Estimate, error, df and tau^2 from one column for everything: REML, then the scale of Knapp & Hartung 2003."""
    pace = paces(order, seed=seed, holes=holes)
    X, y = dummies(order, pace)
    v = np.full(len(y), 0.001)
    found = shift_of(order, pace)
    tau2 = reml_tau2(X, y, v)
    beta, error, dof = knapp_hartung(X, y, v, tau2)
    assert found.route == "interleaved"
    assert found.told
    assert found.tau2 == pytest.approx(tau2, rel=1e-4, abs=1e-9)
    assert found.estimate == pytest.approx(beta[0], abs=1e-7)
    assert found.standard_error == pytest.approx(error[0], rel=1e-5)
    assert found.dof == dof
    assert found.lap_noise_share == pytest.approx(0.001 / (0.001 + tau2), rel=1e-4)
    assert found.others == np.isfinite(pace[1:]).any(axis=1).sum()


def test_a_tau_that_is_given_is_used():
    pace = paces("ABBA")
    X, y = dummies("ABBA", pace)
    beta, error, _ = knapp_hartung(X, y, np.full(len(y), 0.001), 0.04)
    found = shift_of("ABBA", pace, tau2=0.04)
    assert found.tau2 == 0.04
    assert (found.estimate, found.standard_error) == pytest.approx((beta[0], error[0]))


@pytest.mark.parametrize("order", ["ABBA", "AABB"])
def test_a_history_is_used_or_left_out_never_both(order):
    """Other days as this one: used. Other days a hundred times steadier than this one: left out, and said."""
    pace = paces(order, seed=3)
    plain, usual = shift_of(order, pace), shift_of(order, pace, PAST)
    assert usual.history_used
    assert not usual.history_left_out
    assert usual.dof == plain.dof + 6
    steady = shift_of(order, 50 + 5 * (pace - 50), from_numbers([1e-3, -1e-3] * 30))
    assert steady.history_left_out
    assert not steady.history_used
    without = shift_of(order, 50 + 5 * (pace - 50))
    assert (steady.estimate, steady.standard_error, steady.dof) == (
        without.estimate,
        without.standard_error,
        without.dof,
    )


@pytest.mark.parametrize(
    ("side", "session", "reason"),
    [
        (0, 0, "no session before the change has three usable laps of this kart"),
        (0, 1, "no session after the change has three usable laps of this kart"),
        (1, 0, "no other kart ran in the sessions before the change"),
        (1, 1, "no other kart ran in the sessions after the change"),
    ],
)
def test_a_side_without_laps_is_named(side, session, reason):
    """Sessions A, A, B, B; either ours or everybody else's of one side are missing."""
    pace = paces("AABB")
    mine = slice(0, 1) if side == 0 else slice(1, None)
    pace[mine, 2 * session : 2 * session + 2] = NAN
    others = np.isfinite(pace[1:]).any()
    assert others
    found = shift_of("AABB", pace)
    assert (found.route, found.reason) == ("none", reason)


def test_two_other_karts_are_enough_in_turns_and_with_a_history():
    two = paces("ABBA", karts=3)
    assert shift_of("ABBA", two).route == "interleaved"
    assert shift_of("ABBA", two).told
    block = shift_of("AABB", two)
    assert (block.route, block.told) == ("blocked", False)
    assert block.reason.startswith(
        "only 2 comparable other karts ran both before and after, three are needed"
    )
    assert shift_of("AABB", two, PAST).told
    assert shift_of("AABB", paces("AABB", karts=4)).told
    one = shift_of("AABB", two[:2])
    assert one.route == "alone"
    assert not one.told


def test_fewer_than_two_degrees_of_freedom_tell_nothing():
    """A, B, A with two others who share two sessions each with us: seven cells, six columns."""
    pace = paces("ABA", karts=3, holes=[(1, 2), (2, 0)])
    found = shift_of("ABA", pace)
    assert found.dof == 1
    assert found.reason == "only 1.0 degrees of freedom are left, two are needed"


def test_karts_that_do_not_link_the_two_sides_say_nothing():
    """Two karts in both sessions with the old setting, two others in both with the new: who tells what the day did?"""
    pace = paces("ABBA", karts=5, holes=[(1, 1), (1, 2), (2, 1), (2, 2), (3, 0), (3, 3), (4, 0), (4, 3)])
    found = shift_of("ABBA", pace)
    assert not found.told
    assert found.reason == "no other kart links the sessions before and after"


def test_a_kart_with_one_session_and_a_session_with_nobody_else_are_not_compared():
    pace = paces("ABBA", karts=4, holes=[(1, 1), (1, 2), (1, 3), (2, 2), (3, 2)])
    present, others = link(pace[None])
    assert others[0] == 2
    assert present[0].tolist() == [
        [True, True, False, True], [False] * 4, [True, True, False, True], [True, True, False, True],
    ]  # fmt: skip


def test_each_problem_of_a_batch_takes_its_own_route():
    whole, fewer = paces("ABBA"), paces("ABBA")
    fewer[1:, 3] = NAN  # A, B, B are left: blocked
    alone = paces("ABBA")
    alone[1:] = NAN
    batch = np.stack([fewer, whole, alone])
    found = shifts(Batch(batch, np.full(batch.shape, 0.001), design("ABBA")))
    assert [shift.route for shift in found] == ["blocked", "interleaved", "alone"]
    for pace, shift in zip((fewer, whole), found, strict=False):
        single = shift_of("ABBA", pace)
        assert (shift.estimate, shift.standard_error) == pytest.approx(
            (single.estimate, single.standard_error), rel=1e-6
        )


def test_a_kart_that_left_before_the_change_is_not_comparable():
    found = shift_of("AABB", paces("AABB", karts=4, holes=[(3, 2), (3, 3)]))
    assert found.reason.startswith("only 2 comparable other karts ran both before and after")


def test_share_of_lap_noise_of_a_pair_of_sessions():
    """Both parts of a contrast's variance: two cells of lap noise .0001, twice tau^2."""
    found = shift_of("AB", paces("AB"), noise=1e-4)
    assert found.tau2 > 0
    assert found.lap_noise_share == pytest.approx(0.0002 / (0.0002 + 2 * found.tau2))
