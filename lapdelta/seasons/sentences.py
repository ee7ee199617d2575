"""A season in plain sentences."""

from typing import Any

from lapdelta.effect.measures import Measure
from lapdelta.seasons.amounts import amount, shift_text, size_text
from lapdelta.seasons.factor import Factor, in_words

#: Said beside every suggestion to fit another sprocket.
CAUTION = (
    "Before another sprocket is fitted: the maker's manual, the class rules and the chain's reach come first, "
    "and whoever is qualified for the work."
)

#: Of one event no more sessions are named one by one.
MOST_SESSIONS_NAMED = 3

_STEP = {"axle_teeth": "One tooth"}


def season_sentences(
    tracks: list[dict[str, Any]],
    changes: list[dict[str, Any]],
    learned: dict[str, Any],
    design: dict[str, Any],
    left_out: list[dict[str, Any]],
    measure: Measure,
    factor: Factor,
) -> list[str]:
    """What was found, what cannot be told and why, what to try next, what was left out."""
    said = [
        line for track in tracks for line in track_sentences(track, measure, factor, alone=len(tracks) == 1)
    ]
    said += [line for change in changes if (line := _change(change, measure, factor))]
    said += _repeat(learned, measure)
    said += [pair["sentence"] for pair in design["pairs"] if not pair["separable"]]
    said += _left_out(left_out)
    if factor.is_gearing and any(track["candidates"] for track in tracks):
        said.append(CAUTION)
    return said


def track_sentences(
    track: dict[str, Any], measure: Measure, factor: Factor, *, alone: bool = True
) -> list[str]:
    """The circuit's answer, the worth of a step from where we are, and what to try next.

    Days whose circuit nobody wrote down are all days where they stand ``alone``, else a group of their own.
    """
    name = track["track"] or ("All days" if alone else "Days of which no circuit is written down")
    said = [f"{name}: {best_sentence(track, measure, factor)}"]
    reference = track["reference"]
    worth = [row for row in track["worth"] if abs(row["value"] - (reference or 0.0)) < 1e-6]
    if track["worth"] and "quadratic" not in _told(track):
        worth = track["worth"]
    if worth:
        said.append(_worth(worth[0], measure, factor))
    said += _without_a_day(track, factor)
    said += [_further(row, measure, factor) for row in track["also"]]
    said += [row["sentence"] for row in track["next"]]
    said += [check["sentence"] for check in track["checks"] if check["passed"] is False]
    return said


def _told(track: dict[str, Any]) -> list[str]:
    """Which shapes of the response can be told."""
    return [name for name, fit in track["fits"].items() if fit["reason"] is None]


def _worth(row: dict[str, Any], measure: Measure, factor: Factor) -> str:
    beyond = "" if row["inside"] else " (beyond what was tried: the curve is only carried on)"
    low, high = shift_text(row["low"], measure), shift_text(row["high"], measure)
    size = shift_text(row["estimate"], measure)
    if row["next"] - row["value"] > 1.5 * factor.step:
        value, following = amount(row["value"], factor), amount(row["next"], factor)
        return f"From {value} to {following}: {size}, probably between {low} and {high}."
    step = _STEP.get(factor.name) or amount(factor.step, factor)
    return (
        f"{step} more than {amount(row['value'], factor)}: {size}, probably between {low} and {high}{beyond}."
    )


def best_sentence(track: dict[str, Any], measure: Measure, factor: Factor) -> str:
    """Where the best value lies, as far as can be told."""
    state, low, high = track["state"], track["best_low"], track["best_high"]
    tried = [row["value"] for row in track["values"]]
    span = f"{amount(min(tried), factor)} to {amount(max(tried), factor)}" if tried else "nothing"
    if state == "found":
        beyond = [w for w, out in (("fewer", low < min(tried)), ("more", high > max(tried))) if out]
        more = f"; {' or '.join(beyond)} than was tried is possible" if beyond else ""
        return (
            f"best at about {amount(track['best'], factor)}, probably between {amount(low, factor)} "
            f"and {amount(high, factor)}{more}."
        )
    if state == "beyond":
        side = "more than" if track["side"] > 0 else "fewer than"
        end = max(tried) if track["side"] > 0 else min(tried)
        return f"the best value lies beyond what was tried: {side} {amount(end, factor)}."
    if state == "one side":
        ends = [
            f"{w} {amount(v, factor)}" for w, v in (("not below", low), ("not above", high)) if v is not None
        ]
        return f"the best value is {' and '.join(ends)}; the other end cannot be told."
    if state == "flat":
        return (
            f"flat: from {span} no difference of more than "
            f"{size_text(track['largest_difference'], measure)} is likely."
        )
    if track["largest_difference"] is None:
        return f"cannot be told: {track['reason']}."
    return (
        f"the best value cannot be told ({track['reason']}). From {span}, any two may still "
        f"differ by {size_text(track['largest_difference'], measure)}."
    )


def _without_a_day(track: dict[str, Any], factor: Factor) -> list[str]:
    """Days without which the answer would be another one."""
    if track["state"] == "cannot be told":
        return []
    return [
        f"The answer hangs on {row['event']}: without that day {_state_text(row, factor)}."
        for row in track["leave_one_out"]
        if row["turns"]
    ]


def _state_text(row: dict[str, Any], factor: Factor) -> str:
    """What is left of an answer without one day."""
    if row["state"] == "found":
        low, high = amount(row["best_low"], factor), amount(row["best_high"], factor)
        return f"the best value lies between {low} and {high}"
    return {
        "beyond": "the best value lies beyond what was tried",
        "one side": "only one end of the best value can be told",
        "flat": "the response is flat",
    }.get(row["state"], "the best value cannot be told")


def _further(row: dict[str, Any], measure: Measure, factor: Factor) -> str:
    """What a further factor does with the others held, or why it cannot be told."""
    name, step = in_words(row["factor"]), f"{row['step']:g} {row['unit']}"
    one = _STEP.get(factor.name, "One step")
    if row["reason"] is not None:
        if row["moves_worth"]:
            return f"Whether {name} moves the worth of {one.lower()} more cannot be told: {row['reason']}."
        return f"What {name} does cannot be told: {row['reason']}."
    size, low, high = (shift_text(row[key], measure) for key in ("estimate", "low", "high"))
    if row["moves_worth"]:
        more = f"With {step} more {name} the worth of {one.lower()} more"
        return f"{more} moves by {size}, probably between {low} and {high}."
    return f"{step} more {name}, all else the same: {size}, probably between {low} and {high}."


def _change(change: dict[str, Any], measure: Measure, factor: Factor) -> str:
    pooled = change["pooled"]
    if pooled is None or pooled["days"] < 2:
        return ""
    doubt = ""
    if pooled["agreement_p"] is not None and pooled["agreement_p"] < 0.05:
        doubt = " The days disagree by more than chance."
    return (
        f"{amount(change['from'], factor)} to {amount(change['to'], factor)} on {pooled['days']} days: "
        f"{shift_text(pooled['estimate'], measure)}, probably between {shift_text(pooled['low'], measure)} "
        f"and {shift_text(pooled['high'], measure)}: {change['verdict']}.{doubt}"
    )


def _repeat(learned: dict[str, Any], measure: Measure) -> list[str]:
    ours, others = learned["ours"], learned["others"]
    odd = [_conflict(row, measure) for row in learned["conflicts"]]
    if ours is None:
        return [
            "How well our kart repeats itself cannot be told: no two neighbouring sessions without a change.",
            *odd,
        ]
    text = f"With nothing changed our sessions typically differ by {size_text(ours['session_sd'], measure)}"
    if others is None:
        return [text + ".", *odd]
    return [
        f"{text}, the other karts' by {size_text(others['session_sd'], measure)}.",
        *odd,
    ]


def _conflict(row: dict[str, Any], measure: Measure) -> str:
    """A day on which sessions scattered unlike those of the other days."""
    whose = "our sessions" if row["who"] == "ours" else "the other karts' sessions"
    return (
        f"On {row['event']} {whose} differed by {size_text(row['session_sd'], measure)} with nothing changed, on "
        f"the other days by {size_text(row['rest_sd'], measure)}: more than chance."
    )


def _left_out(rows: list[dict[str, Any]]) -> list[str]:
    """How many sessions (and whole events) were left out, which, and why."""
    by_reason: dict[str, dict[str, list[str]]] = {}
    for row in rows:
        sessions = by_reason.setdefault(row["reason"], {}).setdefault(row["event"], [])
        sessions += [row["session"]] if row["session"] is not None else []
    return [
        f"Left out, {sum(max(len(some), 1) for some in events.values())}: "
        f"{', '.join(_places(event, some) for event, some in events.items())} ({reason})."
        for reason, events in by_reason.items()
    ]


def _places(event: str, sessions: list[str]) -> str:
    """An event, and its sessions; of many the first ones, for not all between two of them need be out."""
    named = f"{event} {', '.join(sessions[:MOST_SESSIONS_NAMED])}".rstrip()
    return f"{named} .." if len(sessions) > MOST_SESSIONS_NAMED else named
