"""Did the engine pull the gear, from findings: errors are those of sessions, by the route of ``compare``."""

from dataclasses import replace
from statistics import fmean

from lapdelta.effect.finding import Finding
from lapdelta.errors import QuestionError
from lapdelta.gearing.pulled import Levels, Measure, Pulled, pulled


def pulled_from(
    pair_before: tuple[int, int],
    pair_after: tuple[int, int],
    *,
    top_speed: Finding | None = None,
    peak_rpm: Finding | None = None,
    lead: Measure = "top_speed",
    systematic: float = 0.0,
    confidence: float = 0.95,
) -> Pulled:
    """``gearing.pulled`` with the levels and errors of one or two findings.

    Args:
        pair_before: (engine teeth, axle teeth) before.
        pair_after: the same after.
        top_speed: finding of the measure ``top_speed``; None without one.
        peak_rpm: finding of the measure ``peak_rpm``; None without one.
        lead, systematic, confidence: as ``gearing.pulled`` has them.

    Raises:
        QuestionError: a finding of another measure.
        GearingError: teeth that cannot be, or two pairs of the same ratio.
    """
    speed, rpm = _levels(top_speed, "top_speed"), _levels(peak_rpm, "peak_rpm")
    answer = pulled(
        pair_before,
        pair_after,
        top_speed=speed,
        peak_rpm=rpm,
        lead=lead,
        systematic=systematic,
        confidence=confidence,
    )
    untold = [
        f"{finding.measure.replace('_', ' ')}: {' '.join(finding.reasons) or 'cannot be told'}"
        for finding, levels in ((top_speed, speed), (peak_rpm, rpm))
        if finding is not None and levels is None
    ]
    return replace(answer, reasons=(*answer.reasons, *untold))


def _levels(finding: Finding | None, measure: str) -> Levels | None:
    """Level before from our own sessions, change and error from the finding; None if it tells nothing."""
    if finding is None:
        return None
    if finding.measure != measure:
        raise QuestionError(
            f"A finding of {finding.measure} stands where one of {measure} is needed.",
            f"Compare the same sessions with the measure {measure}.",
            measure,
        )
    paces = [
        cell["pace"]
        for cell in finding.cells
        if cell["ours"] and cell["setting"] == "before" and cell["pace"] is not None
    ]
    if finding.estimate is None or finding.standard_error is None or finding.dof is None or not paces:
        return None
    return Levels.from_change(fmean(paces), finding.estimate, finding.standard_error, finding.dof)
