"""Where on the lap: shifts of the sectors that add up to the shift of the lap.

Every sector is fitted with the lap's laps, weights, design and tau^2; only the scale comes from the
sector's own residuals. The estimate is then the same linear function of the paces in each.
"""

from dataclasses import replace
from typing import Any

import numpy as np

from lapdelta.effect.alone import parts_alone
from lapdelta.effect.arrays import Floats
from lapdelta.effect.cellfit import fit
from lapdelta.effect.contrast import contrasts, single_case
from lapdelta.effect.day import Day, Prepared, batch_of
from lapdelta.effect.routes import Batch, cell_data, link, shifts
from lapdelta.effect.shift import Shift, told_nothing

NAMED_BELOW = 0.05  # Holm p


def part_shifts(lap: Batch, base: Shift, parts: Floats) -> list[Shift]:
    """Shifts of parts of a lap (parts by karts by sessions, s), given the lap's one problem and its shift."""
    if not base.told:
        return [told_nothing(base.reason, base.route)] * len(parts)
    linked, _ = link(lap.pace)
    count = len(parts)
    variance = np.repeat(lap.variance, count, axis=0)
    if base.route == "interleaved":
        batch = replace(lap, pace=np.where(linked, parts, np.nan), variance=variance)
        data = cell_data(batch)
        result = fit(data, np.full(count, base.tau2))
        dof = data.dof.astype(float)
        q = result.residual_squares / np.maximum(dof, 1e-9)
        return _parts(base, result.own[:, 0], q * result.own_variance[:, 0], dof)
    if base.route == "blocked":
        found = contrasts(np.where(linked, parts, np.nan), variance, lap.design)
        case = single_case(found, tau2=np.full(count, base.tau2))
        return _parts(base, case.estimate, case.variance, case.dof)
    return [parts_alone(part[0], lap.variance[0, 0], lap.design, base) for part in parts]


def _parts(base: Shift, estimate: Floats, variance: Floats, dof: Floats) -> list[Shift]:
    out: list[Shift] = []
    for value, square, degrees in zip(estimate, variance, dof, strict=True):
        reason = "" if degrees >= 2 else "too few other karts for the sectors"
        out.append(
            replace(
                base,
                estimate=float(value),
                standard_error=float(np.sqrt(square)),
                dof=float(degrees),
                reason=reason,
                history_used=False,
            )
        )
    return out


def sector_parts(prepared: Prepared) -> Floats:
    """Parts by karts by sessions: the sectors, then what the printed sectors leave of a pace from laps."""
    sector = prepared.sector
    if sector is None:
        return np.empty((0, *prepared.lap.pace.shape))
    paces = np.moveaxis(sector.sectors, -1, 0)
    if prepared.sharp is not None:
        return paces  # the lap's pace is their sum: nothing is left
    return np.concatenate([paces, (sector.lap.pace - paces.sum(axis=0))[None]])


def sector_table(
    day: Day, prepared: Prepared, confidence: float, lap_shift: Shift | None = None
) -> list[dict[str, Any]]:
    """Rows ``measure, estimate, standard_error, low, high, p_value, holm_p, named``; s.

    Intervals are Bonferroni over the sectors, p values Holm; a sector is named only if its Holm p < .05.
    The lap's own shift is used again where every kept lap has its sectors.
    """
    if prepared.sector is None:
        return []
    lap = batch_of(day, prepared.sector.lap, prepared.used)
    complete = np.array_equal(prepared.sector.lap.laps, prepared.cells.laps)
    base = lap_shift if lap_shift is not None and complete else shifts(lap)[0]
    found = part_shifts(lap, base, sector_parts(prepared))
    if not found or not all(shift.told for shift in found):
        return []
    count = prepared.sector.sectors.shape[-1]
    adjusted = holm([shift.p_value for shift in found[:count]])
    level = 1 - (1 - confidence) / max(count, 1)
    rows: list[dict[str, Any]] = []
    for i, shift in enumerate(found):
        low, high = shift.interval(level)
        in_sector = i < count
        rows.append(
            {
                "measure": f"sector_{i + 1}" if in_sector else "not_in_a_sector",
                "estimate": shift.estimate,
                "standard_error": shift.standard_error,
                "low": low,
                "high": high,
                "p_value": shift.p_value,
                "holm_p": adjusted[i] if in_sector else None,
                "named": in_sector and adjusted[i] < NAMED_BELOW,
            }
        )
    return rows


def holm(p_values: list[float]) -> list[float]:
    """Holm's step-down adjusted p values (Holm 1979, from memory)."""
    order: list[int] = np.argsort(np.asarray(p_values, float)).tolist()
    adjusted, largest = [0.0] * len(p_values), 0.0
    for rank, index in enumerate(order):
        largest = max(largest, min(1.0, (len(p_values) - rank) * p_values[index]))
        adjusted[index] = largest
    return adjusted
