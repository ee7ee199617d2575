"""A kart without (enough) comparable other karts: what can still be told from its own sessions."""

import numpy as np

from lapdelta.effect.arrays import Bools, Floats
from lapdelta.effect.design import AFTER, BEFORE, Design, has_own_trend, is_interleaved
from lapdelta.effect.history import MIN_RAW, History
from lapdelta.effect.scale import least_squares, reml_tau2
from lapdelta.effect.shift import Shift, told_nothing

MIN_SESSIONS = 5
MIN_DOF = 2.0


def shift(pace: Floats, variance: Floats, design: Design, history: History) -> Shift:
    """Shift of a kart alone; ``pace`` and ``variance`` by session, NaN where missing."""
    present = np.isfinite(pace)
    if not is_interleaved(design, present):
        return _neighbours(pace, variance, design, history)
    if history.weight:
        return _with_history(pace, variance, design, history, present)
    if design.compared(present).sum() >= MIN_SESSIONS:
        return _with_trend(pace, variance, design, present)
    return told_nothing(
        "no comparable other karts, and fewer than five own sessions without a history of this kart",
        "alone",
    )


def _columns(design: Design, present: Bools, trend: bool) -> Floats:
    own = design.own_columns(present, trend)
    own = own[:, own.any(axis=0)]
    return np.column_stack([np.ones(len(present)), own])[present]


def _with_trend(pace: Floats, variance: Floats, design: Design, present: Bools) -> Shift:
    """Least squares on 1, B, further setups, t: ordinary standard errors."""
    X = _columns(design, present, trend=True)
    if present.sum() - X.shape[1] < MIN_DOF:
        return told_nothing("too few own sessions are left to judge their scatter by", "alone with trend")
    fitted = least_squares(X, pace[present] - pace[present].mean())
    return Shift(
        route="alone with trend",
        estimate=float(fitted.coefficients[1]),
        standard_error=float(fitted.standard_errors[1]),
        dof=float(fitted.dof),
        lap_noise_share=_noise_share(variance[present], fitted.residual_squares / fitted.dof),
    )


def _noise_share(variance: Floats, scatter: float) -> float:
    """Share of a session's scatter (its variance) that is lap noise; NaN where nothing scatters."""
    return min(1.0, float(variance.mean()) / scatter) if scatter > 0 else float("nan")


def _with_history(pace: Floats, variance: Floats, design: Design, history: History, present: Bools) -> Shift:
    """The interleaved fit on our own cells, its scale shared with the history."""
    X = _columns(design, present, has_own_trend(design, present))
    y, v = pace[present] - pace[present].mean(), variance[present]
    m, nu0, s2 = float(v.mean()), history.weight, history.half_mean_square
    if len(y) < X.shape[1] or len(y) - X.shape[1] + nu0 < MIN_DOF:
        return told_nothing("too few own sessions and too short a history", "alone with history")
    tau2 = reml_tau2(X, y, v, (nu0, s2, m))
    fitted = least_squares(X, y, 1 / (v + tau2))
    dof = fitted.dof + nu0
    q = max(1.0, (fitted.residual_squares + nu0 * s2 / (m + tau2)) / dof)
    return Shift(
        route="alone with history",
        estimate=float(fitted.coefficients[1]),
        standard_error=float(np.sqrt(q * fitted.unscaled_covariance[1, 1])),
        dof=dof,
        tau2=tau2,
        lap_noise_share=m / (m + tau2),
        history_used=True,
    )


def _neighbours(pace: Floats, variance: Floats, design: Design, history: History) -> Shift:
    """Last session before and first after, as a single case among raw neighbour differences."""
    pair = _boundary(pace, design)
    if pair is None:
        return told_nothing(
            "no comparable other karts, and no session before the change lies next to one after it", "alone"
        )
    if len(history.raw) < MIN_RAW or history.raw_count - 1 < MIN_DOF:
        return told_nothing(
            "no comparable other karts, and a history of this kart with too few neighbouring sessions",
            "alone",
        )
    raw = np.asarray(history.raw)
    first, second, sign = pair
    estimate = sign * (pace[second] - pace[first] - raw.mean())
    scatter = float(raw.std(ddof=1)) * np.sqrt(1 + 1 / len(raw))
    return Shift(
        route="alone single case",
        estimate=float(estimate),
        standard_error=float(scatter),
        dof=history.raw_count - 1,
        lap_noise_share=_noise_share(variance[[first, second]], float(raw.var(ddof=1)) / 2),
        history_used=True,
    )


def _boundary(pace: Floats, design: Design) -> tuple[int, int, float] | None:
    """The two neighbouring sessions at the change and the sign of their difference, if the order has one."""
    used = np.flatnonzero(design.compared(np.isfinite(pace)))
    level, place = design.level[used], design.position[used]
    changes = np.flatnonzero(np.diff(level) != 0)
    if len(changes) != 1 or place[changes[0] + 1] != place[changes[0]] + 1:
        return None
    i = changes[0]
    return int(used[i]), int(used[i + 1]), 1.0 if level[i] == BEFORE and level[i + 1] == AFTER else -1.0


def boundary_step(pace: Floats, design: Design) -> float | None:
    """Time from the last session before to the first after (or minus the other way round); None without."""
    pair = _boundary(pace, design)
    if pair is None:
        return None
    first, second, sign = pair
    return sign * float(design.time[second] - design.time[first])


def parts_alone(part: Floats, variance: Floats, design: Design, base: Shift) -> Shift:
    """Shift of a part of the lap for a kart alone, with the lap's columns and weights."""
    present = np.isfinite(part)
    if base.route not in ("alone with trend", "alone with history"):
        return told_nothing("one pair of sessions cannot tell sectors apart", base.route)
    trend = base.route == "alone with trend" or has_own_trend(design, present)
    X = _columns(design, present, trend)
    if len(X) - X.shape[1] < MIN_DOF:
        return told_nothing("too few own sessions for the sectors", base.route)
    weights = None if np.isnan(base.tau2) else 1 / (variance[present] + base.tau2)
    fitted = least_squares(X, part[present] - part[present].mean(), weights)
    return Shift(
        route=base.route,
        estimate=float(fitted.coefficients[1]),
        standard_error=float(fitted.standard_errors[1]),
        dof=float(fitted.dof),
        tau2=base.tau2,
    )
