"""The response curve of one circuit: our sessions as points, the curve, and its band."""

from typing import Any, Final

import altair as alt

from lapdelta.effect.season_finding import SeasonFinding
from lapdelta.pictures.style import WIDTH, finish, grey, ink
from lapdelta.seasons.factor import find_factor
from lapdelta.words import factor_name, factor_unit_text, in_digits, in_language, phrase, unit_text
from lapdelta.words.printing import capital

_HEIGHT_PX: Final = 240


def response(
    finding: SeasonFinding, track: str, *, dark: bool = False, language: str = "en", width: int = WIDTH
) -> Any:
    """Change against the reference value over the factor, in the measure's unit; an Altair layer chart.

    Args:
        finding: a season.
        track: the circuit, as in ``finding.tracks``.

    Raises:
        ValueError: the season has no such circuit, or nothing can be drawn of it.
    """
    row = next((row for row in finding.tracks if row["track"] == track), None)
    if row is None or not row["curve"]:
        raise ValueError(f"nothing to draw of {track!r}")
    inside = [point["value"] for point in row["values"]]
    low, high = min(inside), max(inside)
    # Values tried are rounded where they are listed.
    near, reach = 1e-5, _reach(finding)
    curve = [one for one in row["curve"] if low - near <= one["value"] <= high + near]
    outside = [
        [one for one in row["curve"] if low - reach - near <= one["value"] <= low + near],
        [one for one in row["curve"] if high - near <= one["value"] <= high + reach + near],
    ]
    x = alt.X(
        "value:Q",
        scale=alt.Scale(zero=False, nice=False),
        axis=alt.Axis(
            title=_axis(finding, language),
            grid=False,
            tickMinStep=1.0 if finding.factor == "axle_teeth" else 0.0,
        ),
    )
    sign = "time" if finding.unit == "s" else "more"
    title_y = phrase(
        "curve.y", language, sign=phrase(f"curve.sign.{sign}", language),
        reference=in_digits(f"{row['reference']:g}", language),
        unit=factor_unit_text(finding.factor_unit, language), measured_in=unit_text(finding.measure, language),
    )  # fmt: skip
    y = alt.Y("y:Q", axis=alt.Axis(title=title_y, tickCount=6))
    layers = [_band(curve, x, dark), _zero(dark), _line(curve, x, y, dark, [1, 0])]
    layers += [_line(part, x, y, dark, [4, 4]) for part in outside if len(part) > 1]
    points = alt.Chart(alt.Data(values=row["points"])).mark_point(
        size=60, color=ink(dark), opacity=0.9, strokeWidth=1.6
    )
    layers.append(points.encode(x=x, y=y))
    if row["state"] == "found":
        layers.append(_best(row, dark))
    title, n = _title(row, finding, language), len(row["points"])
    alt_text = phrase("curve.alt", language, n=n, place=_place(row, finding, language), title=title)
    note = phrase("curve.note", language)
    return finish(
        alt.layer(*layers), title=title, note=note, alt_text=alt_text, width=width, height=_HEIGHT_PX,
        dark=dark, language=language,
    )  # fmt: skip


def _reach(finding: SeasonFinding) -> float:
    """How far beyond what was tried the line is carried on: one step."""
    return find_factor(finding.factor, []).step


def _axis(finding: SeasonFinding, language: str) -> str:
    unit = factor_unit_text(finding.factor_unit, language)
    return phrase("curve.x", language, factor=factor_name(finding.factor, language), unit=unit)


def _band(curve: list[dict[str, Any]], x: alt.X, dark: bool) -> Any:
    mark = alt.Chart(alt.Data(values=curve)).mark_area(color=grey(dark), opacity=0.25)
    return mark.encode(x=x, y=alt.Y("band_low:Q"), y2="band_high:Q")


def _line(curve: list[dict[str, Any]], x: alt.X, y: alt.Y, dark: bool, dash: list[int]) -> Any:
    rows = [{"value": one["value"], "y": one["estimate"]} for one in curve]
    return (
        alt.Chart(alt.Data(values=rows))
        .mark_line(color=ink(dark), strokeWidth=2, strokeDash=dash)
        .encode(x=x, y=y)
    )


def _zero(dark: bool) -> Any:
    return alt.Chart(alt.Data(values=[{"y": 0}])).mark_rule(color=ink(dark), opacity=0.4).encode(y="y:Q")


def _best(row: dict[str, Any], dark: bool) -> Any:
    """The best value as a diamond with its interval, on the curve's reference line."""
    tried = [one["value"] for one in row["values"]]
    low, high = max(row["best_low"], min(tried)), min(row["best_high"], max(tried))
    data = [{"low": low, "high": high, "best": min(max(row["best"], low), high), "y": 0}]
    base = alt.Chart(alt.Data(values=data))
    span = base.mark_rule(color=ink(dark), strokeWidth=4).encode(x="low:Q", x2="high:Q", y="y:Q")
    mark = base.mark_point(shape="diamond", filled=True, size=170, color=ink(dark), opacity=1)
    return span + mark.encode(x="best:Q", y="y:Q")


def _title(row: dict[str, Any], finding: SeasonFinding, language: str) -> str:
    place = capital(_place(row, finding, language).split(",")[0])
    at = factor_unit_text(finding.factor_unit, language, ".dative")
    decimals = 2 if finding.factor_unit == "bar" else 1
    numbers = {name: None if row[name] is None else in_digits(f"{row[name]:.{decimals}f}", language)
               for name in ("best", "best_low", "best_high")}  # fmt: skip
    values = {
        "place": place, "unit": factor_unit_text(finding.factor_unit, language),
        "best": numbers["best"], "low": numbers["best_low"], "high": numbers["best_high"], "at": at,
    }  # fmt: skip
    return phrase(f"curve.{_state(row)}", language, **values)


def _place(row: dict[str, Any], finding: SeasonFinding, language: str) -> str:
    """The circuit; days of which none is written down are all days only where they stand alone."""
    if row["track"]:
        return in_language(row["track"], language)
    return phrase("curve.all" if len(finding.tracks) == 1 else "curve.unnamed", language)


def _state(row: dict[str, Any]) -> str:
    """Which title a circuit's state calls for."""
    if row["state"] == "beyond":
        return "above" if row["side"] > 0 else "below"
    if row["state"] == "one side":
        return "to" if row["best_low"] is None else "from"
    return row["state"] if row["state"] in ("found", "flat") else "open"
