"""The change as twenty dots: where the answer may lie, counted instead of shaded.

Quantile dot picture: 20 equally likely values of the change, binned with edges on zero and on the
worthwhile margin, so that dots can be counted on either side (Kay, Kola, Hullman & Munson 2016;
Fernandes, Walls, Munson, Hullman & Kay 2018). The x range is the same for every finding of a measure.
"""

import math
from typing import Any, Final

import altair as alt
import numpy as np
from scipy.special import stdtrit

from lapdelta.effect.finding import Finding
from lapdelta.pictures.style import BLUE, VERMILLION, WIDTH, finish, ink
from lapdelta.words import (
    PARTS_OF_A_SESSION,
    TWENTY,
    amount,
    direction,
    in_digits,
    measure_kind,
    measure_name,
    phrase,
    plural,
    sector_label,
    unit_text,
)
from lapdelta.words.amounts import Kind
from lapdelta.words.printing import capital

#: Half of the fixed x range and the bin width wished for, in the unit of the measure: an interval of one
#: practice day is 0.5-1.2 s wide, so that 1.5 s to each side hold nearly all dots of nearly all findings.
_HALF_RANGE: Final = {"lap": 1.5, "sector": 0.75, "speed": 7.5, "rpm": 750.0}
_BIN: Final = {"lap": 0.10, "sector": 0.05, "speed": 0.5, "rpm": 50.0}
_MOST_BINS_A_SIDE: Final = 40
_SMALLEST_DOT_PX, _LARGEST_DOT_PX, _LARGEST_STACK_PX = 5.0, 12.0, 190.0
_LEAST_HEIGHT_PX: Final = 120
#: More dots than this in one column are shown on the closer scale, if all of it fits there.
_MOST_IN_A_COLUMN: Final = 10
_CLOSER: Final = 3.0
#: Above this the labels of the two sides stand, px from the top.
_LABELS_PX: Final = 22
#: Space between axis and lowest dot, px; the interval lies in it.
_FOOT_PX: Final = 12


def change_dots(
    finding: Finding,
    *,
    dark: bool = False,
    language: str = "en",
    width: int = WIDTH,
    scatter: float | None = None,
) -> Any:
    """Twenty dots of the change, in the measure's unit; an Altair layer chart.

    A finding without an estimate gives a chart with a title and no dots. ``scatter``: how far two of three
    single laps lie from the usual one, in the measure's unit; drawn as a thin line beside the range.
    """
    values = twenty_answers(finding)
    half, bin_width = _scale(finding, values)
    looks = _looks(finding, dark)
    rows = [_dressed(row, looks, half, finding.margin) for row in _stack(values, half, bin_width)]
    deepest = max((row["level"] for row in rows), default=0) + 1
    dot_px = min(_LARGEST_DOT_PX, (width - 16) * bin_width / (2 * half), _LARGEST_STACK_PX / deepest)
    dot_px = max(_SMALLEST_DOT_PX, dot_px)
    height = max(_LEAST_HEIGHT_PX, math.ceil(deepest * dot_px) + _FOOT_PX + 44)
    x, y = _x(finding, half, language), _y(height)
    layers = [*_rules(finding, half, x, dark), *_range(finding, half, x, y, dark)]
    layers += _scatter_line(finding, scatter, half, x, y, dark)
    layers += [_dots(rows, dot_px, x, y)]
    layers += _side_labels(values, finding, looks, dark, language)
    chart = alt.layer(*layers)
    title = _title(values, finding, language)
    beyond = sum(1 for value in values if abs(value) > half)
    note = phrase("dots.filled", language, margin=amount(finding.measure, finding.margin, language))
    notes = [note]
    if beyond:
        notes.append(plural("dots.beyond", beyond, language))
    if half < _HALF_RANGE[_scale_kind(finding)]:
        notes.append(phrase("dots.closer", language))
    if scatter is not None:
        notes.append(phrase("dots.scatter", language, scatter=amount(finding.measure, scatter, language)))
    alt_text = _alt_text(values, finding, title, language)
    note = " ".join(notes) if values else None
    return finish(
        chart,
        title=title,
        note=note,
        alt_text=alt_text,
        width=width,
        height=height,
        dark=dark,
        language=language,
    )


def twenty_answers(finding: Finding) -> list[float]:
    """Quantiles (i - 1/2)/20 of the t distribution around the estimate; empty if there is no estimate."""
    if finding.estimate is None or finding.standard_error is None or finding.dof is None:
        return []
    levels = (np.arange(TWENTY) + 0.5) / TWENTY
    quantiles = finding.estimate + finding.standard_error * stdtrit(finding.dof, levels)
    return [float(value) for value in quantiles]


def _scale_kind(finding: Finding) -> Kind:
    """Which x range: parts of a session are whole laps."""
    return "lap" if finding.measure in PARTS_OF_A_SESSION else measure_kind(finding.measure)


def _scale(finding: Finding, values: list[float]) -> tuple[float, float]:
    """Half of the x range and the bin width: the fixed range, or a third of it.

    On the fixed one a very sure answer is one tall column that nobody can count; the note says which it is.
    """
    kind = _scale_kind(finding)
    half, bin_width = _HALF_RANGE[kind], _bin_width(finding, _BIN[kind], _HALF_RANGE[kind])
    closer = half / _CLOSER
    deepest = max((row["level"] for row in _stack(values, half, bin_width)), default=0) + 1
    if deepest <= _MOST_IN_A_COLUMN or max(map(abs, [*values, finding.margin])) > closer:
        return half, bin_width
    return closer, _bin_width(finding, _BIN[kind] / _CLOSER, closer)


def _bin_width(finding: Finding, wished: float, half: float) -> float:
    """A whole part of the margin, near the width wished for, so that zero and the margin are bin edges."""
    bin_width = finding.margin / max(1, round(finding.margin / wished))
    return bin_width if half / bin_width <= _MOST_BINS_A_SIDE else wished


def _looks(finding: Finding, dark: bool) -> dict[bool, tuple[str, str]]:
    """Shape and colour of the minus (True) and of the plus side: a blue circle is towards better.

    Of engine speed neither side is better, so both have the colour of the text.
    """
    kind = measure_kind(finding.measure)
    if kind == "rpm":
        return {True: ("circle", ink(dark)), False: ("square", ink(dark))}
    better, worse = ("circle", BLUE), ("square", VERMILLION)
    return {True: worse, False: better} if kind == "speed" else {True: better, False: worse}


def _dressed(
    row: dict[str, Any], looks: dict[bool, tuple[str, str]], half: float, margin: float
) -> dict[str, Any]:
    """A dot's row with its shape, colour and filling; beyond the edge a triangle that points there."""
    value = row["value"]
    shape, colour = looks[value < 0]
    if abs(value) > half:
        shape = "triangle-left" if value < 0 else "triangle-right"
    return row | {"shape": shape, "stroke": colour, "fill": colour if abs(value) > margin else "transparent"}


def _stack(values: list[float], half: float, bin_width: float) -> list[dict[str, Any]]:
    """One row a dot: its value, bin centre and level in its stack."""
    filled: dict[int, int] = {}
    rows: list[dict[str, Any]] = []
    last = math.floor(half / bin_width + 1e-9)
    for value in values:
        # A value a hair from an edge belongs to the side that it is counted on.
        index = min(last - 1, max(-last, math.floor(value / bin_width + (1e-9 if value >= 0 else -1e-9))))
        level = filled.get(index, 0)
        filled[index] = level + 1
        rows.append({"value": value, "x": (index + 0.5) * bin_width, "level": level})
    return rows


def _x(finding: Finding, half: float, language: str) -> alt.X:
    kind = measure_kind(finding.measure)
    place, unit = sector_label(finding.measure, language), unit_text(finding.measure, language)
    title = phrase(f"dots.axis.{kind}", language, place=place, unit=unit)
    axis = alt.Axis(title=title, grid=False, tickCount=7, labelFlush=False)
    return alt.X("x:Q", scale=alt.Scale(domain=[-half, half], nice=False, zero=False), axis=axis)


def _y(height: int) -> alt.Y:
    """Pixels above the axis, so that stacked dots touch in a picture of any height."""
    return alt.Y("y:Q", scale=alt.Scale(domain=[0, height], nice=False), axis=None)


def _dots(rows: list[dict[str, Any]], dot_px: float, x: alt.X, y: alt.Y) -> Any:
    """The dots; with none, an invisible point that keeps the axis."""
    if not rows:
        return alt.Chart(alt.Data(values=[{"x": 0, "y": 0}])).mark_point(opacity=0).encode(x=x, y=y)
    data = [
        row
        | {"y": _FOOT_PX + dot_px * (row["level"] + 0.5)}
        | {"size": (dot_px * (0.64 if row["shape"] == "square" else 0.80)) ** 2}
        for row in rows
    ]
    mark = alt.Chart(alt.Data(values=data)).mark_point(strokeWidth=1.5, opacity=1)
    return mark.encode(
        x=x,
        y=y,
        shape=alt.Shape("shape:N", scale=None),
        stroke=alt.Stroke("stroke:N", scale=None),
        fill=alt.Fill("fill:N", scale=None),
        size=alt.Size("size:Q", scale=None),
    )


def _rules(finding: Finding, half: float, x: alt.X, dark: bool) -> list[Any]:
    """Zero as a full line, the margin as dashed ones."""
    zero = alt.Chart(alt.Data(values=[{"x": 0.0}])).mark_rule(color=ink(dark), strokeWidth=1.5)
    below: dict[str, Any] = {"y": alt.value(_LABELS_PX), "y2": alt.value("height")}
    layers = [zero.encode(x=x, **below)]
    if finding.margin < half:
        edges = [{"x": -finding.margin}, {"x": finding.margin}]
        dashed = alt.Chart(alt.Data(values=edges)).mark_rule(color=ink(dark), strokeDash=[3, 3], opacity=0.8)
        layers.append(dashed.encode(x=x, **below))
    return layers


def _range(finding: Finding, half: float, x: alt.X, y: alt.Y, dark: bool) -> list[Any]:
    """The confidence interval as a line on the axis."""
    if finding.low is None or finding.high is None:
        return []
    row = {
        "x": max(-half, min(half, finding.low)),
        "x2": max(-half, min(half, finding.high)),
        "y": _FOOT_PX / 2,
    }
    return [
        alt.Chart(alt.Data(values=[row]))
        .mark_rule(color=ink(dark), strokeWidth=3)
        .encode(x=x, x2="x2:Q", y=y)
    ]


def _scatter_line(
    finding: Finding, scatter: float | None, half: float, x: alt.X, y: alt.Y, dark: bool
) -> list[Any]:
    """How far single laps lie from the usual one: a thin line just above the range."""
    if scatter is None or finding.estimate is None:
        return []
    low, high = finding.estimate - scatter, finding.estimate + scatter
    row = {"x": max(-half, min(half, low)), "x2": max(-half, min(half, high)), "y": _FOOT_PX - 2}
    mark = alt.Chart(alt.Data(values=[row])).mark_rule(color=ink(dark), strokeWidth=1)
    return [mark.encode(x=x, x2="x2:Q", y=y)]


def _side_labels(
    values: list[float], finding: Finding, looks: dict[bool, tuple[str, str]], dark: bool, language: str
) -> list[Any]:
    """How many dots on each side, said at the side, with the shape of the dots."""
    if not values:
        return []
    minus = sum(value < 0 for value in values)
    sides = [(-1.0, minus, "left", *looks[True]), (1.0, len(values) - minus, "right", *looks[False])]
    layers: list[Any] = []
    for sign, count, side, shape, colour in sides:
        way = direction(finding.measure, sign, language)
        text = phrase("dots.side", language, direction=capital(way), n=count)
        x_px: Any = alt.value(5) if side == "left" else alt.value("width")
        data = alt.Data(values=[{"text": text}])
        inset = 12 if side == "left" else -17
        point = alt.Chart(data).mark_point(
            shape=shape, filled=True, color=colour, size=80, opacity=1, xOffset=0 if side == "left" else -6
        )
        label = alt.Chart(data).mark_text(
            align="left" if side == "left" else "right",
            baseline="middle",
            dx=inset,
            color=ink(dark),
            fontSize=13,
        )
        layers.append(point.encode(x=x_px, y=alt.value(8)))
        layers.append(label.encode(x=x_px, y=alt.value(8), text="text:N"))
    return layers


def _title(values: list[float], finding: Finding, language: str) -> str:
    if not values:
        return phrase("dots.title.none", language)
    minus = sum(value < 0 for value in values)
    ways = {
        "minus": direction(finding.measure, -1.0, language),
        "plus": direction(finding.measure, 1.0, language),
    }
    if 2 * minus == len(values):
        return phrase("dots.title.even", language, **ways)
    count, way = (minus, "minus") if 2 * minus > len(values) else (len(values) - minus, "plus")
    return phrase("dots.title", language, n=count, direction=ways[way])


def _alt_text(values: list[float], finding: Finding, title: str, language: str) -> str:
    if not values or finding.low is None or finding.high is None:
        return title
    measure, kind = finding.measure, measure_kind(finding.measure)
    name = measure_name(measure, language)
    minus = sum(value < 0 for value in values)
    decimals = 0 if kind == "rpm" else 2
    unit = unit_text(measure, language)
    ends = [f"{in_digits(f'{end:+.{decimals}f}', language)} {unit}" for end in (finding.low, finding.high)]
    return phrase(
        "dots.alt",
        language,
        measure=name,
        minus_n=minus,
        plus_n=len(values) - minus,
        minus=direction(measure, -1.0, language),
        plus=direction(measure, 1.0, language),
        worth_n=sum(abs(value) > finding.margin for value in values),
        margin=amount(measure, finding.margin, language),
        range=phrase("dots.range", language, low=ends[0], high=ends[1]),
    )
