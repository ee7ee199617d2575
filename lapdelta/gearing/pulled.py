"""Did the engine pull the taller gear?

A change of ratio by g = ln(ratio before / ratio after) would raise road speed by the factor exp(g) at
the same rpm. The share of it that shows is

    kappa_v = ln(v1/v0) / g        from top speed,
    kappa_r = 1 + ln(rpm1/rpm0)/g  from peak rpm:

1 = fully pulled (rpm kept), 0 = same speed (rpm fell by the ratio), below 0 = slower than before. The
two differ by the change of ln(circumference x (1 - slip)) over g, which makes a consistency test.
Standard errors must be those of sessions, not of laps: they come from ``compare`` on the measure.
"""

import math
from dataclasses import asdict, dataclass
from typing import Any, Literal

from lapdelta.gearing.checks import HIGHEST_RPM, HIGHEST_SPEED_KMH, GearingError, positive, within
from lapdelta.gearing.ratio import ratio

Measure = Literal["top_speed", "peak_rpm"]
Pull = Literal["fully", "partly", "not", "cannot be told"]

#: Half a percent of rolling circumference is within what tyre growth, wear and pressure do.
PLAUSIBLE_CIRCUMFERENCE_CHANGE = 0.005


@dataclass(frozen=True)
class Levels:
    """A measure before and after the change, with session-level standard errors.

    Attributes:
        before: level before, km/h or 1/min.
        after: level after, in the same unit.
        standard_error_before: of ``before``; 0 if ``standard_error_after`` holds that of the change.
        standard_error_after: of ``after``.
        dof: degrees of freedom of the errors; math.inf if they are known.
    """

    before: float
    after: float
    standard_error_before: float
    standard_error_after: float
    dof: float = math.inf

    @classmethod
    def from_change(cls, before: float, change: float, standard_error: float, dof: float) -> "Levels":
        """From a level before and an estimated change, as a finding of top speed or peak rpm gives it."""
        return cls(before, before + change, 0.0, standard_error, dof)


@dataclass(frozen=True)
class Share:
    """Share of a change of gear that shows in one measure.

    Attributes:
        measure: ``top_speed`` or ``peak_rpm``.
        kappa: the share.
        standard_error: of kappa.
        low, high: interval at the level asked.
        dof: degrees of freedom; None for infinite.
        verdict: fully, partly, not, cannot be told.
    """

    measure: str
    kappa: float
    standard_error: float
    low: float
    high: float
    dof: float | None
    verdict: Pull

    def to_dict(self) -> dict[str, Any]:
        """Plain values for ``--json``."""
        return asdict(self)


@dataclass(frozen=True)
class Pulled:
    """The answer to "did the engine pull it?".

    Attributes:
        log_ratio_change: g; plus = taller gear.
        speed: share in top speed, or None.
        rpm: share in peak rpm, or None.
        rests_on: the measure the verdict rests on, or None.
        verdict: fully, partly, not, cannot be told.
        difference: kappa_v - kappa_r, or None.
        difference_low, difference_high: its interval, or None.
        consistent: the interval of the difference contains 0; None without both measures.
        circumference_kappa: how far half a percent of rolling circumference moves kappa_v.
        reasons: sentences: why it cannot be told, what is inconsistent.
        could_fake: sentences: what else would look the same.
        sentence: the answer in words.
    """

    log_ratio_change: float
    speed: Share | None
    rpm: Share | None
    rests_on: str | None
    verdict: Pull
    difference: float | None
    difference_low: float | None
    difference_high: float | None
    consistent: bool | None
    circumference_kappa: float
    reasons: tuple[str, ...]
    could_fake: tuple[str, ...]
    sentence: str

    def to_dict(self) -> dict[str, Any]:
        """Plain values for ``--json``."""
        return asdict(self)


def pulled(
    pair_before: tuple[int, int],
    pair_after: tuple[int, int],
    *,
    top_speed: Levels | None = None,
    peak_rpm: Levels | None = None,
    lead: Measure = "top_speed",
    systematic: float = 0.0,
    confidence: float = 0.95,
) -> Pulled:
    """Share of a change of gear that shows in top speed and peak rpm, with a verdict.

    Fully if the interval of kappa contains 1 and not 0, not if 0 and not 1, partly if it lies between
    and holds neither, else it cannot be told.

    Args:
        pair_before: (engine teeth, axle teeth) before.
        pair_after: the same after.
        top_speed: levels in km/h; None if the file has no speed.
        peak_rpm: levels in 1/min; None if the file has no rpm.
        lead: the measure the verdict rests on if both are given. Fixed before looking: taking the
            narrower interval instead covers the truth less often than it says.
        systematic: relative uncertainty of the speed ratio that the sessions cannot show (wind, a tow,
            circumference), as a standard deviation; .002 = 0.2 %.
        confidence: level of the intervals.

    Raises:
        GearingError: teeth, levels or errors that cannot be, or two pairs of the same ratio.
    """
    change = math.log(ratio(*pair_before) / ratio(*pair_after))
    if change == 0.0:
        raise GearingError(
            f"{pair_before[0]}/{pair_before[1]} and {pair_after[0]}/{pair_after[1]} are the same ratio: "
            "there is nothing to pull.",
            "Give two pairs of different ratio.",
            "pair_after",
        )
    if lead not in ("top_speed", "peak_rpm"):
        raise GearingError(f"{lead!r} cannot lead.", "Say top_speed or peak_rpm.", "lead")
    within(confidence, "confidence", 0.5, 0.9999, "")
    within(systematic, "systematic", 0.0, 0.1, "", "A relative standard deviation: 0.002 means 0.2 %.")
    speed = _share("top_speed", top_speed, change, systematic, confidence) if top_speed else None
    rpm = _share("peak_rpm", peak_rpm, change, 0.0, confidence) if peak_rpm else None
    return _answer(change, speed, rpm, lead, confidence)


def _share(measure: str, levels: Levels, change: float, systematic: float, confidence: float) -> Share:
    """kappa of one measure; relative errors in quadrature (delta method on the logarithm)."""
    top, unit = (HIGHEST_SPEED_KMH, "km/h") if measure == "top_speed" else (HIGHEST_RPM, "1/min")
    before = within(levels.before, f"{measure} before", 1.0, top, unit)
    after = within(levels.after, f"{measure} after", 1.0, top, unit)
    error_before = within(levels.standard_error_before, f"{measure} standard error", 0.0, before, unit)
    error_after = within(levels.standard_error_after, f"{measure} standard error", 0.0, after, unit)
    if levels.dof != math.inf:
        positive(levels.dof, f"{measure} degrees of freedom", "degrees of freedom")
    sampled = (error_before / before) ** 2 + (error_after / after) ** 2
    total = sampled + systematic**2
    if total <= 0.0:
        raise GearingError(
            f"A standard error of zero for {measure} cannot be.",
            "Give the session-level standard error that compare prints for this measure.",
            measure,
        )
    # Satterthwaite: the systematic part is stated, not estimated, so it adds no uncertainty of its own
    dof = levels.dof * (total / sampled) ** 2 if sampled > 0.0 else math.inf
    kappa = math.log(after / before) / change + (1.0 if measure == "peak_rpm" else 0.0)
    error = math.sqrt(total) / abs(change)
    half = _quantile(dof, confidence) * error
    low, high = kappa - half, kappa + half
    return Share(measure, kappa, error, low, high, None if dof == math.inf else dof, pull_verdict(low, high))


def _quantile(dof: float, confidence: float) -> float:
    from scipy import special  # here: the rest of gearing answers without its 0.2 s

    level = 0.5 + confidence / 2.0
    return float(special.ndtri(level)) if dof == math.inf else float(special.stdtrit(dof, level))


def pull_verdict(low: float, high: float) -> Pull:
    """The verdict that an interval of kappa allows."""
    holds_zero, holds_one = low <= 0.0 <= high, low <= 1.0 <= high
    if holds_one and not holds_zero:
        return "fully"
    if holds_zero and not holds_one:
        return "not"
    return "partly" if low > 0.0 and high < 1.0 else "cannot be told"


def _answer(
    change: float, speed: Share | None, rpm: Share | None, leading: Measure, confidence: float
) -> Pulled:
    difference, low, high = _difference(speed, rpm, confidence)
    consistent = None if low is None or high is None else low <= 0.0 <= high
    lead = (rpm or speed) if leading == "peak_rpm" else (speed or rpm)
    verdict: Pull = lead.verdict if lead is not None and consistent is not False else "cannot be told"
    circumference_kappa = PLAUSIBLE_CIRCUMFERENCE_CHANGE / abs(change)
    return Pulled(
        log_ratio_change=change,
        speed=speed,
        rpm=rpm,
        rests_on=lead.measure if lead else None,
        verdict=verdict,
        difference=difference,
        difference_low=low,
        difference_high=high,
        consistent=consistent,
        circumference_kappa=circumference_kappa,
        reasons=_reasons(lead, consistent, difference, change),
        could_fake=_could_fake(change, circumference_kappa),
        sentence=_sentence(verdict, lead, change, confidence),
    )


def _difference(
    speed: Share | None, rpm: Share | None, confidence: float
) -> tuple[float | None, float | None, float | None]:
    """kappa_v - kappa_r with its interval, errors taken as independent (wide if they move together)."""
    if speed is None or rpm is None:
        return None, None, None
    variances = (speed.standard_error**2, rpm.standard_error**2)
    total = sum(variances)
    spread = sum(
        part**2 / share.dof
        for part, share in zip(variances, (speed, rpm), strict=True)
        if share.dof is not None
    )
    half = _quantile(total**2 / spread if spread > 0.0 else math.inf, confidence) * math.sqrt(total)
    difference = speed.kappa - rpm.kappa
    return difference, difference - half, difference + half


def _reasons(
    lead: Share | None, consistent: bool | None, difference: float | None, change: float
) -> tuple[str, ...]:
    if lead is None:
        return ("There is neither a top speed nor a peak rpm to judge by.",)
    reasons: list[str] = []
    if consistent is False and difference is not None:
        percent = 100.0 * difference * change
        reasons.append(
            "Speed and rpm do not agree: together they say that the rolling circumference moved by "
            f"{percent:+.1f} %, or that wind, a tow or a sensor acted on one of them."
        )
    if lead.verdict == "cannot be told" and lead.low <= 0.0 and lead.high >= 1.0:
        reasons.append(
            "The interval reaches from not at all to fully: more sessions or a bigger step is needed."
        )
    elif lead.high < 0.0:
        reasons.append("Speed moved against the gear: over-geared, or wind, a tow or the tyres acted.")
    elif lead.low > 1.0:
        reasons.append(
            "More than the gear can give: something else acted as well (wind, a tow, tyres, engine)."
        )
    return tuple(reasons)


def _could_fake(change: float, circumference_kappa: float) -> tuple[str, ...]:
    return (
        f"Half a percent of rolling circumference (pressure, wear, another set of tyres) acts on speed like "
        f"{circumference_kappa:.2f} of this change of gear ({_percent(change):.1f} %).",
        "A tow down the straight raises speed and rpm like a gear that is pulled: use laps clear of traffic.",
        "Wind along the straight acts on speed and rpm alike: use the same straight, sessions close in time.",
    )


def _percent(change: float) -> float:
    """Size of a change of gear as it is said: how far the taller one is above the other, percent."""
    return 100.0 * (math.exp(abs(change)) - 1.0)


def _sentence(verdict: Pull, lead: Share | None, change: float, confidence: float) -> str:
    gear = f"{'taller' if change > 0 else 'shorter'} gear ({_percent(change):.1f} %)"
    if lead is None:
        return f"Whether the engine pulled the {gear} cannot be told: no top speed and no peak rpm."
    name = "top speed" if lead.measure == "top_speed" else "peak rpm"
    shown = f"{100 * lead.kappa:.0f} % of it shows in {name}"
    limits = f"the {100 * confidence:.0f} % range is {100 * lead.low:.0f} to {100 * lead.high:.0f} %"
    heads: dict[Pull, str] = {
        "fully": f"The engine pulled the {gear} as fully as can be seen",
        "partly": f"The engine pulled the {gear} partly",
        "not": f"The engine did not pull the {gear}: speed stayed as it was, as far as can be seen",
        "cannot be told": f"Whether the engine pulled the {gear} cannot be told",
    }
    return f"{heads[verdict]}; {shown}, {limits}."
