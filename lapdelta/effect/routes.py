"""Which computation fits the order of sessions, and the shift it gives; for a batch of problems at once.

A batch holds the same question with other choices (a kart or a session left out, another pace), or the
same day with every kart in turn as ours. Every problem chooses its own route from the cells it has.
"""

from dataclasses import dataclass, replace

import numpy as np

from lapdelta.effect import alone
from lapdelta.effect.arrays import Bools, Floats, Ints
from lapdelta.effect.cellfit import CellData, estimable, fit, reml_cells
from lapdelta.effect.contrast import Contrasts, contrasts, single_case
from lapdelta.effect.design import AFTER, BEFORE, Design, has_own_trend, is_interleaved
from lapdelta.effect.history import NO_HISTORY, History, conflicts
from lapdelta.effect.scale import FINE, Search
from lapdelta.effect.shift import Shift, told_nothing
from lapdelta.effect.steps import OtherSteps

MIN_OTHERS = 2  # fewer comparable other karts count as none
MIN_OTHERS_BLOCKED = 3  # without a history
MIN_DOF = 2.0
FEW_DOF = 6.0  # with fewer the scatter of the other karts is hardly known


@dataclass(frozen=True)
class Batch:
    """Problems by karts by sessions: pace (NaN where missing) and lap noise; one design, one history.

    A given ``tau2`` is used where old and new setting alternate, instead of a search for each problem's own.
    """

    pace: Floats
    variance: Floats
    design: Design
    history: History = NO_HISTORY
    search: Search = FINE
    tau2: float | None = None

    def take(self, rows: Ints) -> "Batch":
        """Some of the problems."""
        return replace(self, pace=self.pace[rows], variance=self.variance[rows])


def shifts(batch: Batch) -> list[Shift]:
    """The shift of our kart (row 0) in every problem: estimate, standard error, df, route, or why not."""
    linked, others = link(batch.pace)
    routes = _routes(batch, linked, others)
    found = [told_nothing(reason, route) if reason else None for route, reason in routes]
    pace = np.where(linked, batch.pace, np.nan)
    for route, solve in (("interleaved", _interleaved), ("blocked", _blocked)):
        rows = np.array([b for b, chosen in enumerate(routes) if chosen == (route, "")], dtype=np.int64)
        if rows.size:
            for b, shift in zip(rows, solve(replace(batch, pace=pace).take(rows)), strict=True):
                found[b] = shift
    for b, shift in enumerate(found):
        if shift is None:
            found[b] = alone.shift(batch.pace[b, 0], batch.variance[b, 0], batch.design, batch.history)
    return [shift for shift in found if shift is not None]


def link(pace: Floats) -> tuple[Bools, Ints]:
    """Cells that can be compared, and how many other karts there are.

    Another kart with one cell says nothing; our session without another kart is dropped. Where fewer
    than two other karts are left our own cells stay, for the routes of a kart alone.
    """
    present = np.isfinite(pace)
    for _ in range(3):
        others = present[:, 1:] & (present[:, 1:].sum(axis=2, keepdims=True) >= 2)
        mine = present[:, :1] & others.any(axis=1, keepdims=True)
        present = np.concatenate([mine, others], axis=1)
    count = present[:, 1:].any(axis=2).sum(axis=1)
    return present, count


def _routes(batch: Batch, linked: Bools, others: Ints) -> list[tuple[str, str]]:
    """Route of each problem, and the reason if nothing can be told."""
    level = batch.design.level
    raced = np.isfinite(batch.pace[:, 0])
    mine = np.where(others[:, None] >= MIN_OTHERS, linked[:, 0], raced)
    before, after = (linked[:, 1:] & (level == side) for side in (BEFORE, AFTER))
    both = (before.any(axis=2) & after.any(axis=2)).sum(axis=1)
    known: dict[tuple[bytes, bytes, int, int], tuple[str, str]] = {}
    routes: list[tuple[str, str]] = []
    for b in range(len(mine)):
        key = (mine[b].tobytes(), raced[b].tobytes(), int(others[b]), int(both[b]))
        if key not in known:
            known[key] = _route(batch, mine[b], raced[b], int(others[b]), int(both[b]))
        routes.append(known[key])
    return routes


def _route(batch: Batch, mine: Bools, raced: Bools, others: int, both: int) -> tuple[str, str]:
    """``mine`` our sessions that can be compared, ``raced`` all ours, ``both`` other karts before and after."""
    for level, word in ((BEFORE, "before"), (AFTER, "after")):
        if not (mine & (batch.design.level == level)).any():
            if (raced & (batch.design.level == level)).any():
                return "none", f"no other kart ran in the sessions {word} the change"
            return "none", f"no session {word} the change has three usable laps of this kart"
    if others >= MIN_OTHERS and is_interleaved(batch.design, mine):
        return "interleaved", ""
    if others < MIN_OTHERS or both < MIN_OTHERS:
        return "alone", ""
    if both < MIN_OTHERS_BLOCKED and not batch.history.weight:
        return "blocked", (
            f"only {both} comparable other karts ran both before and after, three are needed"
            " in this order of sessions without a history of this kart"
        )
    return "blocked", ""


def cell_data(batch: Batch) -> CellData:
    """The batch as least-squares problems, own columns by the sessions our kart has in each."""
    known: dict[bytes, Floats] = {}
    own: list[Floats] = []
    for mine in np.isfinite(batch.pace[:, 0]):
        key = mine.tobytes()
        if key not in known:
            known[key] = batch.design.own_columns(mine, has_own_trend(batch.design, mine))
        own.append(known[key])
    return CellData.of(batch.pace, batch.variance, np.stack(own))


def _interleaved(batch: Batch) -> list[Shift]:
    data = cell_data(batch)
    possible = estimable(data)
    found = [told_nothing("no other kart links the sessions before and after", "interleaved")] * len(possible)
    rows = np.flatnonzero(possible)
    if not rows.size:
        return found
    data = data.take(rows)
    plain = _reml_shifts(data, batch, None)
    if batch.history.weight:
        plain = [
            _with_history(*pair) for pair in zip(plain, _reml_shifts(data, batch, batch.history), strict=True)
        ]
    for b, shift in zip(rows, plain, strict=True):
        found[b] = shift
    return found


def _reml_shifts(data: CellData, batch: Batch, history: History | None) -> list[Shift]:
    mine = data.present[:, 0]
    m = np.where(mine, data.variance[:, 0], 0.0).sum(axis=1) / np.maximum(mine.sum(axis=1), 1)
    nu0, s2 = (history.weight, history.half_mean_square) if history else (0.0, 0.0)
    if batch.tau2 is None:
        tau2 = reml_cells(data, batch.search, (nu0, s2, m) if history else None)
    else:
        tau2 = np.full(len(m), batch.tau2)
    result = fit(data, tau2)
    dof = data.dof + nu0
    q = np.maximum(1.0, (result.residual_squares + nu0 * s2 / (m + tau2)) / np.maximum(dof, 1e-9))
    variance = q * result.own_variance[:, 0]
    karts = data.present[:, 1:].any(axis=2).sum(axis=1)
    return [
        _enough(
            Shift(
                route="interleaved",
                estimate=float(result.own[b, 0]),
                standard_error=float(np.sqrt(variance[b])),
                dof=float(dof[b]),
                tau2=float(tau2[b]),
                lap_noise_share=float(m[b] / (m[b] + tau2[b])),
                others=int(karts[b]),
                history_used=history is not None,
            )
        )
        for b in range(len(tau2))
    ]


def _blocked(batch: Batch) -> list[Shift]:
    found = contrasts(batch.pace, batch.variance, batch.design)
    plain = _single_case_shifts(found, NO_HISTORY)
    if batch.history.weight:
        with_history = _single_case_shifts(found, batch.history)
        return [_with_history(*pair) for pair in zip(plain, with_history, strict=True)]
    if batch.history.steps is None:
        return plain
    with_steps = _single_case_shifts(found, NO_HISTORY, batch.history.steps)
    return [_with_steps(*pair) for pair in zip(plain, with_steps, strict=True)]


def _single_case_shifts(found: Contrasts, history: History, steps: OtherSteps | None = None) -> list[Shift]:
    case = single_case(found, history.weight, history.half_mean_square, steps=steps)
    signal = case.tau2 * found.size[:, 0]
    return [
        _enough(
            Shift(
                route="blocked",
                estimate=float(case.estimate[b]),
                standard_error=float(np.sqrt(case.variance[b])),
                dof=float(case.dof[b]),
                tau2=float(case.tau2[b]),
                lap_noise_share=float(found.noise[b, 0] / (found.noise[b, 0] + signal[b])),
                others=int(case.others[b]),
                history_used=history.weight > 0,
                steps_used=steps is not None,
            )
        )
        for b in range(len(case.estimate))
    ]


def _with_history(without: Shift, with_it: Shift) -> Shift:
    """The shift with the history, unless the day, with 1 df or more of its own, contradicts the history."""
    if without.dof >= 1 and conflicts(
        without.standard_error, without.dof, with_it.standard_error, with_it.dof
    ):
        return replace(_enough(without), history_left_out=True)
    return with_it


def _with_steps(without: Shift, with_them: Shift) -> Shift:
    """The shift with the day's other steps, where few karts say how far chance goes and do not contradict them."""
    if without.dof >= FEW_DOF or with_them.dof <= without.dof:
        return without
    if conflicts(without.standard_error, without.dof, with_them.standard_error, with_them.dof):
        return replace(without, steps_left_out=True)
    return with_them


def _enough(shift: Shift) -> Shift:
    """The shift, or that nothing can be told because too little is left to judge the scatter by."""
    if shift.dof >= MIN_DOF:
        return shift
    return replace(shift, reason=f"only {shift.dof:.1f} degrees of freedom are left, two are needed")
