"""The fields of the setup sheet: plain words for them, units, and the range a value can have.

The ranges only keep out slips of the pen and wrong units; they are common practice, no source, and no advice.
What a maker's manual or the class rules allow is narrower.
"""

import re
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

from lapdelta.errors import SetupError
from lapdelta.units import CHOICES

#: What one unit is in the unit of the store, as value = (typed + offset) * factor: those of lapdelta.units, and
#: some that are only typed.
_UNITS: dict[str, dict[str, tuple[float, float]]] = {
    "bar": {**CHOICES["pressure"], "mbar": (0.0, 0.001)},
    "kg": {**CHOICES["weight"], "lbs": CHOICES["weight"]["lb"], "g": (0.0, 0.001)},
    "mm": {**CHOICES["length"], **dict.fromkeys(("in", '"'), CHOICES["length"]["inch"]), "cm": (0.0, 10.0)},
    "C": CHOICES["temperature"],
}

#: Words that may stand behind a count.
_COUNTED = {"": (0.0, 1.0), "teeth": (0.0, 1.0), "t": (0.0, 1.0), "links": (0.0, 1.0), "laps": (0.0, 1.0)}


@dataclass(frozen=True)
class Field:
    """A field: its column in tables.SETUPS, words people use for it, and for numbers unit and range."""

    column: str
    words: tuple[str, ...]
    said: str
    unit: str | None = None
    low: float | None = None
    high: float | None = None
    whole: bool = False

    @property
    def number(self) -> bool:
        """True if its values are numbers."""
        return self.low is not None


_WHEELS = ("front_left", "front_right", "rear_left", "rear_right")

FIELDS = (
    Field(
        "engine_teeth", ("engine", "engine_sprocket", "driver_sprocket"), "engine teeth", None, 6, 60, True
    ),
    Field("axle_teeth", ("axle", "axle_sprocket", "rear_sprocket", "sprocket"), "axle", None, 6, 150, True),
    Field("chain_pitch_mm", ("chain_pitch", "pitch"), "chain pitch", "mm", 4.0, 20.0),
    Field("chain_links", ("links", "chain"), "chain links", None, 20, 400, True),
    Field("tyre_set", ("tyres", "tyre", "tires", "tire", "tire_set"), "tyre set"),
    Field(
        "tyre_laps", ("tire_laps", "laps_on_tyres", "laps_on_tires"), "laps on the tyres", None, 0, 5000, True
    ),
    *(
        Field(
            f"pressure_{wheel}_bar",
            (f"pressure_{wheel}", f"{wheel}_pressure", wheel),
            f"pressure {wheel.replace('_', ' ')}",
            "bar",
            0.2,
            3.5,
        )
        for wheel in _WHEELS
    ),
    Field("total_weight_kg", ("total_weight", "weight"), "total weight", "kg", 20.0, 500.0),
    Field("ballast_kg", ("ballast",), "ballast", "kg", 0.0, 200.0),
    Field("carburettor", ("carburetor", "carb"), "carburettor"),
    Field("fuel", (), "fuel"),
    Field("track_state", ("track", "track_condition"), "track"),
    Field(
        "air_temperature_c",
        ("air_temperature", "air", "air_temp", "temperature"),
        "air temperature",
        "C",
        -30.0,
        60.0,
    ),
    Field("track_temperature_c", ("track_temperature", "track_temp"), "track temperature", "C", -30.0, 90.0),
    Field("notes", ("note",), "notes"),
)

_FRONT = ("pressure_front_left_bar", "pressure_front_right_bar")
_REAR = ("pressure_rear_left_bar", "pressure_rear_right_bar")

#: Words for several columns at once.
_GROUPS = {
    **dict.fromkeys(("front", "front_pressure", "pressure_front"), _FRONT),
    **dict.fromkeys(("rear", "rear_pressure", "pressure_rear"), _REAR),
    **dict.fromkeys(("pressure", "pressures", "tyre_pressure", "tire_pressure"), _FRONT + _REAR),
}

BY_COLUMN = {field.column: field for field in FIELDS}
_BY_WORD = {word: (field.column,) for field in FIELDS for word in (field.column, *field.words)} | _GROUPS

_NUMBER = re.compile(r"([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?)\s*(.*)", re.DOTALL)
#: A chain pitch as the trade says it: 3/8in.
_INCHES = re.compile(r"(\d+)\s*/\s*([1-9]\d*)\s*(in|inch|\")", re.IGNORECASE)


def columns_of(key: str) -> tuple[tuple[str, ...], str | None]:
    """Columns that a typed key stands for, and the unit if the key ends with one; no columns if unknown."""
    word = re.sub(r"[\s_-]+", "_", key.strip().casefold())
    if word in _BY_WORD:
        return _BY_WORD[word], None
    stem, _, ending = word.rpartition("_")
    columns = _BY_WORD.get(stem, ())
    units = _UNITS.get(BY_COLUMN[columns[0]].unit or "", {}) if columns else {}
    return (columns, ending) if ending in _folded(units) else ((), None)


def nearest_key(key: str) -> str | None:
    """The key of the sheet that an unknown key was most likely meant to be, or None."""
    word = re.sub(r"[\s_-]+", "_", key.strip().casefold())
    near = get_close_matches(word, list(_BY_WORD), n=1, cutoff=0.7)
    return near[0] if near else None


def number(column: str, text: str, unit: str | None = None) -> float | int:
    """A typed number with or without unit, in the unit of the store.

    Args:
        column: of tables.SETUPS.
        text: as typed: ``0.62``, ``0,62 bar``, ``9psi``, a length also as ``3/8in``.
        unit: unit to take if none is typed; the store's for None.

    Raises:
        SetupError: not a number, an unknown unit, or out of range.
    """
    field = BY_COLUMN[column]
    if field.unit == "mm" and (parts := _INCHES.fullmatch(text.strip())):
        return checked(column, round(int(parts[1]) / int(parts[2]) * 25.4, 9), text.strip(), "inch")
    match = _NUMBER.fullmatch(text.strip())
    if match is None:
        raise SetupError(f"{text!r} is not a number for {field.said}.", _wants(field), column)
    typed, typed_unit = match.groups()
    name = typed_unit.strip().casefold().replace("°", "").rstrip(".") or (unit or field.unit or "").casefold()
    known = _folded(_UNITS.get(field.unit or "", _COUNTED))
    if name not in known:
        raise SetupError(f"{typed_unit.strip()!r} is not a unit for {field.said}.", _wants(field), column)
    offset, factor = known[name]
    value = float(typed.replace(",", "."))
    if (offset, factor) != (0.0, 1.0):
        value = round((value + offset) * factor, 9)  # hides binary dust, no digit that was typed
    return checked(column, value, text.strip(), name)


def checked(column: str, value: float, typed: str | None = None, unit: str = "") -> float | int:
    """The value, if it can be; ``unit`` is the one that it was typed in.

    Raises:
        SetupError: out of range, or not whole where it has to be; names the value and the range.
    """
    field = BY_COLUMN[column]
    if field.low is None or field.high is None:
        return value
    shown = typed or f"{value:g}"
    if not field.low <= value <= field.high:
        raise SetupError(f"{field.said} = {shown} cannot be.", _wants(field, unit), column)
    if not field.whole:
        return value
    if value != int(value):
        raise SetupError(f"{shown} is not a whole number for {field.said}.", _wants(field), column)
    return int(value)


def _folded(units: dict[str, tuple[float, float]]) -> dict[str, tuple[float, float]]:
    return {name.casefold(): how for name, how in units.items()}


def other_pairs(other: Any) -> list[tuple[str, str]]:
    """The pairs in a cell of the column ``other``, a list of dicts with key and value, or None."""
    pairs: list[dict[str, str]] = other or []
    return [(pair["key"], pair["value"]) for pair in pairs]


def _wants(field: Field, typed: str = "") -> str:
    """What can be given, in the unit that was typed."""
    units = [name for name in _UNITS.get(field.unit or "", {}) if name not in ('"', "lbs", "in")]
    known = {name.casefold(): name for name in units}
    unit = known.get(typed, field.unit)
    offset, factor = _UNITS.get(field.unit or "", {}).get(unit or "", (0.0, 1.0))
    low, high = (limit / factor - offset for limit in (field.low or 0.0, field.high or 0.0))
    shown = f" {unit}" if unit else ""
    whole = "a whole number " if field.whole else ""
    also = f"; units: {', '.join(units)}" if units else ""
    return f"Give {whole}from {low:.3g} to {high:.3g}{shown}{also}."
