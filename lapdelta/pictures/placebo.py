"""Our change among the same difference in the other karts, which had no known change."""

from typing import Any, Final

import altair as alt

from lapdelta.effect.finding import Finding
from lapdelta.pictures.style import WIDTH, finish, grey, ink, short
from lapdelta.words import (
    measure_kind,
    moved_as_much,
    moved_phrase,
    phrase,
    sector_label,
    side_text,
    unit_text,
)

_DOT_PX: Final = 13.0
_LEAST_HALF_RANGE: Final = {"lap": 0.75, "sector": 0.4, "speed": 3.0, "rpm": 300.0}
_BINS: Final = 26
_LEAST_HEIGHT_PX: Final = 70


def placebo(
    finding: Finding,
    *,
    dark: bool = False,
    language: str = "en",
    width: int = WIDTH,
    names: bool = False,
    who: str | None = None,
) -> Any:
    """One ring a kart, ours a filled diamond, on the change in the measure's unit; an Altair layer chart.

    ``names`` puts the numbers of the other karts in the tooltips; without it they are letters.
    """
    half = _half_range(finding)
    who = short(who or phrase("page.kart", language, kart=finding.kart), 24)
    kinds = [phrase("placebo.ours", language, who=who), phrase("placebo.others", language)]
    rows = _rows(finding, half, names, kinds)
    deepest = max((row["level"] for row in rows), default=0) + 1
    height = max(_LEAST_HEIGHT_PX, round(_DOT_PX * (deepest + 1)))
    moved, total = moved_as_much(finding.placebo, finding.estimate)
    if total:
        title = moved_phrase("placebo.title", moved, total, language)
    else:
        title = phrase("placebo.title.unknown" if finding.placebo else "placebo.title.empty", language)
    x = _x(finding, half, language)
    y = alt.Y("y:Q", scale=alt.Scale(domain=[0, height], nice=False), axis=None)
    zero = alt.Chart(alt.Data(values=[{"x": 0.0}])).mark_rule(color=ink(dark), strokeWidth=1.5).encode(x=x)
    titles = phrase("tip.kart", language), phrase("tip.change", language)
    points = _points(rows, kinds, x, y, dark, titles)
    estimate = phrase("placebo.unknown", language)
    if finding.estimate is not None:
        estimate = side_text(finding.measure, finding.estimate, language)
    alt_text = phrase("placebo.alt", language, who=who, ours=estimate, total=total, title=title)
    return finish(
        alt.layer(zero, points),
        title=title,
        note=None,
        alt_text=alt_text,
        width=width,
        height=height,
        dark=dark,
        language=language,
    )


def _half_range(finding: Finding) -> float:
    """Symmetric around zero and wide enough for every kart."""
    furthest = max((abs(float(row["shift"])) for row in finding.placebo), default=0.0)
    return max(_LEAST_HALF_RANGE[measure_kind(finding.measure)], furthest * 1.08)


def _rows(finding: Finding, half: float, names: bool, kinds: list[str]) -> list[dict[str, Any]]:
    """One row a kart, ours first in its stack; stacked by bins as wide as a dot."""
    ordered = sorted(finding.placebo, key=lambda row: not row["ours"])
    bin_width = 2 * half / _BINS
    filled: dict[int, int] = {}
    rows: list[dict[str, Any]] = []
    letters = other_letters([str(row["kart"]) for row in ordered if not row["ours"]])
    for row in ordered:
        shift = float(row["shift"])
        index = round(shift / bin_width)
        level = filled.get(index, 0)
        filled[index] = level + 1
        ours = bool(row["ours"])
        name = str(row["kart"]) if ours or names else letters[str(row["kart"])]
        rows.append(
            {"x": shift, "level": level, "y": _DOT_PX * (level + 0.8), "ours": ours, "name": short(name, 20)}
        )
    return [row | {"kind": kinds[0 if row["ours"] else 1]} for row in rows]


def other_letters(karts: list[str]) -> dict[str, str]:
    """A, B, .. Z, AA, .. for the other karts, in the order of their numbers."""
    letters: dict[str, str] = {}
    for place, kart in enumerate(sorted(set(karts))):
        text, rest = "", place
        while True:
            text = chr(ord("A") + rest % 26) + text
            rest = rest // 26 - 1
            if rest < 0:
                break
        letters[kart] = text
    return letters


def _x(finding: Finding, half: float, language: str) -> alt.X:
    kind = measure_kind(finding.measure)
    place, unit = sector_label(finding.measure, language), unit_text(finding.measure, language)
    title = phrase(f"dots.axis.{kind}", language, place=place, unit=unit)
    axis = alt.Axis(title=title, grid=False, tickCount=7)
    return alt.X("x:Q", scale=alt.Scale(domain=[-half, half], nice=False, zero=False), axis=axis)


def _points(
    rows: list[dict[str, Any]], kinds: list[str], x: alt.X, y: alt.Y, dark: bool, titles: tuple[str, str]
) -> Any:
    """Rings and the diamond, told apart by shape, filling and legend."""
    legend = alt.Legend(symbolStrokeWidth=2)
    shapes, colours, fills = ["diamond", "circle"], [ink(dark), grey(dark)], [ink(dark), "transparent"]
    if not any(row["ours"] for row in rows):
        kinds, shapes, colours, fills = kinds[1:], shapes[1:], colours[1:], fills[1:]
    mark = alt.Chart(alt.Data(values=rows)).mark_point(opacity=1, strokeWidth=1.8, size=(_DOT_PX * 0.78) ** 2)
    return mark.encode(
        x=x,
        y=y,
        shape=alt.Shape("kind:N", scale=alt.Scale(domain=kinds, range=shapes), legend=legend),
        stroke=alt.Stroke("kind:N", scale=alt.Scale(domain=kinds, range=colours), legend=legend),
        fill=alt.Fill("kind:N", scale=alt.Scale(domain=kinds, range=fills), legend=legend),
        tooltip=[alt.Tooltip("name:N", title=titles[0]), alt.Tooltip("x:Q", format="+.2f", title=titles[1])],
    )
