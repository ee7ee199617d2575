"""A finding for the screen: speeds, and what differs on the setup sheet, in the user's units.

Only for what is shown: a finding that is stored, compared or repeated stays in the units of the store.
"""

from dataclasses import replace
from typing import Any

from lapdelta.effect.finding import Finding
from lapdelta.setups.fields import BY_COLUMN
from lapdelta.sheet.subject import item_name
from lapdelta.units import IN_STORE, Units
from lapdelta.words.amounts import SPEED_IN_MPH

_NUMBERS = (
    "estimate", "standard_error", "low", "high", "margin", "half_width", "smallest_margin", "tipping_rate",
)  # fmt: skip

#: Numbers in the measure's unit in the rows of a finding's lists.
_IN_ROWS = {
    "cells": ("pace", "session_term", "adjusted"),
    "quantiles": ("estimate", "standard_error", "low", "high"),
    "placebo": ("shift",),
    "choices": ("estimate", "low", "high"),
}


def in_units(finding: Finding, units: Units, *, texts: bool = True) -> Finding:
    """The finding as it is shown to somebody with these units; itself where they change nothing.

    ``texts``: its reasons and checks too; not where they are still to be said in another language.
    """
    if units == IN_STORE:
        return finding
    if texts:
        checks = tuple((name, passed, units.said(text)) for name, passed, text in finding.checks)
        finding = replace(finding, reasons=tuple(map(units.said, finding.reasons)), checks=checks)
    differences = tuple(_difference(item, units) for item in finding.setup_differences)
    finding = replace(finding, setup_differences=differences)
    if measure_shown(finding.measure, units) == finding.measure:
        return finding
    factor = units.shown_change(1.0, "km/h")
    numbers: dict[str, Any] = {name: _scaled(getattr(finding, name), factor) for name in _NUMBERS}
    for part, names in _IN_ROWS.items():
        rows: tuple[dict[str, Any], ...] = getattr(finding, part)
        numbers[part] = tuple(row | {n: _scaled(row[n], factor) for n in names if n in row} for row in rows)
    numbers["cells"] = tuple(
        row | {"variance": _scaled(row["variance"], factor**2)} for row in numbers["cells"]
    )
    return replace(finding, measure=SPEED_IN_MPH, unit="mph", **numbers)


def measure_shown(measure: str, units: Units) -> str:
    """The measure's name for texts about it in these units."""
    return SPEED_IN_MPH if measure == "top_speed" and units.speed == "mph" else measure


def item_label(item: str, units: Units, language: str = "en") -> str:
    """An item of the setup sheet with the unit that its values are shown and typed in."""
    text, field = item_name(item, language).rstrip(","), BY_COLUMN.get(item)
    stored = field.unit if field else None
    own = units.unit(stored)
    return text if own == stored else f"{text.removesuffix(f', {stored}')}, {own}"


def _scaled(value: float | None, factor: float) -> float | None:
    return None if value is None else value * factor


def _difference(item: dict[str, Any], units: Units) -> dict[str, Any]:
    """An item that differs, its values in the user's unit and that unit beside them."""
    field = BY_COLUMN.get(str(item["item"]))
    stored = field.unit if field else None
    if units.unit(stored) == stored:
        return item
    sides = {
        side: [
            float(f"{units.shown(value, stored):.4g}") if isinstance(value, float) else value
            for value in item[side]
        ]
        for side in ("before", "after")
    }
    return item | sides | {"units": (stored, units.unit(stored))}
