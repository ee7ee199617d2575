"""The fast path: a clean file goes through vectorised expressions; anything odd goes back to the careful path.

The head of the file is read carefully; what it decided is then proved for every row. One row that
does not fit, and the whole file takes the careful path: both give the same reading where both apply.
"""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from itertools import pairwise

import polars as pl

from lapdelta.errors import UnreadableFile
from lapdelta.reading import formats
from lapdelta.reading.careful import facts_of, work_through
from lapdelta.reading.dialect import SAMPLE_LINES
from lapdelta.reading.laps import Formats
from lapdelta.reading.layouts import Layout
from lapdelta.reading.mapping import Column
from lapdelta.reading.model import Reading
from lapdelta.reading.numbers import tidy
from lapdelta.reading.recipe import Recipe
from lapdelta.reading.source import Source
from lapdelta.reading.vocabulary import is_summary, marks_in
from lapdelta.reading.work import Careful
from lapdelta.tables import LAPS

#: Lines that are read carefully before the rest is proved to be alike; all that dialects are chosen from.
_HEAD_LINES = SAMPLE_LINES + 20
#: Bytes that are held as text cells at a time.
_PART_BYTES = 16 << 20
_ABOVE_TABLE = frozenset({"header", "metadata", "title", "units", "comment", "blank"})
_MEASURED = ("top_speed", "peak_rpm")
_TEXTS = ("session", "kart", "driver")
_TIMES = ("date", "clock")
_READ = frozenset({"lap", "lap_time", "status", "notes", "ignore", None, *_MEASURED, *_TEXTS, *_TIMES})
#: Sectors may miss the lap time by this much in the proof that they are own (or end at it), in s.
_SLACK_S = 0.0006


class _Odd(Exception):  # noqa: N818 - not an error: the file takes the careful path
    """The file is not clean enough for this path."""


def read_fast(source: Source, given: Mapping[str, str], recipe: Recipe) -> Reading | None:
    """The reading of a clean file of some length, or None where the careful path has to read it."""
    if not _is_plain(source.data):
        return None
    head = _head(source.data)
    if head is None:
        return None
    try:
        work = work_through(Source(source.name, head, source.sha256), given, recipe)
        first_row = _first_row(work)
        return _read(source, work, first_row)
    except (_Odd, UnreadableFile, pl.exceptions.PolarsError):
        return None


def _is_plain(data: bytes) -> bool:
    """UTF-8 without quotes, bare CR or NUL, ended by a line end."""
    if not data.endswith(b"\n") or b'"' in data or b"\x00" in data or data.startswith((b"\xff", b"\xfe")):
        return False
    if data.count(b"\r") != data.count(b"\r\n"):
        return False
    try:
        return data.isascii() or bool(data.decode("utf-8"))
    except UnicodeDecodeError:
        return False


def _head(data: bytes) -> bytes | None:
    at = 0
    for _ in range(_HEAD_LINES):
        at = data.find(b"\n", at) + 1
        if at == 0:
            return None
    return data[:at] if at < len(data) else None


def _first_row(work: Careful) -> int:
    """Number of lines above the first lap, if the head is clean: one table, a row a lap, nothing set aside."""
    if len(work.layouts) != 1 or work.questions or work.layouts[0].name != "a row a lap":
        raise _Odd
    if work.dialect.delimiter not in (",", ";", "\t", "|") or not work.structure.tables[0].header:
        raise _Odd
    layout = work.layouts[0]
    sectors = {f"sector_{number}" for number in range(1, 100)}
    if not {column.meaning for column in layout.columns} <= _READ | sectors:
        raise _Odd
    if any(outcome.faults or not outcome.laps for outcome in work.outcomes.values()):
        raise _Odd
    if any(fault for outcome in work.outcomes.values() for lap in outcome.laps for fault in lap.cell_faults):
        raise _Odd
    first = min(work.outcomes)
    if any(line >= first or kind not in _ABOVE_TABLE for line, kind in work.ledger.booked.items()):
        raise _Odd
    return first - 1


def _read(source: Source, work: Careful, skipped: int) -> Reading:
    layout, form = work.layouts[0], work.formats[0]
    columns = {
        column.meaning: column for column in layout.columns if column.meaning and column.meaning != "ignore"
    }
    if not {"lap", "lap_time"} <= set(columns):
        raise _Odd
    expressions = _expressions(work, columns, form)
    parts = [rows.select(expressions) for rows in _raw_rows(source.data, work, skipped)]
    table = pl.concat(parts, rechunk=False)
    _prove(table, layout, form, columns, work)
    table = _with_sectors(table, form).with_columns(
        source_file=pl.lit(source.name),
        source_line=pl.int_range(skipped + 1, skipped + 1 + pl.len(), dtype=pl.Int64),
    )
    laps = table.select(list(LAPS)).cast(LAPS)
    known = {
        kind: list(work.ledger.booked.values()).count(kind)
        for kind in sorted(set(work.ledger.booked.values()))
    }
    account = {
        "lines": skipped + laps.height,
        "lap_lines": laps.height,
        "laps": laps.height,
        "known": known,
        "set_aside_lines": 0,
        "set_aside_cells": 0,
    }
    if skipped != sum(known.values()) or source.data.count(b"\n") != account["lines"]:
        raise _Odd
    return Reading(
        laps=laps,
        set_aside=work.ledger.table(),
        questions=(),
        account=account,
        recipe=replace(work.recipe, columns=work.columns),
        source_name=source.name,
        sha256=source.sha256,
        data=source.data,
        facts=facts_of(work),
        columns=work.columns,
        encoding=work.text.encoding,
        notes=tuple(work.notes),
    )


def _raw_rows(data: bytes, work: Careful, skipped: int) -> Iterator[pl.DataFrame]:
    """All cells as text, c0, c1, ..., some ten thousand rows at a time; every row has exactly as many as the first."""
    width = len(work.outcomes[min(work.outcomes)].record.cells)
    header = len(work.structure.tables[0].header)
    if width < max(2, header):
        raise _Odd
    padded = _is_padded(data, work.dialect.delimiter.encode())
    surplus = [f"c{at}" for at in range(header, width)]
    start = 0
    for _ in range(skipped):
        start = data.index(b"\n", start) + 1
    while start < len(data):
        end = data.find(b"\n", start + _PART_BYTES) + 1 or len(data)
        rows = _part(data[start:end], work.dialect.delimiter, width)
        start = end
        if surplus and rows.select(pl.any_horizontal(pl.col(surplus) != "").any()).item():
            raise _Odd
        yield rows.with_columns(pl.all().str.strip_chars()) if padded else rows


def _is_padded(data: bytes, sign: bytes) -> bool:
    """Whether a cell may have space around it."""
    blanks = [blank for blank in (b" ", b"\t") if blank != sign and blank in data]
    beside = [sign, b"\n", *([b"\r"] if b"\r" in data else [])]
    return not data.isascii() or any(
        blank + at in data or at + blank in data for blank in blanks for at in beside
    )


def _part(data: bytes, delimiter: str, width: int) -> pl.DataFrame:
    rows = pl.read_csv(
        data,
        has_header=False,
        new_columns=[f"c{at}" for at in range(width)],
        separator=delimiter,
        quote_char=None,
        infer_schema=False,
        empty_string_is_null=False,
        encoding="utf8",
        glob=False,
    )
    if rows.width != width or data.count(delimiter.encode()) != (width - 1) * rows.height:
        raise _Odd
    return rows


def _text(column: Column) -> pl.Expr:
    return pl.col(f"c{column.index}")


def _expressions(work: Careful, columns: Mapping[str, Column], form: Formats) -> list[pl.Expr]:
    """One expression a canonical column (sectors: one each); null where a cell is empty or does not fit."""
    made: list[pl.Expr] = []
    for name in _TEXTS:
        said = _constant(work, name)
        if name in columns:
            made.append(_text(columns[name]).replace("", None).alias(name))
        else:
            made.append(pl.lit(said, dtype=pl.String).alias(name))
    lap = _text(columns["lap"])
    number = lap.cast(pl.Int32, strict=False)
    made.append(pl.when((number >= 0) & ~lap.str.starts_with("+")).then(number).alias("lap"))
    commas = work.dialect.delimiter != ","
    made.append(_seconds(_text(columns["lap_time"]), form.time_unit, commas).alias("lap_time_s"))
    for meaning, unit in form.sector_units.items():
        made.append(_seconds(_text(columns[meaning]), unit, commas).alias(meaning))
        made.append((_text(columns[meaning]) == "").alias(f"{meaning} empty"))
    for name, canonical, number in (
        ("top_speed", "top_speed_kmh", form.speed),
        ("peak_rpm", "peak_rpm", form.rpm),
    ):
        made += _measure(columns, name, canonical, number)
    made += _when(work, columns)
    made.append(_marks(columns))
    return made


def _constant(work: Careful, name: str) -> str | None:
    lap = next(lap for outcome in work.outcomes.values() for lap in outcome.laps)
    return {"session": lap.session, "kart": lap.kart, "driver": lap.driver}[name]


def _seconds(text: pl.Expr, unit: str | None, commas: bool) -> pl.Expr:
    """59.873 or 1:02,345 to s, rounded to the microsecond as the careful path does; null for other forms."""
    decimal = text.str.replace(",", ".", literal=True) if commas else text
    if unit == "clock":
        minutes = decimal.str.extract(r"^(\d{1,2}):\d{2}(?:\.\d{1,6})?$", 1).cast(pl.Float64)
        rest = decimal.str.extract(r"^\d{1,2}:(\d{2}(?:\.\d{1,6})?)$", 1).cast(pl.Float64)
        return pl.when(rest < 60).then(minutes * 60 + rest).round(6)
    if unit not in ("s", "ms"):
        return pl.lit(None, dtype=pl.Float64)
    number = pl.when(~text.str.contains("[eE]")).then(decimal.cast(pl.Float64, strict=False))
    if unit == "ms":
        return pl.when(~text.str.contains(r"[.,]")).then((number / 1000).round(6))
    return number.round(6)


def _measure(
    columns: Mapping[str, Column], name: str, canonical: str, number: formats.NumberFormat
) -> list[pl.Expr]:
    if name not in columns:
        return [pl.lit(None, dtype=pl.Float64).alias(canonical), pl.lit(True).alias(f"{name} empty")]
    text = _text(columns[name])
    plain = text
    if number.mark == ",":
        plain = pl.when(~text.str.contains(".", literal=True)).then(text.str.replace(",", ".", literal=True))
    if (
        name == "peak_rpm"
    ):  # marks in whole numbers are a question of the column; leave them to the careful path
        plain = pl.when(text.str.contains(r"^\d+$")).then(text)
    value = plain.cast(pl.Float64, strict=False)
    if name == "top_speed":
        value = (value * number.factor).round(6)
    return [value.alias(canonical), (text == "").alias(f"{name} empty")]


def _when(work: Careful, columns: Mapping[str, Column]) -> list[pl.Expr]:
    first = next(lap for outcome in work.outcomes.values() for lap in outcome.laps)
    made: list[pl.Expr] = []
    if "date" in columns:
        text = _text(columns["date"])
        shape = "%d.%m.%Y" if "." in first.draft.cells["date"][0] else "%Y-%m-%d"
        made.append(text.str.to_date(shape, strict=False).alias("date"))
    else:
        made.append(pl.lit(first.date, dtype=pl.Date).alias("date"))
    if "clock" not in columns:
        return [*made, pl.lit(None, dtype=pl.Time).alias("clock")]
    text = _text(columns["clock"]).str.replace(",", ".", literal=True)
    fits = text.str.contains(r"^\d{1,2}:\d{2}:\d{2}(?:\.\d{1,6})?$")
    return [*made, pl.when(fits).then(text.str.to_time("%H:%M:%S%.f", strict=False)).alias("clock")]


def _marks(columns: Mapping[str, Column]) -> pl.Expr:
    for name in ("status", "notes"):
        if name in columns:
            return _text(columns[name]).alias("marked as")
    return pl.lit("").alias("marked as")


def _prove(
    table: pl.DataFrame, layout: Layout, form: Formats, columns: Mapping[str, Column], work: Careful
) -> None:
    """Raise _Odd unless every row fits what the head decided."""
    if {"status", "notes"} <= set(columns):
        raise _Odd
    needed = ["session", "kart", "lap", "lap_time_s", *(name for name in _TIMES if name in columns)]
    if any(table.select(pl.col(needed).is_null().any()).row(0)):
        raise _Odd
    low, high = formats.LAP_LIMITS_S
    middle = table.select(pl.col("lap_time_s").median()).item()
    if not formats.LAP_RANGE_S[0] <= middle <= formats.LAP_RANGE_S[1]:
        raise _Odd
    bounds = {
        "lap_time_s": (max(low, 0.25 * middle), high),
        "top_speed_kmh": formats.SPEED_LIMITS_KMH,
        "peak_rpm": formats.RPM_LIMITS,
    }
    names = {"top_speed_kmh": "top_speed empty", "peak_rpm": "peak_rpm empty"}
    for name, (least, most) in bounds.items():
        empty = pl.col(names[name]) if name in names else pl.lit(False)
        fits = (pl.col(name).is_between(least, most, closed="left")).fill_null(False) | (
            empty & pl.col(name).is_null()
        )
        if not table.select(fits.all()).item():
            raise _Odd
    if table.select(_lap_key().n_unique()).item() != table.height:
        raise _Odd
    if any(is_summary(kart) for kart in table.get_column("kart").unique().to_list()):
        raise _Odd
    _prove_units(table, layout, form, columns, work)
    _prove_sectors(table, form)


def _lap_key() -> pl.Expr:
    """One whole number for session, kart and lap: quicker to compare than a struct of texts."""
    session, kart = (
        pl.col(name).cast(pl.Categorical).to_physical().cast(pl.Int64) for name in ("session", "kart")
    )
    return (session * (kart.max() + 1) + kart) * (pl.col("lap").max() + 1).cast(pl.Int64) + pl.col("lap")


def _prove_units(
    table: pl.DataFrame, layout: Layout, form: Formats, columns: Mapping[str, Column], work: Careful
) -> None:
    """The unit of the speeds is what the whole column says, and all marks are words we know."""
    speed = columns.get("top_speed")
    if speed is not None and speed.unit is None and "speed_unit" not in work.answers:
        printed = (table.get_column("top_speed_kmh").drop_nulls() / form.speed.factor).to_list()
        metric = any(other.language and "en" not in other.language.split() for other in layout.columns)
        unit = formats.decide_speed_unit(printed, None, None, metric)
        if unit is None or formats.KMH_IN[unit] != form.speed.factor:
            raise _Odd
    said = table.get_column("marked as").unique()
    if said.len() > 200 or any(marks_in(text) is None or text != tidy(text) for text in said.to_list()):
        raise _Odd


def _prove_sectors(table: pl.DataFrame, form: Formats) -> None:
    """Sectors fit into the lap, and in every complete row they add up to it, or end at it, as the head did."""
    names = list(form.sector_units)
    for name in names:
        inside = (pl.col(name) > 0) & (pl.col(name) <= pl.col("lap_time_s") + 0.002)
        if not table.select((inside.fill_null(False) | pl.col(f"{name} empty")).all()).item():
            raise _Odd
    if len(names) < 2:
        return
    slack = _SLACK_S * (len(names) + 1)
    last = (pl.col(names[-1]) - pl.col("lap_time_s")).abs()
    own = (pl.sum_horizontal(names, ignore_nulls=False) - pl.col("lap_time_s")).abs()
    right, wrong = (last, own) if form.cumulative else (own, last)
    rows = table.select(right=right, wrong=wrong).drop_nulls()
    if (
        rows.height == 0
        or not rows.select((pl.col("right").max() <= slack) & (pl.col("wrong").min() > 1)).item()
    ):
        raise _Odd


def _with_sectors(table: pl.DataFrame, form: Formats) -> pl.DataFrame:
    """The sector list and the marks."""
    said = table.get_column("marked as").unique().to_list()
    marks = pl.DataFrame(
        {"marked as": said, "marks": [list(marks_in(text) or ()) for text in said]},
        schema={"marked as": pl.String(), "marks": pl.List(pl.String())},
    )
    if len(said) == 1:
        table = table.with_columns(marks=pl.lit(marks.get_column("marks")).first())
    else:
        table = table.join(marks, on="marked as", how="left", maintain_order="left")
    if not form.sector_units:
        empty = pl.Series([[]], dtype=pl.List(pl.Float64()))
        return table.with_columns(sector_times_s=pl.lit(empty).first())
    numbers = sorted(int(name[7:]) for name in form.sector_units)
    if numbers != list(range(1, len(numbers) + 1)):
        raise _Odd
    names = [f"sector_{number}" for number in numbers]
    if not form.cumulative:
        return table.with_columns(_listed(table.select(names)))
    own = [pl.col(names[0])]
    own += [(pl.col(b) - pl.col(a)).round(6) for a, b in pairwise(names)]
    if table.select(pl.any_horizontal((part <= 0).any() for part in own)).item():
        raise _Odd
    return table.with_columns(_listed(table.select(own)))


def _listed(sectors: pl.DataFrame) -> pl.Series:
    """The columns as one list a row; without gaps through one block of numbers, which is much quicker."""
    if any(sectors.null_count().row(0)):
        return sectors.select(pl.concat_list(pl.all())).to_series().alias("sector_times_s")
    block = pl.Series("sector_times_s", sectors.to_numpy(order="c"))
    return block.arr.to_list()
