"""A season in plain sentences."""

from typing import Any

from lapdelta.effect.measures import Measure
from lapdelta.seasons.factor import Factor

#: Said beside every suggestion to fit another sprocket.
CAUTION = (
    "Before another sprocket is fitted: the maker's manual, the class rules and the chain's reach come first, "
    "and whoever is qualified for the work."
)

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


def amount(value: float, factor: Factor) -> str:
    """A value with its unit: "80.4 teeth", "0.62 bar"."""
    digits = 1 if factor.step >= 1 else 2
    whole = factor.step >= 1 and abs(value - round(value)) < 1e-9
    return f"{value:.0f} {factor.unit}" if whole else f"{value:.{digits}f} {factor.unit}"


def shift_text(value: float, measure: Measure) -> str:
    """A signed number with the measure's unit."""
    digits = {"s": 2, "km/h": 1}.get(measure.unit, 0)
    return f"{value:+.{digits}f} {measure.unit}"


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
    if track["teaches_most"] is not None:
        said.append(_next(track, factor))
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
    return (
        f"{_STEP.get(factor.name, 'One step')} more than {amount(row['value'], factor)}: {size}, "
        f"probably between {low} and {high}{beyond}."
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
            f"{shift_text(track['largest_difference'], measure).lstrip('+')} is likely."
        )
    if track["largest_difference"] is None:
        return f"cannot be told: {track['reason']}."
    return (
        f"the best value cannot be told ({track['reason']}). Between any two of {span} there may still be "
        f"{shift_text(track['largest_difference'], measure).lstrip('+')}."
    )


def _next(track: dict[str, Any], factor: Factor) -> str:
    teach, chance = track["teaches_most"], track["best_chance"]
    text = (
        f"Next: a day with {amount(teach, factor)} against {amount(track['reference'], factor)} teaches most"
    )
    if chance is None:
        return text + "."
    row = next(row for row in track["candidates"] if row["value"] == chance)
    share = min(19, max(1, round(20 * row["chance_better"])))
    if row["chance_better"] < 0.5:
        return (
            f"{text}; nothing else is more likely than not to be better than "
            f"{amount(track['reference'], factor)} ({amount(chance, factor)}: {share} in 20)."
        )
    return f"{text}; the best chance of a gain has {amount(chance, factor)} ({share} in 20)."


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
    if ours is None:
        return [
            "How well our kart repeats itself cannot be told: no two neighbouring sessions without a change."
        ]
    text = (
        f"With nothing changed our sessions differ by {shift_text(ours['session_sd'], measure).lstrip('+')}"
    )
    if others is None:
        return [text + "."]
    return [
        f"{text} (standard deviation), the other karts' by {shift_text(others['session_sd'], measure).lstrip('+')}."
    ]


def _left_out(rows: list[dict[str, Any]]) -> list[str]:
    by_reason: dict[str, list[str]] = {}
    for row in rows:
        place = row["event"] if row["session"] is None else f"{row['event']} {row['session']}"
        by_reason.setdefault(row["reason"], []).append(place)
    return [
        f"Left out, {len(places)}: {', '.join(places)} ({reason})." for reason, places in by_reason.items()
    ]
