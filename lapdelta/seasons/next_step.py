"""What to try next on a circuit: the value that would teach most, and the one with the best chance of a gain."""

from typing import Any

from lapdelta.seasons.amounts import amount
from lapdelta.seasons.factor import Factor

#: Chances are said in twentieths, and never as none or all.
FEWEST, MOST = 1, 19


def next_steps(track: dict[str, Any], factor: Factor) -> list[dict[str, Any]]:
    """Rows ``what value against sentence``; ``what`` is "teaches most" or "best chance".

    ``track`` is a circuit's dict with ``reference``, ``candidates``, ``teaches_most`` and ``best_chance``.
    Empty without a curve, and for the weather.
    """
    if factor.is_weather:
        return []
    rows = (("teaches most", teaches_most(track, factor)), ("best chance", best_chance(track, factor)))
    values = {"teaches most": track["teaches_most"], "best chance": track["best_chance"]}
    against = track["reference"]
    return [
        {"what": what, "value": values[what], "against": against, "sentence": sentence}
        for what, sentence in rows
        if sentence
    ]


def teaches_most(track: dict[str, Any], factor: Factor) -> str:
    """Which value a further day would teach most with, and by how much; "" where nothing can be said."""
    value = track["teaches_most"]
    if value is None:
        return ""
    row = _candidate(track, value)
    width, what = row["best_width"], "where the best value lies"
    if width is None:
        width, what = row["curve_width"], "the whole response"
    narrower = round(100 * (1 - width))
    said = (
        f"Next: a day with {amount(value, factor)} against {amount(track['reference'], factor)} teaches most"
    )
    if narrower < 1:
        return f"{said}."
    return f"{said}: it would tell {what} to within an interval about {narrower} % narrower."


def best_chance(track: dict[str, Any], factor: Factor) -> str:
    """Which value has the best chance of a gain over the reference; "" where nothing can be said."""
    value = track["best_chance"]
    if value is None:
        return ""
    row, reference = _candidate(track, value), amount(track["reference"], factor)
    share = min(MOST, max(FEWEST, round(20 * row["chance_better"])))
    if row["chance_better"] < 0.5:
        return (
            f"Nothing else is more likely than not to be better than {reference}: "
            f"{amount(value, factor)} comes nearest with {share} in 20."
        )
    return f"The best chance of a gain over {reference} has {amount(value, factor)}: {share} in 20."


def _candidate(track: dict[str, Any], value: float) -> dict[str, Any]:
    return next(row for row in track["candidates"] if row["value"] == value)
