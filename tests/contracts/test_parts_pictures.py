"""Laps and cost of the box's parts as pictures: right numbers, nothing cut off, any name harmless."""

import json
from datetime import date
from typing import Any

import pytest

from lapdelta.gearing.box import Kind, Part, PartWear
from lapdelta.parts.box import BoxPart
from lapdelta.parts.charged import Box
from lapdelta.pictures.export import to_html, to_png
from lapdelta.pictures.parts import part_cost, part_laps
from lapdelta.pictures.style import TEXT_PX, WIDTH, text_width_px


def wear(
    name: str, kind: Kind, size: int, laps: int, *, km: float | None = None, without: int = 0,
    price: float | None = None,
) -> PartWear:  # fmt: skip
    cost = None if price is None or not laps else 100 * price / laps
    return PartWear(Part(name, kind, size, 7.775, price), laps, km, without, cost, ())


WEAR = (
    wear("A80", "axle sprocket", 80, 212, km=155.2, price=24.9),
    wear("A82 red, the old one", "axle sprocket", 82, 98, without=98),
    wear("E11", "engine sprocket", 11, 310, km=200.1, without=20, price=18.6),
    wear("C104", "chain", 104, 308, km=226.0, price=55.0),
    wear("E10", "engine sprocket", 10, 0, price=15.0),
)


def box(*worn: PartWear, retired: str | None = None) -> Box:
    gone = {retired: date(2025, 6, 1)}
    return Box(
        tuple(BoxPart(one.part, None, gone.get(one.part.name), None) for one in worn), worn, (), (), ()
    )


def rows(chart: Any) -> list[dict[str, Any]]:
    return chart.to_dict()["data"]["values"]


def test_laps_and_kilometres_by_kind() -> None:
    chart = part_laps(box(*WEAR, retired="A80"))
    assert [(row["label"], row["size"], row["said"]) for row in rows(chart)] == [
        ("E11, engine 11", 310, "310 laps, 200 km or more"),
        ("A80, axle 80", 212, "212 laps, 155 km"),
        ("A82 red, …, axle 82", 98, "98 laps"),
        ("C104, chain 104", 308, "308 laps, 226 km"),
    ]
    assert " ".join(chart.to_dict()["title"]["text"]) == "E11 has run the most: 310 laps, 200 km or more"
    assert [row["filled"] for row in rows(chart)] == [True, False, True, True]
    assert "Outlined: retired." in " ".join(chart.to_dict()["title"]["subtitle"])
    assert "C104, chain 104: 308 laps, 226 km" in chart.to_dict()["description"]


def test_cost_of_a_hundred_laps_where_a_price_is_known() -> None:
    # 24.9 / 212, 18.6 / 310 and 55 / 308 a lap, by hand: 0.117, 0.060 and 0.179.
    chart = part_cost(box(*WEAR))
    assert [(row["label"], row["said"]) for row in rows(chart)] == [
        ("E11, engine 11", "6.00"), ("A80, axle 80", "11.75"), ("C104, chain 104", "17.86"),
    ]  # fmt: skip
    german = part_cost(box(*WEAR), language="de").to_dict()
    assert " ".join(german["title"]["text"]) == "Am teuersten ist C104: bisher 17,86 für hundert Runden"


def test_one_lap_is_not_said_as_many() -> None:
    assert rows(part_laps(box(wear("A", "chain", 100, 1))))[0]["said"] == "1 lap"


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("draw", [part_laps, part_cost], ids=lambda draw: draw.__name__)
def test_the_words_at_the_bars_ends_fit(draw: Any, language: str) -> None:
    spec = draw(box(*WEAR, retired="A80"), language=language).to_dict()
    span = spec["layer"][0]["encoding"]["x"]["scale"]["domain"][1]
    labels = max(text_width_px(row["label"], TEXT_PX) for row in rows(draw(box(*WEAR), language=language)))
    plot = WIDTH - min(118, labels)
    for row in spec["data"]["values"]:
        assert plot * row["size"] / span + 5 + text_width_px(row["said"], TEXT_PX) <= plot


def test_names_that_look_alike_or_hostile_stay_apart_and_harmless() -> None:
    names = ("'; alert(1) //", "'; alert(1) \\", "</svg><script>alert(2)</script>", "</svg><script>b")
    chart = part_laps(box(*(wear(name, "chain", 100, 5 + place) for place, name in enumerate(names))))
    assert len({row["label"] for row in rows(chart)}) == len(names)
    assert "<script" not in to_html(chart, "parts")
    assert to_png(chart).startswith(b"\x89PNG")
    assert "Expr" not in json.dumps(chart.to_dict())


@pytest.mark.parametrize("draw", [part_laps, part_cost], ids=lambda draw: draw.__name__)
def test_nothing_to_draw_is_an_error(draw: Any) -> None:
    with pytest.raises(ValueError, match="no part of the box has"):
        draw(box(WEAR[-1]))
