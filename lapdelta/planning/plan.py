"""Plan the next test: which setting in which session, and what it will be able to see."""

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from lapdelta.effect.learned import LearnedNoise, learn
from lapdelta.effect.measures import Measure, find_measure
from lapdelta.effect.planning import LookPlan, TestPlan, Wish, make_plan
from lapdelta.effect.power import (
    LAP_FACTORS,
    MIDDLE_HALF_FACTOR,
    Noise,
    PaceKind,
    Setting,
    option,
)
from lapdelta.errors import QuestionError, in_digits
from lapdelta.planning.sentences import plan_sentences

if TYPE_CHECKING:
    import polars as pl

    from lapdelta.planning.other_days import OtherDays

#: Taken where nothing is known of the day: common practice, no source. Seconds a lap.
ASSUMED_SESSION_SD_S, ASSUMED_LAP_SD_S, ASSUMED_OTHER_KARTS = 0.10, 0.28, 8
#: Laps of a practice session where the user says nothing, out lap included (common practice).
USUAL_LAPS = 10
#: The out lap and three usable ones.
FEWEST_LAPS, MOST_LAPS = 4, 200
MOST_SESSIONS_LEFT = 20
MOST_KARTS = 200
#: Bounds of margins and scatter in any unit: what is beyond is a slip of the keyboard.
SMALLEST, LARGEST = 1e-6, 1e6
#: Sectors a plan may be asked for without laps at hand.
MOST_SECTORS = 30


def plan_test(
    laps: "pl.DataFrame | None" = None, *, sessions_left: int, laps_per_session: int = USUAL_LAPS,
    kart: str | None = None, sessions: Sequence[str] | None = None, event: str | None = None,
    measure: str = "lap_time", margin: float | None = None,
    session_sd: float | None = None, lap_sd: float | None = None, other_karts: int | None = None,
    pace: PaceKind = "laps", track_sd: float | None = None,
    looks: LookPlan = "at the end", random_order: bool = False, seed: int | None = None,
    expected: float | None = None, confidence: float = 0.95, power: float = 0.80,
    setups: "pl.DataFrame | None" = None, history: "pl.DataFrame | None" = None,
) -> TestPlan:  # fmt: skip
    """Plan a test from the day's own karts and other days, or from stated noise; numbers in the measure's unit.

    Args:
        laps: tables.LAPS or EVENT_LAPS; the other karts say how much sessions and laps scatter.
        sessions_left, laps_per_session: sessions that can still be run; laps with the out lap.
        kart: ours; left out of the noise, since its setup may have been changed.
        sessions, event: what to learn from; None takes all.
        measure, margin: what is asked, and its worthwhile margin (None: the usual one).
        session_sd, lap_sd, other_karts: tau, sigma and K; they override the laps.
        pace: what the pace of a session will be taken from.
        track_sd: unevenness of the track beyond a straight trend; needed only without other karts.
        looks: when to look before the end; declared now or not at all.
        random_order, seed: draw the order at random and seal it with its list, for the exact test.
        expected: the most the change is expected to do, as from ``gearing.expected_shift``.
        confidence, power: of the smallest effects.
        setups: the setup sheet: which neighbouring sessions of other days had no change.
        history: laps of other days (tables.EVENT_LAPS), our kart under the same number; what they tell of the
            scatter of ours and of the other karts counts with the day's own, unless the two contradict each other.

    Raises:
        QuestionError: a value out of range, too few laps to learn from, an order that cannot be sealed.
    """
    wanted = _measure(measure)
    worth = wanted.margin if margin is None else margin
    _check_numbers(sessions_left, laps_per_session, other_karts, worth, track_sd, expected, confidence, power)
    _check_pace(pace)
    past = _past(history, kart, setups, measure, event, confidence)
    learnt, counted = _learn(laps, kart, sessions, event, LAP_FACTORS[pace], past is not None)
    karts = counted if other_karts is None else other_karts
    together = _together(learnt.get(measure), past, karts) if session_sd is None and lap_sd is None else None
    known = learnt if together is None else learnt | {measure: together.noise}
    noise = _noise(wanted, known, session_sd, lap_sd, pace)
    extra = together.history_dof if together else 0.0
    setting = Setting(noise, laps_per_session - 1, karts, confidence, power, track_sd, extra)
    wish = Wish(
        wanted.name, wanted.unit, worth, sessions_left, laps_per_session, looks, random_order, seed, expected
    )
    plan = make_plan(wish, setting)
    plan = replace(
        plan, also=_also(plan, setting, learnt), learned=_learned(past, together, learnt.get(measure))
    )
    return replace(plan, sentences=tuple(plan_sentences(plan)))


def _past(
    history: "pl.DataFrame | None", kart: str | None, setups: "pl.DataFrame | None", measure: str,
    event: str | None, confidence: float,
) -> "OtherDays | None":  # fmt: skip
    """What other days tell; None without any."""
    if history is None or history.is_empty():
        return None
    from lapdelta.planning.other_days import other_days  # here: a stated plan needs no tables

    found = other_days(history, kart, setups, measure, event, confidence)
    return found if found.events else None


def _together(day: Noise | None, past: "OtherDays | None", karts: int) -> LearnedNoise | None:
    """The day's own noise with what other days tell; None without other days."""
    if past is None:
        return None
    count = past.our_scatter.differences if past.our_scatter else 0
    found = learn(day, past.others, past.ours, count, karts)
    if found is None or found.conflict == "the day":
        return found
    days = f"{len(past.events)} other day{'s' * (len(past.events) != 1)}"
    first = "the day's own karts and from " if day else ""
    source = f"taken from {first}{days} (worth {found.noise.dof:.0f} comparisons of sessions)"
    return replace(found, noise=replace(found.noise, source=source))


def _learned(
    past: "OtherDays | None", together: LearnedNoise | None, day: Noise | None
) -> dict[str, Any] | None:
    """What other days told, whether it was used, and what it contradicts; None without other days."""
    if past is None:
        return None
    return past.to_dict() | {
        "used": together is not None and together.conflict != "the day",
        "conflict": (together.conflict or None) if together else None,
        "history_dof": together.history_dof if together else 0.0,
        "day": {"session_sd": day.session_sd, "lap_sd": day.lap_sd, "dof": day.dof} if day else None,
    }


def _learn(
    laps: "pl.DataFrame | None",
    kart: str | None,
    sessions: Sequence[str] | None,
    event: str | None,
    lap_factor: float,
    other_days: bool,
) -> tuple[dict[str, Noise], int]:
    """Noise by measure and number of other karts; nothing and the usual number without laps.

    A day with too little to learn from is no error where other days can tell.
    """
    if laps is None:
        return {}, ASSUMED_OTHER_KARTS
    from lapdelta.planning.day_noise import noise_of_the_day  # here: a stated plan needs no tables

    try:
        return noise_of_the_day(laps, kart, sessions, event, lap_factor)
    except QuestionError as error:
        if error.where != "laps" or not other_days:
            raise
        return {}, ASSUMED_OTHER_KARTS


def _check_numbers(
    sessions_left: int,
    laps_per_session: int,
    other_karts: int | None,
    margin: float,
    track_sd: float | None,
    expected: float | None,
    confidence: float,
    power: float,
) -> None:
    _check("sessions_left", sessions_left, 2, MOST_SESSIONS_LEFT, whole=True)
    _check("laps_per_session", laps_per_session, FEWEST_LAPS, MOST_LAPS, whole=True)
    _check("other_karts", other_karts, 0, MOST_KARTS, whole=True)
    _check("margin", margin, SMALLEST, LARGEST)
    _check("track_sd", track_sd, 0, LARGEST)
    _check("expected", expected, 0, LARGEST)
    _check("confidence", confidence, 0.5, 0.999)
    _check("power", power, 0.5, 0.99)


def _check(name: str, value: float | None, low: float, high: float, *, whole: bool = False) -> None:
    """Raise QuestionError for a number outside its range; None is a value not given."""
    if value is None:
        return
    if isinstance(value, bool) or not low <= value <= high or (whole and value != int(value)):
        kind = (
            "not a whole number"
            if whole and low <= value <= high
            else f"outside {in_digits(low)} to {in_digits(high)}"
        )
        raise QuestionError(f"{value!r} is {kind}.", "Give a value inside that range.", name)


def _check_pace(pace: str) -> None:
    if pace not in LAP_FACTORS:
        raise QuestionError(
            f"{pace!r} is not a kind of pace.", f"Say one of {', '.join(LAP_FACTORS)}.", "pace"
        )


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
