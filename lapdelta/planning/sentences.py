"""What a test plan says before the day is spent on it."""

from typing import Any

from lapdelta.effect.planning import TestPlan
from lapdelta.effect.power import MOST_DAYS


def plan_sentences(plan: TestPlan) -> list[str]:
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
    return said + _learned(plan)


def _learned(plan: TestPlan) -> list[str]:
    """What other days told of the scatter, and whether it fits the day."""
    past = plan.learned
    if past is None or (past["conflict"] is None and not past["used"]):
        return []
    ours, others = past["ours"], past["others"]
    parts = [f"our sessions typically differed by {_size(ours, plan)}"] if ours else []
    parts += [f"the other karts' by {_size(others, plan)}"] if others else []
    said = [f"On other days, with nothing changed, {' and '.join(parts)}."]
    if past["conflict"] == "the day":
        said.append(
            "This day's karts scatter differently by more than chance, so the plan rests on this day alone."
        )
    elif past["conflict"] == "our kart":
        said.append(
            "Our kart scatters more than the other karts by more than chance, so the plan rests on its own scatter."
        )
    return said


def _size(scatter: dict[str, Any], plan: TestPlan) -> str:
    return f"{scatter['session_sd']:.2g} {plan.unit}"


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
