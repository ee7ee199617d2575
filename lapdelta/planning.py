"""Plan the next test: which setting in which session, and what it will be able to see."""

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from lapdelta.effect.measures import Measure, find_measure
from lapdelta.effect.planning import LookPlan, TestPlan, Wish, make_plan
from lapdelta.effect.power import (
    LAP_FACTORS,
    MIDDLE_HALF_FACTOR,
    MOST_DAYS,
    Noise,
    PaceKind,
    Setting,
    option,
)
from lapdelta.errors import QuestionError

if TYPE_CHECKING:
    import polars as pl

#: Taken where nothing is known of the day: common practice, no source. Seconds a lap.
ASSUMED_SESSION_SD_S, ASSUMED_LAP_SD_S, ASSUMED_OTHER_KARTS = 0.10, 0.28, 8
#: Laps of a practice session where the user says nothing, out lap included (common practice).
USUAL_LAPS = 10
#: The out lap and three usable ones.
FEWEST_LAPS, MOST_LAPS = 4, 200
MOST_SESSIONS_LEFT = 20
#: Sectors a plan may be asked for without laps at hand.
MOST_SECTORS = 30


def plan_test(
    laps: "pl.DataFrame | None" = None,
    *,
    sessions_left: int,
    laps_per_session: int = USUAL_LAPS,
    kart: str | None = None,
    sessions: Sequence[str] | None = None,
    event: str | None = None,
    measure: str = "lap_time",
    margin: float | None = None,
    session_sd: float | None = None,
    lap_sd: float | None = None,
    other_karts: int | None = None,
    pace: PaceKind = "laps",
    track_sd: float | None = None,
    looks: LookPlan = "at the end",
    random_order: bool = False,
    seed: int | None = None,
    expected: float | None = None,
    confidence: float = 0.95,
    power: float = 0.80,
) -> TestPlan:
    """Plan a test from the day's own karts, or from stated noise.

    Args:
        laps: tables.LAPS or EVENT_LAPS of the day; its other karts say how much sessions and laps scatter.
        sessions_left: sessions that can still be run, 2 to 20.
        laps_per_session: laps of a session, out lap included.
        kart: ours; left out of the noise, since its setup may have been changed.
        sessions: labels of the sessions to learn from; None takes all.
        event: the event to learn from, if ``laps`` holds several.
        measure: ``lap_time``, ``sector_1``.., ``top_speed`` or ``peak_rpm``.
        margin: worthwhile margin in the measure's unit; None takes the measure's usual one.
        session_sd: tau, in the measure's unit; overrides the laps.
        lap_sd: sigma, in the measure's unit; overrides the laps.
        other_karts: karts to compare with; None counts those of the laps.
        pace: what the pace of a session will be taken from.
        track_sd: unevenness of the track from session to session beyond a straight trend; needed only
            without other karts.
        looks: when to look before the end; declared now or not at all.
        random_order: draw the order at random and seal it with its list, for the exact test.
        seed: of the draw.
        expected: the most the change is expected to do, in the measure's unit (for a gear, from
            ``gearing.expected_shift``); the plan says if the test cannot see that.
        confidence, power: of the smallest effects.

    Raises:
        QuestionError: a value outside its range, too few laps to learn from, an order that cannot be sealed.
    """
    _check("sessions_left", sessions_left, 2, MOST_SESSIONS_LEFT)
    _check("laps_per_session", laps_per_session, FEWEST_LAPS, MOST_LAPS)
    _check("confidence", confidence, 0.5, 0.999)
    _check("power", power, 0.5, 0.99)
    if pace not in LAP_FACTORS:
        raise QuestionError(
            f"{pace!r} is not a kind of pace.", f"Say one of {', '.join(LAP_FACTORS)}.", "pace"
        )
    wanted = _measure(measure)
    learnt: dict[str, Noise] = {}
    karts = other_karts
    if laps is not None:
        from lapdelta.planning_laps import noise_of_the_day

        learnt, counted = noise_of_the_day(laps, kart, sessions, event, LAP_FACTORS[pace])
        karts = counted if karts is None else karts
    karts = ASSUMED_OTHER_KARTS if karts is None else int(_check("other_karts", karts, 0, 200))
    noise = _noise(wanted, learnt, session_sd, lap_sd, pace)
    worth = wanted.margin if margin is None else margin
    if expected is not None:
        _check("expected", expected, 0.0, 1e6)
    if not worth > 0:
        raise QuestionError(
            f"A margin of {worth!r} cannot be.", "Give a worthwhile margin above 0.", "margin"
        )
    setting = Setting(noise, laps_per_session - 1, karts, confidence, power, track_sd)
    wish = Wish(
        wanted.name, wanted.unit, worth, sessions_left, laps_per_session, looks, random_order, seed, expected
    )
    plan = make_plan(wish, setting)
    plan = replace(plan, also=_also(plan, setting, learnt))
    return replace(plan, sentences=tuple(_sentences(plan)))


def _check(name: str, value: float, low: float, high: float) -> float:
    if isinstance(value, bool) or not low <= value <= high:
        raise QuestionError(
            f"{value!r} is outside {low:g} to {high:g}.", "Give a value inside that range.", name
        )
    return value


def _measure(name: str) -> Measure:
    found = find_measure(name, MOST_SECTORS)
    if found is None:
        raise QuestionError(
            f"{name!r} is not a measure.",
            "Say lap_time, sector_1 and so on, top_speed or peak_rpm.",
            "measure",
        )
    return found


def _noise(
    measure: Measure, learnt: dict[str, Noise], session_sd: float | None, lap_sd: float | None, pace: PaceKind
) -> Noise:
    """Stated before learnt before assumed; assumed only for the lap time."""
    known = learnt.get(measure.name)
    factor = LAP_FACTORS[pace] if measure.unit == "s" else MIDDLE_HALF_FACTOR
    if session_sd is not None and lap_sd is not None:
        return Noise(session_sd, lap_sd, factor, "stated")
    if known is None and measure.name == "lap_time":
        source = (
            "assumed (common practice, no source)"
            if session_sd is None and lap_sd is None
            else "stated in part, the rest assumed"
        )
        known = Noise(ASSUMED_SESSION_SD_S, ASSUMED_LAP_SD_S, factor, source)
    if known is None:
        raise QuestionError(
            f"Nothing is known of how {measure.name} scatters.",
            f"Give session_sd and lap_sd in {measure.unit}, or laps that have this measure.",
            "session_sd",
        )
    if session_sd is not None:
        known = replace(known, session_sd=session_sd)
    return known if lap_sd is None else replace(known, lap_sd=lap_sd, lap_factor=factor)


def _also(plan: TestPlan, setting: Setting, learnt: dict[str, Noise]) -> tuple[dict[str, Any], ...]:
    """What the recommended order would see in the day's other measures."""
    rows: list[dict[str, Any]] = []
    for name, noise in learnt.items():
        if name == plan.measure or plan.recommended is None:
            continue
        measure = _measure(name)
        seen = option(plan.recommended, replace(setting, noise=noise), measure.margin)
        rows.append(
            {
                "measure": name,
                "unit": measure.unit,
                "margin": measure.margin,
                "smallest_effect": seen.smallest_effect,
                "settles": seen.settles,
            }
        )
    return tuple(rows)


def _sentences(plan: TestPlan) -> list[str]:
    """What to tell the user, most important first."""
    if plan.recommended is None or plan.smallest_effect is None:
        reasons = sorted({one.reason for one in plan.options if one.reason})
        return ["This day cannot settle it: no order that fits gives an interval.", *reasons]
    chance = "4 days out of 5" if plan.power == 0.80 else f"{plan.power:.0%} of days"
    said = [
        f"Run {' '.join(plan.recommended)}: A is the setting before, B the one after, "
        f"{plan.laps_per_session} laps a session with the out lap.",
        f"One such day sees a change of {plan.smallest_effect:.2g} {plan.unit} or more in {chance}.",
        _verdict_sentence(plan),
        f"{round(20 * plan.lap_share)} in 20 parts of a session's scatter are laps (more laps or a sharper "
        "pace help), the rest is what a session does to one kart (only more sessions or days help).",
        _looks_sentence(plan),
    ]
    if (
        not any(one.order == plan.recommended and one.interleaved for one in plan.options)
        and plan.draw is None
    ):
        said.append("One block after the other cannot tell the change from our driver's own progress.")
    if plan.expected is not None and plan.expected < plan.smallest_effect:
        said.insert(
            3,
            f"The change is expected to do {plan.expected:.2g} {plan.unit} at most, less than this day can "
            "see: it will most likely end as not settled.",
        )
    if plan.draw is not None:
        said.append(
            f"The order was drawn from {len(plan.draw.orders)} and is sealed with them; run exactly this "
            "order. The exact test needs a bigger change than a fixed balanced order does."
        )
    if plan.noise.source != "stated":
        said.append(f"The scatter is {plan.noise.source}.")
    return said


def _looks_sentence(plan: TestPlan) -> str:
    if plan.looks:
        looks = ((sessions, f"{p:.5f}".rstrip("0")) for sessions, p in plan.looks)
        at = ", ".join(f"after {sessions} sessions if p is below {p}" for sessions, p in looks)
        return f"Looks declared now: call it {at}; not otherwise."
    return (
        "Look once, at the end: looking after every session calls a change in "
        f"{plan.undeclared_looking:.0%} of tests where there is none."
    )


def _verdict_sentence(plan: TestPlan) -> str:
    """Said before the day is spent: can it settle the margin, and if not, what could."""
    margin = f"{plan.margin:g} {plan.unit}"
    if plan.settles:
        return f"That is enough for the worthwhile margin of {margin}."
    text = f"One day cannot settle a change of {margin}"
    text += f": it would take {plan.days} such days." if plan.days else f", nor can {MOST_DAYS} such days."
    if plan.bigger_step is not None:
        text += (
            f" A step {plan.bigger_step} times as big could, if each part is worth {margin} "
            "(near the best setting the parts do not add up)."
        )
    else:
        text += " Even a step three times as big would not be seen in one day."
    return text
