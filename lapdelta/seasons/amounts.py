"""Values and shifts of a season as text, with their units."""

from lapdelta.effect.measures import Measure
from lapdelta.seasons.factor import Factor


def amount(value: float, factor: Factor) -> str:
    """A value with its unit: "80.4 teeth", "0.62 bar"."""
    digits = 1 if factor.step >= 1 else 2
    whole = factor.step >= 1 and abs(value - round(value)) < 1e-9
    return f"{value:.0f} {factor.unit}" if whole else f"{value:.{digits}f} {factor.unit}"


def shift_text(value: float, measure: Measure) -> str:
    """A signed number with the measure's unit."""
    digits = {"s": 2, "km/h": 1}.get(measure.unit, 0)
    return f"{value:+z.{digits}f} {measure.unit}"


def size_text(value: float, measure: Measure) -> str:
    """The same without its sign."""
    return shift_text(abs(value), measure).lstrip("+")
