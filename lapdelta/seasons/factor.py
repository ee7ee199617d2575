"""The setting whose response is asked about: how it is read off the setup sheet, its scale and its step."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

from lapdelta.errors import QuestionError
from lapdelta.question.sheet import CONDITIONS, Entry

GEARING = ("engine_teeth", "axle_teeth", "chain_pitch_mm", "chain_links")
_FRONT = ("pressure_front_left_bar", "pressure_front_right_bar")
_REAR = ("pressure_rear_left_bar", "pressure_rear_right_bar")


@dataclass(frozen=True)
class Factor:
    """A setting.

    Attributes:
        name: as asked for.
        unit: of its values, as said.
        step: smallest change that is made, in that unit.
        lowest: smallest value that can be; no curve goes on below it.
        items: columns of the setup sheet that are read; their mean where there are two (left and right).
        kin: columns that change with it by nature, so that they are not "something else".
        engine: engine teeth that values are stated for; 0 for settings other than gearing.
        assumed: what was assumed of the engine teeth, in words; empty where nothing had to be.
    """

    name: str
    unit: str
    step: float
    lowest: float
    items: tuple[str, ...]
    kin: tuple[str, ...] = ()
    engine: float = 0.0
    assumed: str = ""

    @property
    def is_gearing(self) -> bool:
        """Whether x is ln(axle teeth / engine teeth)."""
        return self.name == "axle_teeth"

    @property
    def is_weather(self) -> bool:
        """Whether nobody can set it: nothing is suggested to be tried."""
        return self.unit == "°C"

    def x_of(self, entry: Entry | None) -> float | None:
        """x of a setup entry; None where it was not written down."""
        if entry is None:
            return None
        values = [entry.get(item) for item in self.items]
        if any(value is None for value in values):
            return None
        value = math.fsum(float(value) for value in values if value is not None) / len(values)
        if not self.is_gearing:
            return value
        engine = float(entry.get("engine_teeth") or self.engine)
        return math.log(value / engine) if value > 0 else None

    def x_at(self, value: float) -> float:
        """x of a value, on the engine sprocket that values are stated for."""
        return math.log(value / self.engine) if self.is_gearing else value

    def value_at(self, x: float) -> float:
        """The value at x: for gearing axle teeth, in general not whole."""
        return self.engine * math.exp(x) if self.is_gearing else x

    def on_step(self, x: float) -> float:
        """The value at x on the grid of steps, to within what a ratio of other teeth allows."""
        value = self.value_at(x)
        near = round(round(value / self.step) * self.step, 9)
        return near if abs(near - value) < 1e-6 * self.step else value

    def is_other(self, item: str) -> bool:
        """Whether an item of the sheet is another setting than this one."""
        return item not in CONDITIONS and item not in self.items and item not in self.kin


_FACTORS = {
    factor.name: factor
    for factor in (
        Factor("axle_teeth", "teeth", 1.0, 1.0, ("axle_teeth",), GEARING),
        Factor("pressure_rear", "bar", 0.05, 0.05, _REAR),
        Factor("pressure_front", "bar", 0.05, 0.05, _FRONT),
        *(Factor(item, "bar", 0.05, 0.05, (item,)) for item in (*_FRONT, *_REAR)),
        Factor("total_weight_kg", "kg", 1.0, 1.0, ("total_weight_kg",), ("ballast_kg",)),
        Factor("ballast_kg", "kg", 1.0, 0.0, ("ballast_kg",), ("total_weight_kg",)),
        Factor("tyre_laps", "laps", 10.0, 0.0, ("tyre_laps",)),
        Factor("air_temperature_c", "°C", 5.0, -math.inf, ("air_temperature_c",)),
        Factor("track_temperature_c", "°C", 5.0, -math.inf, ("track_temperature_c",)),
    )
}
_SAID = {"pressure_rear": "rear pressure", "pressure_front": "front pressure"}


def in_words(name: str) -> str:
    """A factor's name in plain words, without its unit."""
    for unit in ("_bar", "_kg", "_c"):
        name = name.removesuffix(unit)
    return _SAID.get(name, name.replace("_", " "))


def find_factor(name: str, entries: Iterable[Entry]) -> Factor:
    """The factor of that name, set for the engine sprocket most used.

    Raises:
        QuestionError: there is no such factor.
    """
    if name not in _FACTORS:
        raise QuestionError(
            f"A response to {name} cannot be asked for.", f"Possible: {', '.join(_FACTORS)}.", "factor"
        )
    factor = _FACTORS[name]
    if not factor.is_gearing:
        return factor
    fitted = [entry for entry in entries if entry.get("axle_teeth")]
    engines = [int(entry["engine_teeth"]) for entry in fitted if entry.get("engine_teeth")]
    usual = max(sorted(set(engines)), key=engines.count, default=1)
    return replace(factor, engine=float(usual), assumed=_assumed(engines, usual, len(fitted) - len(engines)))


def _assumed(engines: list[int], usual: int, missing: int) -> str:
    """What the sessions without engine teeth were taken for."""
    if not missing:
        return ""
    if not engines:
        return "engine teeth were never written down: the same sprocket is assumed throughout"
    which = f"{usual}, as in most sessions" if len(set(engines)) > 1 else f"{usual}, as in the others"
    return f"engine teeth were not written down in {missing} session{'s' * (missing != 1)}: taken as {which}"
