"""What somebody types for the setup sheet: ``axle=81 front=9psi notes=went wide``."""

import re
from collections.abc import Mapping, Sequence
from typing import Any

import polars as pl

from lapdelta.errors import SetupError
from lapdelta.setups.fields import BY_COLUMN, checked, columns_of, number
from lapdelta.tables import SETUPS
from lapdelta.units import IN_STORE, Units

KEY = ("event", "session", "kart")

_WORD = re.compile(r"[^\s=]+=\"[^\"]*\"(?=\s|$)|\S+")


def parse_setup(typed: str | Sequence[str], units: Units = IN_STORE) -> dict[str, Any]:
    """Typed pairs as columns of tables.SETUPS, in the store's units.

    Args:
        typed: one line, or a list of ``key=value``. In one line a value goes on until the next ``key=``, so
            ``notes=wide in turn 3 axle=81`` needs no quotes. ``front=0.62/0.65`` is left / right.
        units: those of numbers typed without one.

    Returns:
        dict of column to value. Keys that are no column, and their text, are listed in ``other``. A key with
        no value (``ballast=``) gives None: that field is to be emptied.

    Raises:
        SetupError: no ``=``, a bad value or unit, or a field given twice with two values.
    """
    row: dict[str, Any] = {}
    other: dict[str, str] = {}
    for key, value in _pairs(typed):
        columns, unit = columns_of(key)
        if columns:
            values = {column: _value(column, text, unit, units) for column, text in _spread(columns, value)}
        elif key.casefold() in ("other", *KEY):
            raise SetupError(f"{key!r} cannot be set like this.", "Give key=value for anything else.", key)
        else:
            values = {}
            once(other, key, value)
        for column, new in values.items():
            once(row, column, new)
    if other:
        row["other"] = [{"key": key, "value": value} for key, value in other.items()]
    return row


def setup_row(event: str, session: str, kart: str, values: Mapping[str, Any]) -> pl.DataFrame:
    """One row for ``Archive.put_setups`` with the columns in ``values`` that are not None.

    (Those that are None are to be named in ``clear`` of ``Archive.put_setups``.)
    """
    given = {name: value for name, value in values.items() if value is not None}
    row = {"event": event, "session": session, "kart": kart, **given}
    return validate(pl.DataFrame([row], schema={name: SETUPS[name] for name in row}))


def validate(frame: pl.DataFrame) -> pl.DataFrame:
    """The frame as it came, if every value in it can be.

    Raises:
        SetupError: an unknown column, a row without event, session or kart, or a value out of range.
    """
    for name in frame.columns:
        if name not in SETUPS:
            mend = "Use " + ", ".join(SETUPS) + "; put anything else into other."
            raise SetupError(f"The setup sheet has no column {name!r}.", mend, name)
    for name in KEY:
        if name not in frame.columns or frame.filter(pl.col(name).is_null() | (pl.col(name) == "")).height:
            raise SetupError(
                f"A row of the setup sheet has no {name}.", "Name event, session and kart.", name
            )
    for name in frame.columns:
        field = BY_COLUMN.get(name)
        if field is None or not field.number:
            continue
        for row in frame.filter(pl.col(name).is_not_null()).iter_rows(named=True):
            where = f"{row['event']} {row['session']} kart {row['kart']}, {name}"
            try:
                checked(name, row[name])
            except SetupError as error:
                raise SetupError(error.what, error.mend, where) from error
    return frame


def _pairs(typed: str | Sequence[str]) -> list[tuple[str, str]]:
    pieces = _split(typed) if isinstance(typed, str) else list(typed)
    pairs: list[tuple[str, str]] = []
    for piece in pieces:
        key, mark, value = piece.partition("=")
        if not mark or not key.strip():
            raise SetupError(f"{piece!r} is not key=value.", "Write for instance axle=81 or notes=...", piece)
        pairs.append((key.strip(), value.strip()))
    return pairs


def _split(line: str) -> list[str]:
    """Pieces of one line, each from a ``key=`` to the next; ``key="..."`` holds a value with = in it."""
    pieces: list[str] = []
    for word in _WORD.findall(line):
        key, mark, value = word.partition("=")
        if pieces and not (key and mark):
            pieces[-1] += f" {word}"
        elif len(value) > 1 and value[0] == value[-1] == '"':
            pieces.append(f"{key}={value[1:-1]}")
        else:
            pieces.append(word)
    return pieces


def _spread(columns: tuple[str, ...], value: str) -> list[tuple[str, str]]:
    """The value for each column; ``left/right`` for a pair of wheels, a unit at the end for both."""
    left, mark, right = value.partition("/")
    if len(columns) == 2 and mark and "/" not in right:
        unit = re.sub(r"^[\d.,\s+-]+", "", right)
        bare = re.fullmatch(r"[\d.,\s+-]+", left)
        return list(zip(columns, (left + unit if bare else left, right), strict=True))
    return [(column, value) for column in columns]


def _value(column: str, text: str, unit: str | None, units: Units) -> Any:
    if not text:
        return None
    unit = unit or units.unit(BY_COLUMN[column].unit)
    return number(column, text, unit) if BY_COLUMN[column].number else text


def once(row: dict[str, Any], name: str, value: Any, where: str | None = None) -> None:
    """Put a value into a row.

    Raises:
        SetupError: another value is there already; at ``where``, else at the field.
    """
    if name in row and row[name] != value:
        raise SetupError(f"{name} is given twice: {row[name]} and {value}.", "Give it once.", where or name)
    row[name] = value
