"""Units as the user has them, on input and on screen; the store has one unit of each kind.

Factors: NIST SP 811 (2008), appendix B.8; psi with the digits of its definition (lb 0.453 592 37 kg,
g 9.806 65 m/s2, inch 25.4 mm, mile 1609.344 m, all exact there).
"""

import json
import math
import re
from dataclasses import asdict, dataclass, fields, replace
from pathlib import Path

from lapdelta.errors import SetupError

#: Kind -> unit -> (offset, factor): value in the unit of the store = (value + offset) * factor. The first of
#: each kind is the unit of the store.
CHOICES: dict[str, dict[str, tuple[float, float]]] = {
    "pressure": {"bar": (0.0, 1.0), "psi": (0.0, 0.45359237 * 9.80665 / 0.0254**2 / 1e5), "kPa": (0.0, 0.01)},
    "temperature": {"C": (0.0, 1.0), "F": (-32.0, 5.0 / 9.0)},
    "speed": {"km/h": (0.0, 1.0), "mph": (0.0, 1.609344)},
    "length": {"mm": (0.0, 1.0), "inch": (0.0, 25.4)},
    "weight": {"kg": (0.0, 1.0), "lb": (0.0, 0.45359237)},
}

#: Unit of the store -> kind.
_KIND = {next(iter(units)): kind for kind, units in CHOICES.items()}

#: File in the archive's folder that holds the choice.
_FILE = "units.json"


#: An amount in a sentence: numbers that share one unit, and the unit. Units of CHOICES that sentences use.
_NUMBER = re.compile(r"[-+\u2212]?\d+(?:[.,]\d+)?")
_AMOUNT = re.compile(
    rf"(?<![\w.,/+-])(?P<numbers>{_NUMBER.pattern}(?:(?: to | and | or | -> | bis | und | oder ){_NUMBER.pattern})?)"
    r" (?P<unit>mm|km/h|bar|kg)(?![\w/\u00b2])"
)
_MOST_DECIMALS = 4


@dataclass(frozen=True)
class Units:
    """The user's units, one of CHOICES each; as made, those of the store."""

    pressure: str = "bar"
    temperature: str = "C"
    speed: str = "km/h"
    length: str = "mm"
    weight: str = "kg"

    def unit(self, stored: str | None) -> str | None:
        """The user's unit for a quantity stored in ``stored`` (bar, C, km/h, mm, kg); others stay as they are."""
        kind = _KIND.get(stored or "")
        return str(getattr(self, kind)) if kind else stored

    def shown(self, value: float, stored: str | None) -> float:
        """A stored value in the user's unit."""
        offset, factor = self._how(stored)
        return value if (offset, factor) == (0.0, 1.0) else value / factor - offset

    def shown_change(self, change: float, stored: str | None) -> float:
        """A difference of stored values in the user's unit (9 F warmer is 5 C warmer)."""
        return change / self._how(stored)[1]

    def kept(self, value: float, stored: str | None) -> float:
        """A value in the user's unit as it is stored."""
        offset, factor = self._how(stored)
        if (offset, factor) == (0.0, 1.0):
            return value
        return round((value + offset) * factor, 9)  # hides binary dust, no digit that was typed

    @property
    def way(self) -> str:
        """The unit of a distance driven: km, or mile for those who have their speeds in mph."""
        return "mile" if self.speed == "mph" else "km"

    def shown_way(self, distance_km: float) -> float:
        """A distance driven in ``way``."""
        return self.shown(distance_km, "km/h")

    def said(self, text: str) -> str:
        """A sentence of ours with its amounts in the user's units: "512.3 mm" becomes "20.17 inch".

        Numbers that share a unit (6 to 20 mm, 0.62 -> 0.66 bar) change together. They keep about the precision
        with which they were said. Temperatures stay: a sentence does not tell a level from a difference.
        """
        if self == IN_STORE:
            return text
        return _AMOUNT.sub(self._said, text)

    def _said(self, found: re.Match[str]) -> str:
        stored = found["unit"]
        unit = self.unit(stored)
        if unit == stored:
            return found[0]
        numbers = _NUMBER.sub(lambda number: self._shown_text(number[0], stored), found["numbers"])
        return f"{numbers} {unit}"

    def _shown_text(self, number: str, stored: str) -> str:
        """A number of a text in the user's unit, with decimals to match those it has."""
        factor = self._how(stored)[1]
        given = len(re.split("[.,]", number)[1]) if re.search("[.,]", number) else 0
        # A fifth of a digit in favour of more: 0.1 mm is said as 0.01 inch, not as 0.1 inch.
        decimals = min(_MOST_DECIMALS, max(0, given + round(math.log10(factor) + 0.2)))
        sign = "+" if number.startswith("+") else ""
        shown = f"{float(number.replace(',', '.').replace(chr(0x2212), '-')) / factor:.{decimals}f}"
        return sign + (shown.replace(".", ",") if "," in number else shown)

    def _how(self, stored: str | None) -> tuple[float, float]:
        kind = _KIND.get(stored or "")
        return CHOICES[kind][getattr(self, kind)] if kind else (0.0, 1.0)


#: The units of the store.
IN_STORE = Units()


def choose(units: Units, *names: str) -> Units:
    """The units with those named taken instead: ``choose(Units(), "psi", "F")``.

    Raises:
        SetupError: not a unit that can be chosen.
    """
    for name in names:
        found = [
            (kind, unit)
            for kind, known in CHOICES.items()
            for unit in known
            if unit.casefold() == name.casefold()
        ]
        if not found:
            listed = "; ".join(" or ".join(known) for known in CHOICES.values())
            raise SetupError(f"{name!r} is not a unit to choose.", f"Choose of: {listed}.", name)
        units = replace(units, **dict(found))
    return units


def read_units(kept: bytes | None, where: str) -> Units:
    """The units chosen for an archive, as its file keeps them; those of the store where nobody chose.

    Raises:
        SetupError: the file that holds the choice is damaged.
    """
    if kept is None:
        return Units()
    try:
        found = json.loads(kept)
        return choose(Units(), *(str(found[field.name]) for field in fields(Units) if field.name in found))
    except (ValueError, TypeError) as error:
        raise SetupError("The file with the chosen units is damaged.", "Choose them again.", where) from error


def units_text(units: Units) -> bytes:
    """The choice as it is kept in the archive's folder."""
    return json.dumps(asdict(units), indent=1).encode()


def units_file(folder: Path) -> Path:
    """Where the choice is kept."""
    return folder / _FILE
