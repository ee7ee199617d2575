"""From a prepared day to the finding: shift, verdict, flags, reasons, and everything shown beside it."""

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from lapdelta.effect.alone import boundary_step
from lapdelta.effect.cellrows import cell_rows
from lapdelta.effect.checks import Check, Evidence, all_checks, flags_of
from lapdelta.effect.choices import HUBER, PLAIN, choices_table
from lapdelta.effect.day import Day, Prepared, batch_of, prepare
from lapdelta.effect.design import AFTER, BEFORE
from lapdelta.effect.fairness import track_state_alone_explains
from lapdelta.effect.finding import Finding
from lapdelta.effect.history import NO_HISTORY, History
from lapdelta.effect.measures import Measure
from lapdelta.effect.reasons import reasons_of
from lapdelta.effect.routes import link, shifts
from lapdelta.effect.sectors import part_shifts, sector_table
from lapdelta.effect.shift import Shift, told_nothing
from lapdelta.effect.sideviews import placebo_table, quantile_table
from lapdelta.effect.verdict import Judgement, judge

#: Standard errors below this are rounding, not scatter.
NO_SCATTER = 1e-9


@dataclass(frozen=True)
class Question:
    """What is asked of a day, and what is known beside the laps.

    Attributes:
        both: sessions named as before and as after at once.
        setup_differences: rows ``item, before, after``; None where no setup sheet was given.
        bundle: whether more than one thing differs.
    """

    measure: Measure
    margin: float
    confidence: float
    before: tuple[str, ...]
    after: tuple[str, ...]
    both: tuple[str, ...] = ()
    history: History = NO_HISTORY
    setup_differences: tuple[dict[str, Any], ...] | None = None
    bundle: bool = False
    changed_karts: tuple[str, ...] = ()
    fingerprint: str = ""
    settings: dict[str, Any] = field(default_factory=dict[str, Any])
    version: str = ""


def answer(day: Day, question: Question) -> Finding:
    """The finding for our kart (row 0 of the day)."""
    prepared = prepare(day, question.measure)
    shift = find_shift(day, prepared, question)
    judged = judge(shift, question.measure, question.margin, question.confidence)
    choices: list[dict[str, Any]] = []
    placebo: list[dict[str, Any]] = []
    if not question.both:
        placebo = placebo_table(day, prepared, shift)
        choices = choices_table(
            day, prepared, question.measure, question.margin, question.confidence, question.history
        )
    evidence = gather(day, prepared, question, shift, judged, placebo, choices)
    return _finding(day, prepared, question, evidence, all_checks(evidence))


def find_shift(day: Day, prepared: Prepared, question: Question) -> Shift:
    """The shift by the route that fits, or why nothing can be told."""
    refusal = _refusal(day, prepared, question)
    if refusal:
        return told_nothing(refusal)
    if question.measure.sector and prepared.sector is not None:
        lap = batch_of(day, prepared.sector.lap, prepared.used, question.history)
        found = part_shifts(lap, shifts(lap)[0], prepared.cells.pace[None])[0]
    else:
        found = shifts(batch_of(day, prepared.cells, prepared.used, question.history))[0]
    if found.told and found.standard_error < NO_SCATTER:
        return told_nothing(
            "nothing scatters here, so nothing says how far chance alone would go", found.route
        )
    return found


def _refusal(day: Day, prepared: Prepared, question: Question) -> str:
    if question.both:
        return f"session {', '.join(question.both)} is named both before and after the change"
    if question.measure.sector and prepared.sector is None:
        return "the printed sectors do not add up to the lap time, so they are not used"
    mine = np.isfinite(prepared.cells.pace[0])
    if track_state_alone_explains(prepared.state, day.design, mine):
        return "the track state changed: every session of one setting stands out, and none of the other"
    return ""


def gather(
    day: Day,
    prepared: Prepared,
    question: Question,
    shift: Shift,
    judged: Judgement,
    placebo: list[dict[str, Any]],
    choices: list[dict[str, Any]],
) -> Evidence:
    """What flags, checks and reasons are made from."""
    rows = {(row["choice"], row["setting"]): row["estimate"] for row in choices} if shift.told else {}
    return Evidence(
        day=day,
        prepared=prepared,
        measure=question.measure,
        shift=shift,
        judged=judged,
        companion=rows.get(HUBER),
        from_laps=rows.get(PLAIN, shift.estimate),
        placebo=tuple(placebo),
        choices=tuple(choices),
        setup_differences=question.setup_differences,
        bundle=question.bundle,
        changed_karts=question.changed_karts,
        history=question.history,
    )


def tipping_rate(day: Day, prepared: Prepared, shift: Shift) -> float | None:
    """Own improvement an hour (a session, where there is no clock) that alone would explain the shift.

    beta/(mean t after - mean t before), over the sessions that were compared; only where the order is blocked.
    """
    if not shift.told or shift.route not in ("blocked", "alone single case"):
        return None
    pace = np.where(prepared.used, prepared.cells.pace, np.nan)
    if shift.route == "alone single case":
        step = boundary_step(pace[0], day.design)
    else:
        mine = link(pace[None])[0][0, 0]
        after, before = mine & (day.design.level == AFTER), mine & (day.design.level == BEFORE)
        step = float(day.design.time[after].mean() - day.design.time[before].mean())
    return shift.estimate / step if step else None


def _finding(
    day: Day, prepared: Prepared, question: Question, evidence: Evidence, checks: tuple[Check, ...]
) -> Finding:
    shift, judged, measure = evidence.shift, evidence.judged, question.measure
    told = shift.told
    timed = measure.name == "lap_time" or measure.sector > 0
    share = shift.lap_noise_share
    base = shift if measure.name == "lap_time" and not question.history.weight else None
    return Finding(
        kart=day.karts[0],
        measure=measure.name,
        unit=measure.unit,
        before=question.before,
        after=question.after,
        estimate=shift.estimate if told else None,
        standard_error=shift.standard_error if told else None,
        low=judged.low,
        high=judged.high,
        dof=shift.dof if told else None,
        confidence=question.confidence,
        p_value=shift.p_value if told else None,
        margin=question.margin,
        verdict=judged.verdict,
        flags=flags_of(evidence),
        chance_better=judged.chance_better,
        chance_worthwhile=judged.chance_worthwhile,
        half_width=judged.half_width,
        smallest_margin=judged.smallest_margin,
        method=shift.route,
        reasons=reasons_of(evidence),
        checks=checks,
        cells=tuple(cell_rows(day, prepared, question.measure)),
        sectors=tuple(sector_table(day, prepared, question.confidence, base)) if told and timed else (),
        quantiles=tuple(quantile_table(day, prepared, question.confidence))
        if told and measure.name == "lap_time"
        else (),
        placebo=evidence.placebo,
        choices=evidence.choices,
        setup_differences=question.setup_differences or (),
        tipping_rate=tipping_rate(day, prepared, shift),
        lap_noise_share=share if told and np.isfinite(share) else None,
        fingerprint=question.fingerprint,
        settings=question.settings | {"pace": f"pace from {evidence.source}"},
        version=question.version,
    )
