"""From a shift to one of five verdicts (two one-sided tests: Schuirmann 1987, from memory)."""

from dataclasses import dataclass

from lapdelta.effect.distributions import t_quantile
from lapdelta.effect.finding import Verdict
from lapdelta.effect.measures import Measure
from lapdelta.effect.shift import Shift


@dataclass(frozen=True)
class Judgement:
    """Verdict and the numbers beside it, in the measure's unit; None where nothing can be told."""

    verdict: Verdict
    less_than_worthwhile: bool = False
    low: float | None = None
    high: float | None = None
    half_width: float | None = None
    smallest_margin: float | None = None
    chance_better: float | None = None
    chance_worthwhile: float | None = None


def judge(shift: Shift, measure: Measure, margin: float, confidence: float) -> Judgement:
    """The verdict at that confidence 1 - a; the equivalence interval is the 1 - 2a one."""
    if not shift.told:
        return Judgement("cannot be told")
    low, high = shift.interval(confidence)
    inner_low, inner_high = shift.interval(2 * confidence - 1)
    inside = -margin < inner_low and inner_high < margin
    verdict: Verdict = "not settled"
    if low > 0 or high < 0:
        verdict = "faster" if (low > 0) == (measure.verdict_sign > 0) else "slower"
    elif inside:
        verdict = "no worthwhile difference"
    one_sided = float(t_quantile(shift.dof, confidence)) * shift.standard_error
    better, worthwhile = _chances(shift, measure, margin)
    return Judgement(
        verdict=verdict,
        less_than_worthwhile=inside and verdict in ("faster", "slower"),
        low=low,
        high=high,
        half_width=(high - low) / 2,
        smallest_margin=abs(shift.estimate) + one_sided,
        chance_better=better,
        chance_worthwhile=worthwhile,
    )


def _chances(shift: Shift, measure: Measure, margin: float) -> tuple[float | None, float | None]:
    """P(better) and P(better by more than the margin), flat prior; None where neither way is better."""
    if measure.better == 0:
        return None, None
    if measure.better < 0:
        return shift.chance_below(0.0), shift.chance_below(-margin)
    return 1 - shift.chance_below(0.0), 1 - shift.chance_below(margin)
