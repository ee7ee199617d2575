"""Sprockets and chains of the box: how far each has run, and what a hundred of its laps cost."""

from typing import Any, Final

import altair as alt

from lapdelta.gearing.box import KINDS, PartWear
from lapdelta.parts.charged import Box
from lapdelta.pictures.style import TEXT_PX, WIDTH, finish, grey, ink, round_steps, short, text_width_px
from lapdelta.words import in_digits, phrase, plural

_ROW_PX: Final = 30
_LABEL_PX: Final = 118


def part_laps(box: Box, *, dark: bool = False, language: str = "en", width: int = WIDTH) -> Any:
    """A bar a part as long as its laps, with kilometres where lap lengths are known; an Altair layer chart.

    Raises:
        ValueError: no part has run a lap.
    """
    wear = [one for one in _in_order(box) if one.laps]
    if not wear:
        raise ValueError("no part of the box has run a lap")
    rows = [_row(one, box, one.laps, _ran(one, language), language) for one in wear]
    most = max(wear, key=lambda one: one.laps)
    title = phrase("parts.laps.title", language, part=short(most.part.name, 24), ran=_ran(most, language))
    return _bars(rows, "laps", title, dark, language, width)


def part_cost(box: Box, *, dark: bool = False, language: str = "en", width: int = WIDTH) -> Any:
    """A bar a part as long as the cost of a hundred of its laps so far; an Altair layer chart.

    Raises:
        ValueError: of no part that has run is a price known.
    """
    wear = [(one, one.cost_per_100_laps) for one in _in_order(box) if one.cost_per_100_laps is not None]
    if not wear:
        raise ValueError("no part of the box has a price and laps")
    rows = [_row(one, box, cost, _money(cost, language), language) for one, cost in wear]
    dearest, cost = max(wear, key=lambda pair: pair[1])
    name = short(dearest.part.name, 24)
    title = phrase("parts.cost.title", language, part=name, cost=_money(cost, language))
    return _bars(rows, "cost", title, dark, language, width)


def _in_order(box: Box) -> list[PartWear]:
    """By kind, then most laps first."""
    return sorted(box.wear, key=lambda one: (KINDS.index(one.part.kind), -one.laps, one.part.name))


def _ran(one: PartWear, language: str) -> str:
    """``412 laps, 293 km``; "or more" where some of the laps have no length."""
    laps = plural("parts.laps", one.laps, language)
    if one.distance_km is None:
        return laps
    key = "parts.km.more" if one.laps_without_length else "parts.km"
    return phrase(key, language, laps=laps, km=f"{one.distance_km:.0f}")


def _money(cost: float, language: str) -> str:
    return in_digits(f"{cost:.2f}", language)


def _row(one: PartWear, box: Box, size: float, said: str, language: str) -> dict[str, Any]:
    kind = phrase(f"parts.{one.part.kind.replace(' ', '_')}", language, size=one.part.size)
    gone = {each.part.name for each in box.parts if each.retired is not None}
    filled = one.part.name not in gone
    same = one.part.name.casefold() == kind.casefold()
    label = kind if same else f"{short(one.part.name, 10)}, {kind}"
    return {"label": label, "size": size, "said": said, "filled": filled}


def _bars(rows: list[dict[str, Any]], what: str, title: str, dark: bool, language: str, width: int) -> Any:
    """Bars from zero, what they mean in words at their ends; room is left for the words."""
    plot, longest = width - _LABEL_PX, max(row["size"] for row in rows)
    domain = [0, max(row["size"] * plot / _room(row, plot) for row in rows)]
    steps = [step for step in round_steps([longest], 4) if step <= longest]
    axis = alt.Axis(title=phrase(f"parts.{what}.axis", language), values=steps, grid=False)
    x = alt.X("size:Q", scale=alt.Scale(domain=domain, nice=False), axis=axis)
    labels = [row["label"] for row in rows]
    if len(set(labels)) < len(labels):
        rows = [row | {"label": f"{place}. {row['label']}"} for place, row in enumerate(rows, start=1)]
        labels = [row["label"] for row in rows]
    axis_y = alt.Axis(title=None, ticks=False, domain=False, labelLimit=_LABEL_PX)
    y = alt.Y("label:N", sort=labels, scale=alt.Scale(domain=labels), axis=axis_y)
    base = alt.Chart(alt.Data(values=rows))
    fill = alt.Fill(
        "filled:N", scale=alt.Scale(domain=[True, False], range=[grey(dark), "transparent"]), legend=None
    )
    bars = base.mark_bar(stroke=grey(dark), strokeWidth=1.5, height=12).encode(x=x, y=y, fill=fill)
    text = base.mark_text(align="left", dx=5, color=ink(dark), fontSize=TEXT_PX).encode(
        x=x, y=y, text="said:N"
    )
    listed = "; ".join(f"{row['label']}: {row['said']}" for row in rows)
    notes = [f"parts.{what}.note", *(["parts.retired"] if not all(row["filled"] for row in rows) else [])]
    return finish(
        alt.layer(bars, text), title=title, note=" ".join(phrase(key, language) for key in notes),
        alt_text=phrase("parts.alt", language, n=len(rows), title=title, listed=listed), width=width,
        height=_ROW_PX * len(rows), dark=dark, language=language,
    )  # fmt: skip


def _room(row: dict[str, Any], plot: float) -> float:
    """Pixels that a bar may be long so that its words fit behind it."""
    return max(40.0, plot - text_width_px(row["said"], TEXT_PX) - 10)
