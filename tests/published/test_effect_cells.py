"""Least squares on kart-by-session cells against every column written out: statsmodels and a plain search for tau^2.

Three invented problems at once: all cells, some missing, and one without the session that our further setting ran in.
"""

import numpy as np
import pytest
from scipy.optimize import minimize_scalar
from statsmodels.regression.linear_model import GLS, WLS

from lapdelta.effect.cellfit import CellData, estimable, fit, reml_cells
from lapdelta.effect.scale import FINE

KARTS, SESSIONS = 5, 6
#: B, a further setting in the last session, the time of day.
OWN = np.column_stack([[0, 1, 1, 0, 1, 0], [0, 0, 0, 0, 0, 1], np.linspace(-1, 1, 6)]).astype(float)


def problems() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    rng = np.random.default_rng(14)
    pace = rng.normal(50, 0.6, (3, KARTS, 1)) + rng.normal(0, 0.3, (3, 1, SESSIONS))
    pace = pace + rng.normal(0, 0.15, (3, KARTS, SESSIONS))
    pace[1, 2, 1] = pace[1, 4, 5] = pace[1, 0, 3] = np.nan
    pace[2, :, 5] = np.nan
    pace[2, 3] = np.nan  # this kart stayed at home
    variance = rng.uniform(0.002, 0.02, pace.shape)
    own = np.stack([OWN * np.isfinite(one[0])[:, None] for one in pace])
    return pace, variance, own


def columns(pace: np.ndarray, own: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(X, y, places) of one problem; our own columns first, then karts, then sessions but the first one seen."""
    places = np.argwhere(np.isfinite(pace))
    X = np.zeros((len(places), own.shape[1] + KARTS + SESSIONS))
    for row, (k, s) in enumerate(places):
        X[row, : own.shape[1]] = own[s] * (k == 0)
        X[row, own.shape[1] + k] = X[row, own.shape[1] + KARTS + s] = 1
    X[:, own.shape[1] + KARTS] = 0
    return X[:, X.any(axis=0)], np.array([pace[tuple(place)] for place in places]), places


def at(values: np.ndarray, places: np.ndarray) -> np.ndarray:
    return np.array([values[tuple(place)] for place in places])


def test_coefficients_errors_and_squares_are_those_of_weighted_least_squares() -> None:
    """The last problem has no further setting: its coefficient is nothing, the others are as without the column."""
    pace, variance, own = problems()
    tau2 = np.array([0.0, 0.01, 0.3])
    data = CellData.of(pace, variance, own)
    found = fit(data, tau2)
    for b in range(3):
        X, y, places = columns(pace[b], own[b])
        expected = WLS(y, X, weights=1 / (at(variance[b], places) + tau2[b])).fit()
        told = np.flatnonzero(own[b].any(axis=0))
        assert found.own[b, told] == pytest.approx(expected.params[: len(told)])
        unscaled = np.diag(expected.normalized_cov_params)[: len(told)]
        assert found.own_variance[b, told] == pytest.approx(unscaled)
        assert found.residual_squares[b] == pytest.approx(expected.ssr)
        assert data.dof[b] == expected.df_resid
    assert found.own[2, 1] == 0


def test_columns_that_karts_and_sessions_explain_are_named() -> None:
    """Ours ran B only where nobody else ran: the same as that session's own term."""
    pace, variance, own = problems()
    pace[1, 1:, [1, 2, 4]] = np.nan
    own[0, :, 1] = own[0, :, 0]  # the further setting always together with B
    assert estimable(CellData.of(pace, variance, own)).tolist() == [False, False, True]


def test_some_problems_of_the_batch() -> None:
    pace, variance, own = problems()
    data = CellData.of(pace, variance, own).take(np.array([2, 1]))
    alone = CellData.of(pace[[2, 1]], variance[[2, 1]], own[[2, 1]])
    for name in ("pace", "variance", "present", "own"):
        assert np.array_equal(getattr(data, name), getattr(alone, name))


def restricted(pace: np.ndarray, variance: np.ndarray, own: np.ndarray, tau2: float) -> float:
    """Minus the restricted log-likelihood (Patterson & Thompson 1971), statsmodels' least squares for the rest."""
    X, y, places = columns(pace, own)
    v = at(variance, places) + tau2
    fitted = GLS(y, X, sigma=v).fit()
    return float(np.log(v).sum() - np.linalg.slogdet(fitted.normalized_cov_params)[1] + fitted.ssr) / 2


@pytest.mark.parametrize("history", [None, (4.0, 0.02), (30.0, 0.2)])
def test_tau2_is_where_the_restricted_likelihood_is_highest(history: tuple[float, float] | None) -> None:
    """With a past of nu0 df and mean square s2: plus nu0/2 [log(m + tau^2) + s2/(m + tau^2)], its chi-squared."""
    pace, variance, own = problems()
    m = np.array([0.004, 0.01, 0.007])
    found = reml_cells(CellData.of(pace, variance, own), FINE, None if history is None else (*history, m))
    for b in range(3):

        def criterion(log: float, b: int = b) -> float:
            value = restricted(pace[b], variance[b], own[b], np.exp(log))
            if history is not None:
                inside = m[b] + np.exp(log)
                value += history[0] / 2 * (np.log(inside) + history[1] / inside)
            return value

        best = minimize_scalar(criterion, bounds=(-14, 2), options={"xatol": 1e-9})
        assert found[b] == pytest.approx(np.exp(best.x), rel=1e-4)


def test_cells_that_fit_exactly_have_no_scatter() -> None:
    pace = np.arange(KARTS)[:, None] + np.array([0.0, 0.2, 0.1, 0.4, 0.3, 0.5]) + 50
    pace[0] += OWN @ [0.3, 0.1, -0.2]
    data = CellData.of(pace[None], np.full((1, KARTS, SESSIONS), 0.01), OWN[None])
    assert reml_cells(data, FINE)[0] == 0
    found = fit(data, np.zeros(1))
    assert found.own[0] == pytest.approx([0.3, 0.1, -0.2])
    assert found.residual_squares[0] == pytest.approx(0, abs=1e-9)
