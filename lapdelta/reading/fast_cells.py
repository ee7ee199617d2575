"""The fast path, cells: canonical columns from the cells of a part, as numbers from the start where that is proved."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field

import polars as pl

from lapdelta.reading.columns import Column
from lapdelta.reading.dialect import bare
from lapdelta.reading.fast_scan import Lines, OddFileError, Part, UnprovedError, cells_of
from lapdelta.reading.laps import Formats, Lap
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

#: Dates as they must look (polars alone takes 026-05-16 for a day of the year 26), and how they are read.
_ISO = r"^\d{4}-\d{1,2}-\d{1,2}$", "%Y-%m-%d"
_DOTTED = r"^\d{1,2}\.\d{1,2}\.\d{4}$", "%d.%m.%Y"

Types = Mapping[int, type[pl.DataType]]


@dataclass(frozen=True)
class Plan:
    """How the rows are read: what the head decided.

    ``columns`` by meaning; ``width`` cells a row, of which the last ``surplus`` are empty; ``types`` of the
    cells that are numbers from the start (``types_but_times``: where a time column mixes 59.873 and 1:00.123);
    ``first`` lap of the head; ``dotted``: dates are written with dots.
    """

    form: Formats
    columns: Mapping[str, Column]
    sign: str
    width: int
    surplus: int
    first: Lap
    comma: bool
    dotted: bool
    types: Types = field(default_factory=dict[int, type[pl.DataType]])
    types_but_times: Types = field(default_factory=dict[int, type[pl.DataType]])

    @property
    def times(self) -> dict[str, str | None]:
        """Units of the lap time and the sectors, by meaning."""
        return {"lap_time": self.form.time_unit, **self.form.sector_units}

    def cell(self, meaning: str) -> str:
        """Name of the cell with that meaning."""
        return f"c{self.columns[meaning].index}"


def plan_for(work: Careful) -> Plan:
    """The plan that the head of a file makes; OddFileError where this path cannot follow it."""
    layout, form = work.layouts[0], work.formats[0]
    columns = {
        column.meaning: column for column in layout.columns if column.meaning and column.meaning != "ignore"
    }
    laps = [lap for outcome in work.outcomes.values() for lap in outcome.laps]
    if not {"lap", "lap_time"} <= set(columns) or {"status", "notes"} <= set(columns) or not laps:
        raise OddFileError
    width = Counter(len(lap.draft.record.cells) for lap in laps).most_common(1)[0][0]
    header = len(work.structure.tables[0].header)
    first, context = laps[0], laps[0].draft.context
    if width < max(2, header) or ("driver" in columns and "driver" in context):
        raise OddFileError
    sign = work.dialect.delimiter
    comma = sign != "," and "," in first.draft.cells["lap_time"][0]
    dates = [lap.draft.cells["date"][0] for lap in laps if "date" in lap.draft.cells]
    if "date" in columns and not dates:
        raise OddFileError
    dotted = any("." in text for text in dates)
    types = _types(form, columns, comma)
    times = {columns[name].index for name in ("lap_time", *form.sector_units)}
    others = {at: kind for at, kind in types.items() if at not in times}
    return Plan(form, columns, sign, width, width - header, first, comma, dotted, types, others)


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


def from_numbers(part: Part, plan: Plan, types: Types) -> pl.DataFrame:
    """Canonical columns of a part (sectors: one each), null where one is empty; UnprovedError if it does not fit."""
    if part.loose or (plan.comma and "top_speed" in plan.columns and b"." in part.data):
        raise UnprovedError
    rows = cells_of(part, plan.sign, plan.width, types, plan.comma)
    lap = rows.get_column(plan.cell("lap")).cast(pl.Int32)
    low, high = lap.min(), lap.max()
    if not (isinstance(low, int) and isinstance(high, int) and 0 < low <= high <= _HIGHEST_LAP):
        raise UnprovedError  # 0 may be -0
    if any(rows.get_column(name).drop_nulls().str.strip_chars().ne("").any() for name in _surplus(plan)):
        raise UnprovedError
    table = rows.select(**_values(plan, types))
    for meaning, cell in _meant(plan).items():
        if rows.get_column(cell).null_count() != table.get_column(meaning).null_count():
            raise UnprovedError
    return table.rename(_names(plan))


def from_text(lines: Lines, plan: Plan) -> tuple[pl.DataFrame, pl.Series, bool]:
    """The canonical columns of the lines of the usual shape, all read as text, and which rows lost nothing by it.

    Also whether a lap time is printed with minutes.
    """
    kept = lines.kept()
    count = int(lines.shaped.sum())
    part = Part(kept, count, loose=True)
    rows = cells_of(part, plan.sign, plan.width, {}, False) if count else _no_rows(plan)
    rows = rows.with_columns(pl.all().str.strip_chars().replace("", None))
    table = rows.select(**_values(plan, {}))
    whole = [pl.lit(True)]
    for name in (plan.cell(name) for name in TEXTS if name in plan.columns):
        if padded := _padded(rows.get_column(name)):  # by a sign that is a space in one library only
            whole.append(~pl.col(name).is_in(padded).fill_null(False))
    whole += [pl.col(name).is_null() for name in _surplus(plan)]
    whole += [
        pl.col(cell).is_null() | table.get_column(meaning).is_not_null()
        for meaning, cell in _meant(plan).items()
    ]
    sound = rows.select(pl.all_horizontal(whole)).to_series()
    sound = sound if len(sound) == len(rows) else sound.new_from_index(0, len(rows))
    times = rows.get_column(plan.cell("lap_time"))
    return table.rename(_names(plan)), sound, bool(times.str.contains(":", literal=True).any())


def _no_rows(plan: Plan) -> pl.DataFrame:
    return pl.DataFrame(schema={f"c{at}": pl.String() for at in range(plan.width)})


def _names(plan: Plan) -> dict[str, str]:
    return {meaning: name for meaning, name in _CANONICAL.items() if meaning in plan.columns}


def _surplus(plan: Plan) -> list[str]:
    return [f"c{at}" for at in range(plan.width - plan.surplus, plan.width)]


def _padded(texts: pl.Series) -> list[str]:
    """Texts with space around them, or marked as text."""
    return [text for text in texts.unique().drop_nulls().to_list() if text != bare(text)]


def _meant(plan: Plan) -> dict[str, str]:
    """Canonical value -> the cell it is made of; a filled cell must give a value."""
    names = [*plan.times, "lap", *MEASURED, *TEXTS, *TIMES]
    return {name: plan.cell(name) for name in names if name in plan.columns}


def _values(plan: Plan, types: Types) -> dict[str, pl.Expr]:
    """One expression a meaning; null where a cell is empty or does not fit."""
    texts = {name: pl.col(plan.cell(name)) for name in TEXTS if name in plan.columns}
    marked = next((name for name in ("status", "notes") if name in plan.columns), None)
    if marked is not None:
        texts["marked as"] = pl.col(plan.cell(marked)).fill_null("")
    return {**texts, **_numbers(plan, types), **_when(plan)}


def _numbers(plan: Plan, types: Types) -> dict[str, pl.Expr]:
    made: dict[str, pl.Expr] = {}
    for meaning, unit in plan.times.items():
        cell = pl.col(plan.cell(meaning))
        if plan.columns[meaning].index in types:
            made[meaning] = (cell / 1000 if unit == "ms" else cell).round(6)
        else:
            made[meaning] = _seconds(cell, unit, plan.sign != ",")
    lap = pl.col(plan.cell("lap"))
    made["lap"] = lap if plan.columns["lap"].index in types else _whole(lap, r"^\d{1,7}$").cast(pl.Int32)
    if "top_speed" in plan.columns:
        made["top_speed"] = (_speed(plan, types) * plan.form.speed.factor).round(6)
    if "peak_rpm" in plan.columns:
        rpm = pl.col(plan.cell("peak_rpm"))
        whole = rpm if plan.columns["peak_rpm"].index in types else _whole(rpm, r"^\d{1,7}$")
        made["peak_rpm"] = whole.cast(pl.Float64)
    return made


def _whole(text: pl.Expr, shape: str) -> pl.Expr:
    return pl.when(text.str.contains(shape)).then(text).cast(pl.Int64, strict=False)


def _speed(plan: Plan, types: Types) -> pl.Expr:
    text = pl.col(plan.cell("top_speed"))
    if plan.columns["top_speed"].index in types:
        return text
    if plan.form.speed.mark == ",":
        without = ~text.str.contains(".", literal=True)
        text = pl.when(without).then(text.str.replace(",", ".", literal=True))
    return text.cast(pl.Float64, strict=False)


def _seconds(text: pl.Expr, unit: str | None, commas: bool) -> pl.Expr:
    """59.873 or 1:02,345 to s, rounded to the microsecond as the careful path does; null for other forms."""
    decimal = text.str.replace(",", ".", literal=True) if commas else text
    fits = decimal.str.contains(r"^\d{1,2}:\d{2}(?:\.\d{1,6})?$")
    pieces = pl.when(fits).then(decimal).str.split_exact(":", 1)
    minutes, rest = (pieces.struct.field(f"field_{at}").cast(pl.Float64, strict=False) for at in (0, 1))
    clock = pl.when(rest < 60).then(minutes * 60 + rest).round(6)
    if unit not in _UNITS_OF_NUMBERS:
        return clock
    number = pl.when(~text.str.contains("[eE]")).then(decimal.cast(pl.Float64, strict=False))
    if unit == "ms":
        return pl.when(~text.str.contains(r"[.,]")).then((number / 1000).round(6))
    return pl.coalesce(number.round(6), clock)


def _when(plan: Plan) -> dict[str, pl.Expr]:
    made: dict[str, pl.Expr] = {}
    if "date" in plan.columns:
        shape, form = _DOTTED if plan.dotted else _ISO
        text = pl.col(plan.cell("date"))
        made["date"] = pl.when(text.str.contains(shape)).then(text).str.to_date(form, strict=False)
    if "clock" in plan.columns:
        text = pl.col(plan.cell("clock")).str.replace(",", ".", literal=True)
        fits = text.str.contains(r"^\d{1,2}:\d{2}:\d{2}(?:\.\d{1,6})?$")
        made["clock"] = pl.when(fits).then(text.str.to_time("%H:%M:%S%.f", strict=False))
    return made


def is_mixed(plan: Plan) -> bool:
    """Whether a time column is of plain seconds, so that clock forms may stand between them."""
    return "s" in plan.times.values() and plan.types_but_times != plan.types
