"""Two more ways to look at the same day: the shift by quantile, and every other kart as if it were ours."""

from typing import Any

import numpy as np

from lapdelta.effect.contrast import contrasts, single_case
from lapdelta.effect.day import Day, Prepared, batch_of
from lapdelta.effect.pace import quantile_pace
from lapdelta.effect.routes import MIN_DOF, MIN_OTHERS_BLOCKED, Batch, link, shifts
from lapdelta.effect.scale import QUICK
from lapdelta.effect.shift import Shift

QUANTILES = (0.10, 0.25, 0.50, 0.75)


def quantile_table(day: Day, prepared: Prepared, confidence: float) -> list[dict[str, Any]]:
    """Rows ``quantile, estimate, standard_error, low, high, dof`` (s), Bonferroni over the quantiles.

    Blocked route whatever the order: the same contrast in every kart (Doksum 1974 for the shift
    function, from memory). Empty where fewer than three other karts can be compared.
    """
    used = prepared.used
    cells = [quantile_pace(day.cube, prepared.screened, prepared.lap, q) for q in QUANTILES]
    pace = np.stack([np.where(used, c.pace, np.nan) for c in cells])
    variance = np.stack([c.variance for c in cells])
    linked, _ = link(pace)
    found = contrasts(np.where(linked, pace, np.nan), variance, day.design)
    case = single_case(found)
    rows: list[dict[str, Any]] = []
    level = 1 - (1 - confidence) / len(QUANTILES)
    for i, q in enumerate(QUANTILES):
        possible = case.others[i] >= MIN_OTHERS_BLOCKED and case.dof[i] >= MIN_DOF
        if not possible or not np.isfinite(case.estimate[i]):
            return []
        shift = Shift(
            "blocked", "", float(case.estimate[i]), float(np.sqrt(case.variance[i])), float(case.dof[i])
        )
        low, high = shift.interval(level)
        rows.append(
            {
                "quantile": q,
                "estimate": shift.estimate,
                "standard_error": shift.standard_error,
                "low": low,
                "high": high,
                "dof": shift.dof,
            }
        )
    return rows


def placebo_table(day: Day, prepared: Prepared, ours: Shift) -> list[dict[str, Any]]:
    """Rows ``kart, ours, shift``: the same estimate with every comparable other kart in our place.

    Our kart is left out of those, since its change is not theirs; karts without an estimate are left out.
    Where old and new setting alternate the weights are those of our own estimate (its tau^2).
    """
    rows: list[dict[str, Any]] = []
    if ours.told:
        rows.append({"kart": day.karts[0], "ours": True, "shift": ours.estimate})
    batch = batch_of(day, prepared.cells, prepared.used)
    others = np.flatnonzero(np.isfinite(batch.pace[0, 1:]).any(axis=1)) + 1
    if len(others) < 2:
        return rows
    order = np.stack([np.concatenate([[k], others[others != k]]) for k in others])
    tau2 = ours.tau2 if ours.told and ours.route == "interleaved" else None
    turned = Batch(batch.pace[0][order], batch.variance[0][order], day.design, search=QUICK, tau2=tau2)
    for k, shift in zip(others.tolist(), shifts(turned), strict=True):
        if np.isfinite(shift.estimate):
            rows.append({"kart": day.karts[k], "ours": False, "shift": shift.estimate})
    return rows
