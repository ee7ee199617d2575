"""The season's fit against all its columns at once: numpy's least squares, scipy's F and a plain search for tau^2.

Invented days: each kart its level, each session its term, our kart the response and its own trend.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import pytest
from scipy import stats
from scipy.optimize import minimize_scalar

from lapdelta.effect.season_cells import DayCells
from lapdelta.effect.season_fit import ResponseFit, fit_response

TEETH = [77.0, 78.0, 79.0, 80.0, 82.0]


def day(
    seed: int,
    x: list[float],
    karts: int = 6,
    private: int = 0,
    ours: float = 0.1,
    slope: float = 0.2,
    also: int = 0,
) -> DayCells:
    """One day; ``ours`` is the scatter of our sessions, ``slope`` what a tooth is worth."""
    rng = np.random.default_rng(seed)
    n = len(x)
    scatter = np.array([ours] + [0.1] * (karts - 1))[:, None] * rng.normal(0, 1, (karts, n))
    pace = rng.normal(50, 0.5, (karts, 1)) + rng.normal(0, 0.3, n) + scatter
    pace[0] += slope * (np.array(x) - 79)
    variance = np.broadcast_to(rng.uniform(0.003, 0.01, (karts, 1)), pace.shape).copy()
    other = np.zeros((n, private))
    other[-1:, :1] = 1
    factors = rng.normal(1.0, 0.1, (n, also))
    return DayCells(pace, variance, np.array(x), other, np.arange(n) + 0.5 * rng.random(n), factors)


@dataclass
class Dense:
    """Every column written out; rows of our kart only in those of its own."""

    X: np.ndarray
    y: np.ndarray
    v: np.ndarray

    def weighted(self, tau2: float) -> tuple[np.ndarray, np.ndarray]:
        root = 1 / np.sqrt(self.v + tau2)
        return self.X * root[:, None], self.y * root

    def rank(self) -> int:
        return int(np.linalg.matrix_rank(self.X))

    def coefficients(self, tau2: float) -> np.ndarray:
        return np.linalg.lstsq(*self.weighted(tau2), rcond=1e-10)[0]

    def covariance(self, tau2: float) -> np.ndarray:
        X, _ = self.weighted(tau2)
        return np.linalg.pinv(X.T @ X, rcond=1e-10)

    def squares(self, tau2: float) -> float:
        X, y = self.weighted(tau2)
        return float(((y - X @ self.coefficients(tau2)) ** 2).sum())

    def restricted(self, tau2: float) -> float:
        """-1/2 (log|V| + log|X'V^-1 X| + r'V^-1 r), Patterson & Thompson 1971, over the columns that are told."""
        X, _ = self.weighted(tau2)
        told = np.linalg.svd(X, compute_uv=False)[: self.rank()]
        return float(np.log(self.v + tau2).sum() + 2 * np.log(told).sum() + self.squares(tau2)) / -2


def dense(days: list[DayCells], degree: int, ours: bool = True, by_day: bool = False) -> Dense:
    """The last columns are the shared ones: powers of x by z, further factors, the short days' trend."""
    pooled = np.concatenate([one.x[np.isfinite(one.pace[0])] for one in days])
    also = days[0].further().shape[1]
    shared = degree + also + 1
    blocks, y, v = [], [], []
    for d, one in enumerate(days):
        karts, n = one.pace.shape
        seen = np.isfinite(one.pace)
        if not ours:
            seen[0] = False
        mine = np.isfinite(one.pace[0])
        time = one.time - one.time[mine].mean()
        time = time / np.abs(time[mine]).max()
        z = (one.x - pooled.mean()) / pooled.std()
        common = np.column_stack(
            [*(z**p for p in range(1, degree + 1)), one.further(), time * (mine.sum() < 4)]
        )
        block = np.zeros((int(seen.sum()), len(days), karts + n + one.private.shape[1] + 1))
        last = np.zeros((len(block), len(days) if by_day else 1, shared))
        for row, (k, s) in enumerate(zip(*np.nonzero(seen), strict=True)):
            block[row, d, k] = block[row, d, karts + s] = 1
            if k == 0:
                block[row, d, karts + n :] = [*one.private[s], time[s] * (mine.sum() >= 4)]
                last[row, d if by_day else 0] = common[s]
            y.append(one.pace[k, s])
            v.append(one.variance[k, s])
        blocks.append((block, last))
    wide = max(block.shape[2] for block, _ in blocks)
    rows = []
    for block, last in blocks:
        padded = np.zeros((*block.shape[:2], wide))
        padded[..., : block.shape[2]] = block
        rows.append(np.column_stack([padded.reshape(len(block), -1), last.reshape(len(block), -1)]))
    return Dense(np.vstack(rows), np.array(y), np.array(v))


def season() -> list[DayCells]:
    """Five, five, three, six and three sessions of ours, the second day with another setting in its last one."""
    return [
        day(1, [77, 79, 82, 80, 77], ours=0.05),
        day(2, [79, 80, 79, 82, 78], karts=5, private=1, ours=0.05),
        day(3, [79, 77, 79], karts=5, ours=0.05),
        day(4, [80, 78, 77, 79, 80, 82], karts=7, ours=0.05),
        day(5, [78, 80, 78], ours=0.05),
    ]


def told(found: ResponseFit | str) -> ResponseFit:
    assert isinstance(found, ResponseFit), found
    return found


@pytest.mark.parametrize("degree", [1, 2])
def test_the_response_with_all_columns_at_once(degree: int) -> None:
    days = season()
    found, full = told(fit_response(days, degree)), dense(days, degree)
    at = slice(-degree - 1, -1)  # the last column is the short days' trend
    assert found.coefficients == pytest.approx(full.coefficients(found.tau2)[at], abs=1e-8)
    assert found.dof == len(full.y) - full.rank()
    scale = max(1.0, full.squares(found.tau2) / found.dof)
    assert found.widened == ""
    assert found.covariance == pytest.approx(scale * full.covariance(found.tau2)[at, at], rel=1e-6)
    assert (found.sessions, found.days) == (22, 5)
    assert found.others == pytest.approx((5 * 5 + 5 * 4 + 3 * 4 + 6 * 6 + 3 * 5) / 22)
    assert found.lap_variance == pytest.approx(np.concatenate([one.variance[0] for one in days]).mean())
    assert (found.between_sd, found.also) == (0.0, ())


def test_tau2_is_where_the_restricted_likelihood_of_all_columns_is_highest() -> None:
    found, full = told(fit_response(season(), 2)), dense(season(), 2)
    best = minimize_scalar(
        lambda log: -full.restricted(np.exp(log)), bounds=(-12, 0), options={"xatol": 1e-9}
    )
    assert found.tau2 == pytest.approx(np.exp(best.x), rel=1e-4)


def test_a_given_tau2_is_taken() -> None:
    assert told(fit_response(season(), 2, tau2=0.5)).tau2 == 0.5


@pytest.mark.parametrize("degree", [1, 2])
def test_our_scatter_over_the_others_is_an_f_ratio_of_two_dense_fits(degree: int) -> None:
    found = told(fit_response(season(), degree))
    full, others = dense(season(), degree), dense(season(), degree, ours=False)
    rest, rest_dof = others.squares(found.tau2), len(others.y) - others.rank()
    mine, mine_dof = full.squares(found.tau2) - rest, found.dof - rest_dof
    assert found.own_ratio == pytest.approx(mine / mine_dof / (rest / rest_dof))
    assert found.own_p == pytest.approx(stats.f.sf(found.own_ratio, mine_dof, rest_dof))


@pytest.mark.parametrize("degree", [1, 2])
def test_whether_days_agree_is_what_a_response_a_day_takes_away(degree: int) -> None:
    found = told(fit_response(season(), degree))
    full, split = dense(season(), degree), dense(season(), degree, by_day=True)
    assert found.days_statistic == pytest.approx(full.squares(found.tau2) - split.squares(found.tau2))
    assert found.days_dof == split.rank() - full.rank()
    scale = max(1.0, full.squares(found.tau2) / found.dof)
    ratio = found.days_statistic / found.days_dof / scale
    assert found.days_p == pytest.approx(stats.f.sf(ratio, found.days_dof, found.dof))


def test_an_erratic_kart_of_ours_is_judged_by_its_own_scatter() -> None:
    days = [day(seed, TEETH, ours=0.8) for seed in (11, 12, 13)]
    found = told(fit_response(days, 1))
    full, others = dense(days, 1), dense(days, 1, ours=False)
    dof = found.dof
    assert (found.widened, dof) == (
        "own scatter",
        len(full.y) - full.rank() - (len(others.y) - others.rank()),
    )
    scale = (full.squares(found.tau2) - others.squares(found.tau2)) / dof
    assert scale > 1
    assert found.covariance[0, 0] == pytest.approx(scale * full.covariance(found.tau2)[-2, -2])


def test_days_that_disagree_set_the_interval() -> None:
    """A tooth is worth .6 on one day, nothing or the contrary on the others."""
    days = [day(seed, TEETH * 2, slope=s) for seed, s in ((21, 0.6), (22, 0.0), (23, -0.5), (24, 0.1))]
    found = told(fit_response(days, 1, slope_sd=0.05))
    full = dense(days, 1)
    assert (found.widened, found.dof, found.days_dof, found.between_sd) == ("days disagree", 3, 3, 0.0)
    assert found.covariance[0, 0] == pytest.approx(
        found.days_statistic / 3 * full.covariance(found.tau2)[-2, -2]
    )


def test_days_may_differ_in_slope_and_one_day_cannot() -> None:
    days = season()
    alike, differing = told(fit_response(days, 1)), told(fit_response(days, 1, slope_sd=0.3))
    assert differing.covariance[0, 0] > alike.covariance[0, 0]
    assert 0 < differing.between_sd < 4 * 0.3 * differing.scale
    one, same = told(fit_response(days[:1], 1)), told(fit_response(days[:1], 1, slope_sd=0.3))
    assert (same.between_sd, same.covariance) == (0, one.covariance)
    assert (one.days_statistic, one.days_p, one.days_dof) == (None, None, 0)


@pytest.mark.parametrize("change", [lambda x: x * 10, lambda x: x + 1000, lambda x: -x])
def test_the_unit_and_zero_of_the_factor_do_not_matter(change: Callable[[np.ndarray], np.ndarray]) -> None:
    days, unit = season(), abs(float(change(np.array(1.0)) - change(np.array(0.0))))
    found = told(fit_response(days, 2, slope_sd=0.3))
    moved = told(fit_response([replace(one, x=change(one.x)) for one in days], 2, slope_sd=0.3 / unit))
    sign = np.sign(change(np.array(1.0)) - change(np.array(0.0)))
    assert moved.coefficients == pytest.approx(found.coefficients * [sign, 1], rel=1e-5)
    assert np.diag(moved.covariance) == pytest.approx(np.diag(found.covariance), rel=1e-5)
    assert moved.between_sd == pytest.approx(found.between_sd, rel=1e-5)
    assert (moved.centre, moved.scale) == pytest.approx((change(np.array(found.centre)), found.scale * unit))


def test_further_factors_are_estimated_beside_the_response() -> None:
    """Two of them, all columns at once; a third that never varied is told nothing of, and nothing else changes."""
    days = [day(seed, TEETH, also=2) for seed in (31, 32, 33)]
    found, full = told(fit_response(days, 1)), dense(days, 1)
    beta, covariance = full.coefficients(found.tau2), full.covariance(found.tau2)
    scale = max(1.0, full.squares(found.tau2) / found.dof)
    for i, (estimate, error) in enumerate(filter(None, found.also)):
        at = -3 + i
        assert estimate == pytest.approx(beta[at])
        assert error == pytest.approx(np.sqrt(scale * covariance[at, at]))
    fixed = [replace(one, also=np.column_stack([one.also, np.ones(len(one.x))])) for one in days]
    wider = told(fit_response(fixed, 1))
    assert len(found.also) == 2
    assert wider.also[2] is None
    assert wider.also[:2] == pytest.approx(np.array(found.also))
    assert wider.dof == found.dof
    assert wider.coefficients == pytest.approx(found.coefficients)


def test_a_factor_that_always_moved_with_the_response_is_told_nothing_of() -> None:
    days = [replace(day(seed, TEETH), also=np.array(TEETH)[:, None] * 0.01) for seed in (41, 42, 43)]
    found = told(fit_response(days, 1))
    assert found.also == (None,)
    plain = told(fit_response([replace(one, also=np.zeros((0, 0))) for one in days], 1))
    assert found.dof == plain.dof
    assert found.coefficients == pytest.approx(plain.coefficients)


def test_the_short_days_trend_goes_before_a_factor_that_cannot_be_told_from_it() -> None:
    """Pressure rose with every session: the driver's progress has the first right to what that explains."""
    days = [day(seed, [79, 77, 79]) for seed in (51, 52, 53)]
    rising = [replace(one, time=np.arange(3.0), also=np.arange(3.0)[:, None] * 0.1) for one in days]
    assert told(fit_response(rising, 1)).also == (None,)


def test_missing_sessions_and_karts_are_left_out() -> None:
    """A session without our kart, one kart missing twice, and a day of which one session of ours is left."""
    days = season()
    days[0].pace[0, 1] = days[3].pace[2, 0] = days[3].pace[2, 3] = np.nan
    days[0].variance[0, 1] = np.nan
    lonely = day(9, [77, 82, 79])
    lonely.pace[0, :2] = np.nan
    found, full = told(fit_response([*days, lonely], 2)), dense(days, 2)
    assert found.coefficients == pytest.approx(full.coefficients(found.tau2)[-3:-1], abs=1e-8)
    assert (found.days, found.sessions, found.dof) == (5, 21, len(full.y) - full.rank())


@pytest.mark.parametrize(
    ("days", "degree", "reason"),
    [
        ([], 1, "no day has two usable sessions of this kart"),
        ([[79, 79, 79], [79, 79]], 1, "only one value was ever run"),
        ([[79, 79, 79], [80, 80, 80]], 1, "no day ran two values in a way that tells them from"),
        ([[79, 80, 79, 80]], 2, "three values compared within days are needed"),
        ([[79, 80, 79, 80], [81, 81, 81, 81]], 2, "three values compared within days are needed"),
    ],
)
def test_refusals_say_what_is_missing(days: list[list[float]], degree: int, reason: str) -> None:
    found = fit_response([day(i, x) for i, x in enumerate(days)], degree)
    assert isinstance(found, str)
    assert reason in found


def test_a_day_with_one_session_of_ours_is_no_day() -> None:
    one = day(1, [79, 80, 81])
    one.pace[0, 1:] = np.nan
    assert fit_response([one], 1) == "no day has two usable sessions of this kart"


def test_too_few_degrees_of_freedom_are_counted() -> None:
    """Two karts, three sessions: 6 cells - 2 karts - 3 sessions + 1 - trend - response leaves none."""
    assert fit_response([day(1, [79, 80, 79], karts=2)], 1) == (
        "only 0 degrees of freedom are left, two are needed"
    )
    least = told(fit_response([day(1, [79, 80, 79], karts=3)], 1))
    assert (least.dof, least.own_ratio, least.own_p) == (2, None, None)


def test_one_other_kart_gives_nothing_to_hold_our_scatter_against() -> None:
    found = told(fit_response([day(1, TEETH * 2, karts=2)], 1))
    assert (found.dof, found.own_ratio, found.own_p, found.widened) == (20 - 2 - 10 + 1 - 2, None, None, "")


def test_a_setting_that_always_changed_with_the_response_leaves_nothing_to_tell() -> None:
    x = [79.0, 79.0, 80.0, 80.0, 79.0]
    together = [replace(day(seed, x), private=(np.array(x) - 79)[:, None]) for seed in (61, 62)]
    found = fit_response(together, 1)
    assert isinstance(found, str)
    assert "no day ran two values in a way that tells them from the day's other changes" in found
    told(fit_response([*together, day(63, x)], 1))
