"""The setup sheet as a plain CSV (RFC 4180), safe to open in a spreadsheet.

Text that a spreadsheet would take for a formula (it begins with = + - @, also in full width, a tab or a line's end)
gets an apostrophe in front when written, and loses it when read.
"""

import csv
import io
import re
from pathlib import Path
from typing import Any

import polars as pl

from lapdelta.errors import SetupError
from lapdelta.setups.compared import in_units
from lapdelta.setups.fields import BY_COLUMN, columns_of, number, other_pairs
from lapdelta.setups.typed import KEY, once, validate
from lapdelta.tables import SETUPS
from lapdelta.units import IN_STORE, Units

#: In front of a header: a key of ``other``, even if it looks like a column.
_OTHER = "other:"

_RISKY = re.compile(r"'*[=+\-@\t\r\n\uff1d\uff0b\uff0d\uff20]")
_MADE_SAFE = re.compile(r"'+[=+\-@\t\r\n\uff1d\uff0b\uff0d\uff20]")


def write_setup_csv(setups: pl.DataFrame, units: Units = IN_STORE) -> str:
    """The sheet as CSV text: a header of column names, each key of ``other`` a column of its own.

    Numbers in these units, which stand in the column names: ``read_setup_csv`` takes them back.
    """
    rows = setups.select(list(SETUPS)).to_dicts()
    shown = in_units(setups.select(list(SETUPS)), units)
    keys = list(dict.fromkeys(key for row in rows for key, _ in other_pairs(row["other"])))
    columns = [name for name in shown.columns if name != "other"]
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow([*columns, *(_OTHER + key for key in keys)])
    for row, cells in zip(rows, shown.to_dicts(), strict=True):
        other = dict(other_pairs(row["other"]))
        writer.writerow([*(_cell(cells[name]) for name in columns), *(_cell(other.get(key)) for key in keys)])
    return out.getvalue()


def read_setup_csv(
    source: str | Path | bytes, event: str | None = None, units: Units = IN_STORE
) -> pl.DataFrame:
    """A setup sheet from CSV, with the columns it has (tables.SETUPS); blank cells say nothing.

    Args:
        source: a path, or the bytes of the file (UTF-8; cells apart by comma, semicolon or tab).
        event: the event of rows that name none.
        units: those of numbers where neither header nor cell names one.

    Headers are column names or the plain words of ``parse_setup``; numbers may carry units. Unknown headers
    go to ``other``.

    Raises:
        SetupError: not readable, no event, session or kart, a value that cannot be, or two rows for one session;
            names line and column.
    """
    name = "the setup sheet" if isinstance(source, bytes) else str(source)
    records = _records(source, name)
    heads = [_safe_back(head) for head in records[0]] if records else []
    rows = [
        _row(heads, record, event, units, f"{name}, line {line}")
        for line, record in enumerate(records[1:], start=2)
        if any(cell.strip() for cell in record)
    ]
    if not rows:
        raise SetupError("There is no row in this setup sheet.", "It needs a header and rows under it.", name)
    _no_session_twice(rows, name)
    used = [column for column in SETUPS if any(column in row for row in rows)]
    return validate(pl.DataFrame(rows, schema={column: SETUPS[column] for column in used}))


def _records(source: str | Path | bytes, name: str) -> list[list[str]]:
    try:
        data = source if isinstance(source, bytes) else Path(source).read_bytes()
        text = data.decode("utf-8-sig")
    except OSError as error:
        raise SetupError("This file cannot be read.", "Name a CSV file that exists.", name) from error
    except UnicodeDecodeError as error:
        raise SetupError("This is not UTF-8 text.", "Save it as CSV in UTF-8.", name) from error
    head = text.partition("\n")[0]
    delimiter = max(",;\t", key=head.count)
    try:
        return list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True))
    except csv.Error as error:
        raise SetupError(f"This is not a CSV file ({error}).", "Save it as CSV in UTF-8.", name) from error


def _row(heads: list[str], record: list[str], event: str | None, units: Units, where: str) -> dict[str, Any]:
    if len(record) > len(heads):
        mend = "Give every column a header."
        raise SetupError(f"This row has {len(record)} cells under {len(heads)} headers.", mend, where)
    row: dict[str, Any] = {"event": event} if event else {}
    other: list[dict[str, str]] = []
    for head, cell in zip(heads, record, strict=False):
        if not cell.strip():
            continue
        if head.strip().casefold() in KEY:
            row[head.strip().casefold()] = _safe_back(cell)
            continue
        columns, unit = ((), None) if head.startswith(_OTHER) else columns_of(head)
        for column in columns:
            own = unit or _named_unit(column, head) or units.unit(BY_COLUMN[column].unit)
            once(row, column, _read(column, cell, own, f"{where}, column {head}"), where)
        if not columns:
            other.append({"key": head.removeprefix(_OTHER), "value": _safe_back(cell)})
    if other:
        row["other"] = other
    for key in KEY:
        if key not in row:
            raise SetupError(f"This row has no {key}.", f"Fill in a column {key}.", where)
    return row


def _no_session_twice(rows: list[dict[str, Any]], name: str) -> None:
    """Of two rows for one session the last would count, and nobody would be told: refused."""
    keys = [tuple(row[key] for key in KEY) for row in rows]
    twice = next((key for key in keys if keys.count(key) > 1), None)
    if twice is not None:
        raise SetupError(
            f"The setup sheet has two entries for {' '.join(twice)}.", "Leave one of them.", name
        )


def _named_unit(column: str, head: str) -> str | None:
    """The store's unit where the header is the column's own name, which tells it."""
    return BY_COLUMN[column].unit if head.strip().casefold() == column else None


def _read(column: str, cell: str, unit: str | None, where: str) -> Any:
    if not BY_COLUMN[column].number:
        return _safe_back(cell)
    try:
        return number(column, cell, unit)
    except SetupError as error:
        raise SetupError(error.what, error.mend, where) from error


def _cell(value: Any) -> str:
    """A value as a cell: text made harmless, numbers with all their digits."""
    if value is None:
        return ""
    if isinstance(value, str):
        return f"'{value}" if _RISKY.match(value) else value
    return repr(value)


def _safe_back(cell: str) -> str:
    return cell[1:] if _MADE_SAFE.match(cell) else cell
