"""The user's units on the command line: bare numbers after options that name no unit, and amounts in sentences."""

import os
import re
from pathlib import Path
from typing import TYPE_CHECKING

import click

from lapdelta.cli.amounts_typed import Amount

if TYPE_CHECKING:
    from lapdelta.units import Units

#: Endings of options that name their unit: a bare number after one is in it.
_NAMED = ("-mm", "-m", "-kmh", "-kg")

#: Unit of an amount -> the unit of the store that stands for its kind.
_STORED = {"mm": "mm", "m": "mm", "km/h": "km/h", "kg": "kg"}

_BARE = re.compile(r"[+-]?(?:\d+(?:[.,]\d+)?|[.,]\d+)(?:/\d+)?")


def own_units(folder: Path | None) -> "Units":
    """The units chosen for the archive in that folder, or in the default place; nothing is made there."""
    from lapdelta.archive.archive import chosen_units
    from lapdelta.archive.place import default_folder
    from lapdelta.archive.remote import place_at

    return chosen_units(place_at(folder or default_folder()))


def margin_kept(folder: Path | None, measure: str, margin: float | None) -> float | None:
    """A margin as it is asked with: typed in the user's unit of the measure."""
    if margin is None or measure != "top_speed":
        return margin
    return own_units(folder).kept(margin, "km/h")


def with_own_units(command: click.Command, args: list[str]) -> list[str]:
    """The words of a call with the user's unit behind each bare number of an option that names none.

    Raises:
        SetupError: the file that holds the choice is damaged.
    """
    amounts = {
        option: (unit, param.nargs)
        for param in command.params
        if (unit := _unit_of(param)) is not None
        for option in param.opts
        if option.startswith("--") and not option.endswith(_NAMED)
    }
    if not any(word.partition("=")[0] in amounts for word in args):
        return args
    units = own_units(_folder_in(args))
    spelled: list[str] = []
    left, unit = 0, ""
    for word in args:
        option, equals, value = word.partition("=")
        if left:
            spelled.append(_with_unit(word, unit, units))
            left -= 1
        elif option in amounts and equals:
            spelled.append(f"{option}={_with_unit(value, amounts[option][0], units)}")
        else:
            spelled.append(word)
            unit, left = amounts.get(option, ("", 0))
    return spelled


def _unit_of(param: click.Parameter) -> str | None:
    """Unit of an option's amount, if one of the user's choice stands for it."""
    kind = param.type.types[0] if isinstance(param.type, click.Tuple) else param.type
    return kind.unit if isinstance(kind, Amount) and kind.unit in _STORED else None


def _with_unit(word: str, unit: str, units: "Units") -> str:
    stored = _STORED[unit]
    own = units.unit(stored)
    return f"{word}{own}" if own != stored and _BARE.fullmatch(word.strip()) else word


def _folder_in(args: list[str]) -> Path | None:
    """The archive's folder that a call names, before it is parsed."""
    named = os.environ.get("LAPDELTA_ARCHIVE")
    for word, following in zip(args, [*args[1:], ""], strict=True):
        if word == "--archive":
            named = following
        elif word.startswith("--archive="):
            named = word.removeprefix("--archive=")
    return Path(named) if named else None
