"""The plan of a test: the orders that fit, the one to run, when to look, and what else could be turned."""

import json
import math
from dataclasses import asdict, dataclass, replace
from typing import Any, Literal, get_args

from lapdelta.effect.power import (
    LAP_FACTORS,
    MIDDLE_HALF_FACTOR,
    Noise,
    Option,
    Setting,
    option,
    smallest_effect,
)
from lapdelta.effect.randomisation import MOST_SESSIONS, Draw, draw_order, orders_that_fit
from lapdelta.errors import QuestionError

#: Steps that a bigger change may have: two or three teeth instead of one.
BIGGER_STEPS = (1, 2, 3)
#: Calls of a change that is not there when one looks after every session without having declared it.
UNDECLARED_LOOKING = 0.158

LookPlan = Literal["at the end", "half way", "every two"]
LOOK_PLANS: tuple[LookPlan, ...] = get_args(LookPlan)
#: Declared looks at an eight-session test: (sessions run, call it if p is below). Half way: Lan & DeMets
#: 1983 spending of the O'Brien-Fleming kind, 5.0 % in all; every two: 4.7 % in all (simulation).
LOOKS: dict[LookPlan, tuple[tuple[int, float], ...]] = {
    "half way": ((4, 0.0031), (8, 0.0490)),
    "every two": ((2, 0.00005), (4, 0.0039), (6, 0.0184), (8, 0.0412)),
}


@dataclass(frozen=True)
class TestPlan:
    """Which setting to run in which session, and what the test will be able to see.

    Attributes:
        measure, unit: what is planned for.
        margin: the worthwhile margin.
        expected: the most the change is expected to do; None if unknown.
        confidence, power: of the smallest effects.
        sessions_left, laps_per_session: as given; laps include the out lap.
        other_karts: karts to compare with.
        noise: the numbers it rests on.
        options: orders that fit, by length.
        recommended: the order to run; None if no order can give an interval.
        smallest_effect: of the recommended order on one day.
        settles: that is at most the margin.
        days: days of the recommended order until the margin would be seen.
        lap_share: share of a session's variance that more laps or a sharper pace would shrink.
        levers: dicts of lever and smallest_effect: what else could be turned.
        steps: dicts of steps, smallest_effect_per_step, settles.
        bigger_step: smallest of two or three steps that could settle it where one cannot; else None.
        looks: (sessions run, call it if p is below); declared before the first session.
        undeclared_looking: share of false calls when looking after every session undeclared.
        draw: the sealed draw, if one was asked for.
        also: dicts of measure, unit, margin, smallest_effect, settles for further measures.
        learned: what other days told of the scatter (events, ours, others, used, conflict, history_dof, day);
            None where none were looked at.
        sentences: what to tell the user.
    """

    __test__ = False  # not a test class, whatever the name looks like to pytest

    measure: str
    unit: str
    margin: float
    expected: float | None
    confidence: float
    power: float
    sessions_left: int
    laps_per_session: int
    other_karts: int
    noise: Noise
    options: tuple[Option, ...]
    recommended: str | None
    smallest_effect: float | None
    settles: bool
    days: int | None
    lap_share: float
    levers: tuple[dict[str, Any], ...]
    steps: tuple[dict[str, Any], ...]
    bigger_step: int | None
    looks: tuple[tuple[int, float], ...]
    undeclared_looking: float
    draw: Draw | None
    also: tuple[dict[str, Any], ...]
    sentences: tuple[str, ...]
    learned: dict[str, Any] | None = None

    def to_dict(self) -> dict[str, Any]:
        """Plain lists, dicts, numbers, strings and None."""
        return json.loads(self.to_json())

    def to_json(self) -> str:
        """One JSON object, numbers unrounded."""
        return json.dumps(asdict(self), ensure_ascii=False, allow_nan=False)


def recommend(options: tuple[Option, ...]) -> Option | None:
    """Interleaved before blocked; the shortest that settles it, else what sees the smallest effect."""
    able = [one for one in options if one.smallest_effect is not None]
    pool = [one for one in able if one.interleaved] or able
    settling = [one for one in pool if one.settles]
    if settling:
        return min(settling, key=lambda one: (one.sessions, one.smallest_effect, one.swaps))
    return min(pool, key=lambda one: (one.smallest_effect, one.sessions), default=None)


@dataclass(frozen=True)
class Wish:
    """What the user wants to know and has time for.

    Attributes:
        measure, unit, margin: the measure, its unit and the worthwhile margin in it.
        sessions_left: sessions that can still be run on one day.
        laps_per_session: laps of a session, out lap included.
        looks: when to look before the end.
        random_order: draw the order at random and seal it.
        seed: of the draw; None for a fresh one.
        expected: the most the change is expected to do; None if unknown.
    """

    measure: str
    unit: str
    margin: float
    sessions_left: int
    laps_per_session: int
    looks: LookPlan = "at the end"
    random_order: bool = False
    seed: int | None = None
    expected: float | None = None


def make_plan(wish: Wish, setting: Setting) -> TestPlan:
    """The plan without its sentences and further measures.

    Raises:
        QuestionError: a random order that cannot be sealed, or looks that are not declared for this order.
    """
    options = tuple(option(order, setting, wish.margin) for order in orders_that_fit(wish.sessions_left))
    draw = None
    needed = looks_need_sessions(wish.looks)
    best = recommend(tuple(one for one in options if needed is None or one.sessions == needed) or options)
    if wish.random_order:
        if needed is not None:
            raise QuestionError(
                "A sealed random order is looked at once, at the end.",
                "Leave the looks out, or take a fixed order.",
                "looks",
            )
        draw = draw_order(2 * (min(wish.sessions_left, MOST_SESSIONS) // 2), wish.seed)
        best = option(draw.order, setting, wish.margin)
    looks = declared_looks(wish.looks, best.sessions if best else 0)
    effect = best.smallest_effect if best else None
    steps = _steps(effect, wish.margin)
    noise = setting.noise
    return TestPlan(
        measure=wish.measure,
        unit=wish.unit,
        margin=wish.margin,
        expected=wish.expected,
        confidence=setting.confidence,
        power=setting.power,
        sessions_left=wish.sessions_left,
        laps_per_session=wish.laps_per_session,
        other_karts=setting.other_karts,
        noise=noise,
        options=options,
        recommended=best.order if best else None,
        smallest_effect=effect,
        settles=bool(best and best.settles),
        days=best.days if best else None,
        lap_share=noise.lap_share_variance(setting.laps) / noise.session_variance(setting.laps),
        levers=_levers(best, setting, wish.margin) if best else (),
        steps=steps,
        bigger_step=next((one["steps"] for one in steps if one["settles"] and one["steps"] > 1), None)
        if best and not best.settles
        else None,
        looks=looks,
        undeclared_looking=UNDECLARED_LOOKING,
        draw=draw,
        also=(),
        sentences=(),
    )


def declared_looks(looks: LookPlan, sessions: int) -> tuple[tuple[int, float], ...]:
    """Looks with their thresholds, to be declared before the first session; () is one look at the end.

    Raises:
        QuestionError: an unknown plan of looks, or thresholds that are not known for this length.
    """
    needed = looks_need_sessions(looks)
    if needed is None:
        return ()
    if sessions != needed:
        raise QuestionError(
            f"Looks before the end are worked out for {needed} sessions, not for {sessions}.",
            f"Plan {needed} sessions, or look once at the end.",
            "looks",
        )
    return LOOKS[looks]


def looks_need_sessions(looks: LookPlan) -> int | None:
    """Length of test that a plan of looks is worked out for; None if any will do.

    Raises:
        QuestionError: an unknown plan of looks.
    """
    if looks not in LOOK_PLANS:
        known = ", ".join(LOOK_PLANS)
        raise QuestionError(f"{looks!r} is not a plan of looks.", f"Say one of {known}.", "looks")
    return None if looks == "at the end" else LOOKS[looks][-1][0]


def _steps(effect: float | None, margin: float) -> tuple[dict[str, Any], ...]:
    """What is left per step when the change is made of several, as far as their effects add up."""
    if effect is None:
        return ()
    return tuple(
        {"steps": n, "smallest_effect_per_step": effect / n, "settles": effect / n <= margin}
        for n in BIGGER_STEPS
    )


def _levers(best: Option, setting: Setting, margin: float) -> tuple[dict[str, Any], ...]:
    """What else could be turned, and what the same order would then see."""
    noise = setting.noise
    quiet = replace(noise, session_sd=noise.session_sd / 2.0)
    cases: list[tuple[str, Setting]] = [
        ("twice the laps a session", replace(setting, laps=2 * setting.laps)),
        ("half the session-to-session scatter", replace(setting, noise=quiet)),
    ]
    sharpest = LAP_FACTORS["sectors and clocks"]
    if noise.lap_factor > sharpest and noise.lap_factor != MIDDLE_HALF_FACTOR:
        sharp = replace(noise, lap_factor=sharpest)
        cases.append(("pace from sectors and clocks", replace(setting, noise=sharp)))
    seen = [(lever, option(best.order, case, margin).smallest_effect) for lever, case in cases]
    if best.standard_error is not None and best.dof is not None:
        two_days = smallest_effect(
            best.standard_error / math.sqrt(2.0), 2.0 * best.dof, setting.confidence, setting.power
        )
        seen.append(("a second day", two_days))
    return tuple({"lever": lever, "smallest_effect": effect} for lever, effect in seen if effect is not None)
