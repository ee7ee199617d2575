"""Input checks of the gearing room: an error names the value, the range and the way out."""

import math
import operator
from typing import SupportsIndex, cast

from lapdelta.errors import LapdeltaError, in_digits

#: Fewer teeth than this no roller chain sprocket has.
FEWEST_TEETH = 6
#: Engine speed above this is a slip of the keyboard, 1/min.
HIGHEST_RPM = 30_000.0
#: Road speed above this is a slip of the keyboard, km/h.
HIGHEST_SPEED_KMH = 1_000.0
#: Rolling circumferences of anything a kart may roll on, m.
SMALLEST_CIRCUMFERENCE_M, LARGEST_CIRCUMFERENCE_M = 0.2, 3.0
#: Pitches of a kart's chain, mm: what is outside is a slip of the keyboard (the setup sheet's own range).
SMALLEST_PITCH_MM, LARGEST_PITCH_MM = 4.0, 20.0


class GearingError(LapdeltaError, ValueError):
    """Teeth, chain or speeds that cannot be. ``where`` is the name of the argument."""


def whole_teeth(value: object, name: str) -> int:
    """A number of teeth as an int.

    Raises:
        GearingError: not a whole number, or fewer than FEWEST_TEETH.
    """
    whole = _whole(value)
    if whole is None or whole < FEWEST_TEETH:
        raise GearingError(
            f"{value!r} teeth cannot be: teeth are whole numbers of {FEWEST_TEETH} or more.",
            "Count the teeth of the sprocket and give that number.",
            name,
        )
    return whole


def _whole(value: object) -> int | None:
    """The int that ``value`` is, 11.0 included, or None; True is not a number of teeth."""
    if isinstance(value, bool):
        return None
    if isinstance(value, float):
        return int(value) if math.isfinite(value) and value.is_integer() else None
    try:
        return operator.index(cast(SupportsIndex, value))
    except TypeError:
        return None


def whole_links(value: object, name: str = "links") -> int:
    """A number of links as an int.

    Raises:
        GearingError: not a whole number above zero.
    """
    whole = _whole(value)
    if whole is None or whole < 1:
        raise GearingError(
            f"{value!r} links cannot be: links are whole numbers of 1 or more.",
            "Count the links of the chain, joining link included.",
            name,
        )
    return whole


def within(value: float, name: str, low: float, high: float, unit: str, mend: str = "") -> float:
    """``value`` as a float if ``low <= value <= high``.

    Raises:
        GearingError: outside, or not a finite number.
    """
    number = _number(value)
    if number is None or not low <= number <= high:
        unit_text = f" {unit}" if unit else ""
        raise GearingError(
            f"{value!r}{unit_text} is outside {in_digits(low)} to {in_digits(high)}{unit_text}.",
            mend or "Give a value inside that range.",
            name,
        )
    return number


def positive(value: float, name: str, unit: str) -> float:
    """``value`` as a float if finite and above zero.

    Raises:
        GearingError: zero, negative, or not a finite number.
    """
    number = _number(value)
    if number is None or number <= 0:
        raise GearingError(f"{value!r} {unit} cannot be.", f"Give a number of {unit} above 0.", name)
    return number


def _number(value: object) -> float | None:
    """A finite float, or None."""
    if isinstance(value, (bool, str, bytes)):
        return None
    try:
        number = float(cast(float, value))
    except (TypeError, ValueError):
        return None
    return number if math.isfinite(number) else None


def circumference(value: float, name: str = "circumference_m") -> float:
    """A rolling circumference in m within what a kart can roll on."""
    mend = "Give the rolling circumference in metres, for example 0.860."
    return within(value, name, SMALLEST_CIRCUMFERENCE_M, LARGEST_CIRCUMFERENCE_M, "m", mend)


def kart_pitch(value: float, name: str = "pitch_mm") -> float:
    """A chain pitch in mm that a kart can have; 3/8 typed without its inches is none."""
    mend = "Give the chain pitch in mm, as 7.774, or with its unit, as 3/8in."
    return within(value, name, SMALLEST_PITCH_MM, LARGEST_PITCH_MM, "mm", mend)


def slip_share(value: float, name: str = "slip") -> float:
    """Tyre slip as a share, 0 to 0.5."""
    return within(value, name, 0.0, 0.5, "", "Slip is a share: 0.02 means 2 %.")
