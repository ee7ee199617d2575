"""What to do now: the step that follows from a verdict, and the cautions that belong beside it."""

import math
from typing import Final

from lapdelta.effect.finding import Finding
from lapdelta.sheet.subject import changed_sprockets
from lapdelta.words import amount, measure_kind, measure_name, phrase

#: More sessions than this many times the present ones is no advice; a bigger step or more days is.
_MOST_SESSIONS_FACTOR: Final = 4
#: With fewer other karts than this one is as good as alone (K < 2), and a block cannot be judged (n < 3).
_OTHERS_AT_ALL, _OTHERS_FOR_A_BLOCK = 2, 3


def what_now(finding: Finding, language: str = "en") -> list[str]:
    """What to do now, one or more sentences; cautions last."""
    if finding.verdict == "cannot be told":
        measure = measure_name(finding.measure, language)
        steps = [phrase(f"now.cure.{missing_piece(finding)}", language, measure=measure)]
    elif finding.verdict == "not settled":
        steps = _settle(finding, language)
    elif finding.verdict == "no worthwhile difference":
        steps = [phrase("now.small", language)]
    else:
        steps = _act(finding, language)
    cautions = [phrase("caution.sprockets", language)] if changed_sprockets(finding) else []
    return [*steps, *cautions]


def missing_piece(finding: Finding) -> str:
    """Which cure fits a question that cannot be told: the first thing that its cells lack."""
    if set(finding.before) & set(finding.after):
        return "both"
    if never_measured(finding):
        return "no_measure"
    for setting in ("before", "after"):
        if not any(
            cell["ours"] and cell["setting"] == setting and cell["pace"] is not None for cell in finding.cells
        ):
            return f"no_{setting}"
    others = {cell["kart"] for cell in finding.cells if not cell["ours"] and cell["pace"] is not None}
    if len(others) < _OTHERS_AT_ALL:
        return "no_others"
    return "few_others" if len(others) < _OTHERS_FOR_A_BLOCK else "any"


def never_measured(finding: Finding) -> bool:
    """Whether no kart has the measure in any session: the files do not hold it, and more laps would not help."""
    held = measure_kind(finding.measure) in ("speed", "rpm", "sector")
    return held and bool(finding.cells) and all(cell["pace"] is None for cell in finding.cells)


def _act(finding: Finding, language: str) -> list[str]:
    """Keep or undo; a change in top speed, engine speed or one sector is no reason to do either."""
    kind = measure_kind(finding.measure)
    if kind != "lap":
        return [phrase("now.other_measure", language, measure=measure_name(finding.measure, language))]
    if "less_than_worthwhile" in finding.flags:
        return [phrase("now.small", language)]
    if finding.verdict == "slower":
        return [phrase("now.back", language)]
    return [phrase("now.keep.blocked" if "own_progress" in finding.flags else "now.keep", language)]


def _settle(finding: Finding, language: str) -> list[str]:
    """How many more sessions like these the worthwhile margin takes; the half-width falls with their root.

    That is too hopeful where few other karts or the kart's own mood set the limit, so the factor is
    said as "about", and no more than a few times.
    """
    steps = [phrase("now.open", language), phrase("now.open.order", language)]
    if not finding.half_width:
        return steps
    margin = amount(finding.measure, finding.margin, language)
    factor = math.ceil((finding.half_width / finding.margin) ** 2)
    if factor > _MOST_SESSIONS_FACTOR:
        return [*steps, phrase("now.open.hopeless", language, margin=margin)]
    return [*steps, phrase("now.open.sessions", language, margin=margin, factor=max(2, factor))]
