"""The fast path, cells: canonical columns from the cells of a part, as numbers from the start where that is proved."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import polars as pl

from lapdelta.reading.fast_scan import Odd, Part, cells_of
from lapdelta.reading.laps import Formats, Lap
from lapdelta.reading.mapping import Column
from lapdelta.reading.work import Careful

#: Columns of text.
TEXTS = ("session", "kart", "driver")
#: Columns of date and time of day.
TIMES = ("date", "clock")
#: Measured values: meaning to canonical column.
MEASURED = {"top_speed": "top_speed_kmh", "peak_rpm": "peak_rpm"}
_CANONICAL = {"lap_time": "lap_time_s", **MEASURED}
_UNITS_OF_NUMBERS = ("s", "ms")
#: Above this a lap number is read as text, for its digits count.
_HIGHEST_LAP = 9999


@dataclass(frozen=True)
class Plan:
    """How the rows are read: what the head decided.

    ``columns`` by meaning; ``width`` cells a row, of which the last ``surplus`` are empty; ``types`` of the
    cells that are numbers from the start; ``first`` lap of the head.
    """

    form: Formats
    columns: Mapping[str, Column]
    sign: str
    width: int
    surplus: int
    first: Lap
    comma: bool
    types: Mapping[int, type[pl.DataType]] = field(default_factory=dict[int, type[pl.DataType]])


def plan_for(work: Careful) -> Plan:
    """The plan that the head of a file makes; Odd where this path cannot follow it."""
    layout, form = work.layouts[0], work.formats[0]
    columns = {
        column.meaning: column for column in layout.columns if column.meaning and column.meaning != "ignore"
    }
    width = len(work.outcomes[min(work.outcomes)].record.cells)
    header = len(work.structure.tables[0].header)
    if not {"lap", "lap_time"} <= set(columns) or {"status", "notes"} <= set(columns):
        raise Odd
    if width < max(2, header):
        raise Odd
    first = next(lap for outcome in work.outcomes.values() for lap in outcome.laps)
    sign = work.dialect.delimiter
    comma = sign != "," and "," in first.draft.cells["lap_time"][0]
    types = _types(form, columns, comma)
    return Plan(form, columns, sign, width, width - header, first, comma, types)


def _types(form: Formats, columns: Mapping[str, Column], comma: bool) -> dict[int, type[pl.DataType]]:
    """Cells that polars can read as numbers: each number that it takes is then what the careful path takes."""
    number: dict[str | None, type[pl.DataType]] = {"s": pl.Float64, "ms": pl.Int32}
    units = {"lap_time": form.time_unit, **form.sector_units}
    types = {columns[name].index: number[unit] for name, unit in units.items() if unit in number}
    types[columns["lap"].index] = pl.Int32
    if "top_speed" in columns and form.speed.mark == ("," if comma else "."):
        types[columns["top_speed"].index] = pl.Float64
    if "peak_rpm" in columns:  # marks in whole numbers are a question of the column: see the careful path
        types[columns["peak_rpm"].index] = pl.Int32
    return types


def canonical(part: Part, plan: Plan) -> pl.DataFrame:
    """The canonical columns of a part (sectors: one each), null where a cell is empty; Odd if one does not fit."""
    loose = part.loose or (plan.comma and "top_speed" in plan.columns and b"." in part.data)
    if not loose:
        try:
            return _from_numbers(part, plan)
        except (Odd, pl.exceptions.ComputeError):
            pass  # a cell in a form that polars does not read as a number; as text it may still be one
    return _from_text(part, plan)


def _from_numbers(part: Part, plan: Plan) -> pl.DataFrame:
    rows = cells_of(part, plan.sign, plan.width, plan.types, plan.comma)
    lap = rows.get_column(_cell(plan, "lap")).cast(pl.Int32)
    low, high = lap.min(), lap.max()
    if not (isinstance(low, int) and isinstance(high, int) and 0 < low <= high <= _HIGHEST_LAP):
        raise Odd  # 0 may be -0
    if _is_padded(rows):
        raise Odd
    return _select(rows, plan, frozenset(plan.types))


def _from_text(part: Part, plan: Plan) -> pl.DataFrame:
    rows = cells_of(part, plan.sign, plan.width, {}, False)
    rows = rows.with_columns(pl.all().str.strip_chars().replace("", None))
    if _is_padded(rows):
        raise Odd  # by a sign that is a space in one library only
    return _select(rows, plan, frozenset())


def _is_padded(rows: pl.DataFrame) -> bool:
    """Whether a text has space around it; texts that stand in a row below each other are looked at once."""
    for column in rows.get_columns():
        if column.dtype == pl.String:
            heads = column.filter(column.ne_missing(column.shift())).unique().drop_nulls()
            if any(text != text.strip() for text in heads.to_list()):
                return True
    return False


def _select(rows: pl.DataFrame, plan: Plan, typed: frozenset[int]) -> pl.DataFrame:
    surplus = [f"c{at}" for at in range(plan.width - plan.surplus, plan.width)]
    if any(rows.get_column(name).drop_nulls().str.strip_chars().ne("").any() for name in surplus):
        raise Odd
    made = _numbers(plan, typed)
    names = {name: f"c{plan.columns[name].index}" for name in (*TEXTS, *TIMES) if name in plan.columns}
    texts = {name: pl.col(cell) for name, cell in names.items() if name in TEXTS}
    marked = next((plan.columns[name] for name in ("status", "notes") if name in plan.columns), None)
    if marked is not None:
        texts["marked as"] = pl.col(f"c{marked.index}").fill_null("")
    table = rows.select(**texts, **made, **_when(plan))
    _nothing_lost(rows, table, {**{meaning: _cell(plan, meaning) for meaning in made}, **names})
    return table.rename({meaning: name for meaning, name in _CANONICAL.items() if meaning in made})


def _nothing_lost(rows: pl.DataFrame, table: pl.DataFrame, cells: Mapping[str, str]) -> None:
    """Odd where a filled cell gave nothing."""
    for name, cell in cells.items():
        if rows.get_column(cell).null_count() != table.get_column(name).null_count():
            raise Odd


def _cell(plan: Plan, meaning: str) -> str:
    return f"c{plan.columns[meaning].index}"


def _numbers(plan: Plan, typed: frozenset[int]) -> dict[str, pl.Expr]:
    """One expression a meaning; null where a cell is empty or does not fit."""
    made: dict[str, pl.Expr] = {}
    for meaning, unit in {"lap_time": plan.form.time_unit, **plan.form.sector_units}.items():
        cell = pl.col(_cell(plan, meaning))
        if plan.columns[meaning].index in typed:
            made[meaning] = (cell / 1000 if unit == "ms" else cell).round(6)
        else:
            made[meaning] = _seconds(cell, unit, plan.sign != ",")
    lap = pl.col(_cell(plan, "lap"))
    made["lap"] = lap if plan.columns["lap"].index in typed else _whole(lap, r"^\d{1,7}$").cast(pl.Int32)
    if "top_speed" in plan.columns:
        made["top_speed"] = (_speed(plan, typed) * plan.form.speed.factor).round(6)
    if "peak_rpm" in plan.columns:
        rpm = pl.col(_cell(plan, "peak_rpm"))
        whole = rpm if plan.columns["peak_rpm"].index in typed else _whole(rpm, r"^\d{1,7}$")
        made["peak_rpm"] = whole.cast(pl.Float64)
    return made


def _whole(text: pl.Expr, shape: str) -> pl.Expr:
    return pl.when(text.str.contains(shape)).then(text).cast(pl.Int64, strict=False)


def _speed(plan: Plan, typed: frozenset[int]) -> pl.Expr:
    text = pl.col(_cell(plan, "top_speed"))
    if plan.columns["top_speed"].index in typed:
        return text
    if plan.form.speed.mark == ",":
        without = ~text.str.contains(".", literal=True)
        text = pl.when(without).then(text.str.replace(",", ".", literal=True))
    return text.cast(pl.Float64, strict=False)


def _seconds(text: pl.Expr, unit: str | None, commas: bool) -> pl.Expr:
    """59.873 or 1:02,345 to s, rounded to the microsecond as the careful path does; null for other forms."""
    decimal = text.str.replace(",", ".", literal=True) if commas else text
    if unit == "clock":
        fits = decimal.str.contains(r"^\d{1,2}:\d{2}(?:\.\d{1,6})?$")
        pieces = pl.when(fits).then(decimal).str.split_exact(":", 1)
        minutes, rest = (pieces.struct.field(f"field_{at}").cast(pl.Float64, strict=False) for at in (0, 1))
        return pl.when(rest < 60).then(minutes * 60 + rest).round(6)
    if unit not in _UNITS_OF_NUMBERS:
        return pl.lit(None, dtype=pl.Float64)
    number = pl.when(~text.str.contains("[eE]")).then(decimal.cast(pl.Float64, strict=False))
    if unit == "ms":
        return pl.when(~text.str.contains(r"[.,]")).then((number / 1000).round(6))
    return number.round(6)


def _when(plan: Plan) -> dict[str, pl.Expr]:
    made: dict[str, pl.Expr] = {}
    if "date" in plan.columns:
        shape = "%d.%m.%Y" if "." in plan.first.draft.cells["date"][0] else "%Y-%m-%d"
        made["date"] = pl.col(_cell(plan, "date")).str.to_date(shape, strict=False)
    if "clock" in plan.columns:
        text = pl.col(_cell(plan, "clock")).str.replace(",", ".", literal=True)
        fits = text.str.contains(r"^\d{1,2}:\d{2}:\d{2}(?:\.\d{1,6})?$")
        made["clock"] = pl.when(fits).then(text.str.to_time("%H:%M:%S%.f", strict=False))
    return made
