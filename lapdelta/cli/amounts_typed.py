"""What is typed on the command line: ``22in``, ``3/8 inch``, ``60 mph``, ``7,774``, ``0,1``, a day."""

import re
from datetime import date
from typing import Any

import click

#: Unit as typed -> factor to the option's own unit. Inch, mile and yard are exact (NIST SP 811, appendix B.8).
_TO_MM = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "inch": 25.4, "inches": 25.4, '"': 25.4}
_TO_KMH = {"km/h": 1.0, "kmh": 1.0, "kph": 1.0, "mph": 1.609344, "mi/h": 1.609344, "m/s": 3.6}
UNITS: dict[str, dict[str, float]] = {
    "mm": _TO_MM,
    "m": {unit: factor / 1000.0 for unit, factor in _TO_MM.items()}
    | {"km": 1000.0, "mi": 1609.344, "mile": 1609.344, "miles": 1609.344, "yd": 0.9144},
    "km/h": _TO_KMH,
    "1/min": {"1/min": 1.0, "rpm": 1.0, "/min": 1.0},
    "kg": {"kg": 1.0, "lb": 0.45359237, "lbs": 0.45359237},
}

_AMOUNT = re.compile(r"\s*([+-]?\d+(?:[.,]\d+)?|[+-]?[.,]\d+)(?:\s*/\s*(\d+))?\s*(.*?)\s*", re.DOTALL)


class Amount(click.ParamType[float]):
    """A number in ``unit``, or in another unit that stands behind it.

    Args:
        unit: of the value the command receives; also taken where none is typed.
    """

    def __init__(self, unit: str) -> None:
        """An amount in that unit, one of UNITS."""
        self.unit = unit
        self.name = unit.upper()

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """The number in our unit; a usage error for what is no number or has a unit we do not know."""
        if isinstance(value, (int, float)):
            return float(value)
        found = _AMOUNT.fullmatch(str(value))
        if found is None:
            self.fail(f"{value!r} is not a number of {self.unit}.", param, ctx)
        number, below, unit = found.groups()
        units = {name.casefold(): factor for name, factor in UNITS[self.unit].items()}
        if unit.casefold() not in {"", *units}:
            self.fail(f"{unit!r} is not a unit here; say {', '.join(UNITS[self.unit])}.", param, ctx)
        if below is not None and int(below) == 0:
            self.fail(f"{value!r} is not a number of {self.unit}.", param, ctx)
        size = float(number.replace(",", ".")) / (int(below) if below else 1)
        return size * units.get(unit.casefold(), 1.0)


class Number(click.ParamType[float]):
    """A plain number, with a point or a comma before its decimals."""

    name = "number"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """The number; a usage error for anything else, an endless one included."""
        if isinstance(value, (int, float)):
            return float(value)
        if not re.fullmatch(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?", str(value).strip()):
            self.fail(f"{value!r} is not a number; write it as 0.1, without a unit.", param, ctx)
        return float(str(value).replace(",", "."))


class Day(click.ParamType[date]):
    """A day as 2026-05-16."""

    name = "YYYY-MM-DD"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> date:
        """The day; a usage error for what is none."""
        if isinstance(value, date):
            return value
        try:
            return date.fromisoformat(str(value).strip())
        except ValueError:
            self.fail(f"{value!r} is not a date; write it as 2026-05-16.", param, ctx)


class Count(click.ParamType[float]):
    """Teeth or links. What is not whole goes on to the library, whose error names the value and the range."""

    name = "number"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """An int where it is whole, else the float as typed."""
        if isinstance(value, (int, float)):
            return value
        try:
            number = float(str(value).replace(",", "."))
        except ValueError:
            self.fail(f"{value!r} is not a number.", param, ctx)
        return int(number) if number.is_integer() else number


class Counts(click.ParamType[tuple[int, ...]]):
    """Several numbers of teeth: ``80,81,82`` or ``79-84``."""

    name = "numbers"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[int, ...]:
        """The numbers, runs spelled out."""
        numbers: list[int] = []
        for part in re.split(r"[\s,;]+", str(value).strip()):
            found = re.fullmatch(r"(\d{1,3})(?:(?:-|\.\.)(\d{1,3}))?", part)
            if found is None or (found[2] and int(found[2]) < int(found[1])):
                self.fail(f"{part!r} is not a number of teeth; say 82, or 80,81,82, or 79-84.", param, ctx)
            numbers += range(int(found[1]), int(found[2] or found[1]) + 1)
        return tuple(numbers)


MM, METRES, KMH, RPM, KG = Amount("mm"), Amount("m"), Amount("km/h"), Amount("1/min"), Amount("kg")
TEETH, LINKS, MANY_TEETH = Count(), Count(), Counts()
NUMBER, DAY = Number(), Day()
