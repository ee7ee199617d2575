"""The fast path: a clean file goes through vectorised expressions; anything odd goes back to the careful path.

The head of the file is read carefully; what it decided is then proved for every row. One row that
does not fit, and the whole file takes the careful path: both give the same reading where both apply.
"""

from collections.abc import Iterator, Mapping
from dataclasses import replace

import numpy as np
import polars as pl

from lapdelta.errors import UnreadableFile
from lapdelta.reading.careful import facts_of, work_through
from lapdelta.reading.dialect import SAMPLE_LINES
from lapdelta.reading.fast_cells import MEASURED, TEXTS, TIMES, Plan, canonical, plan_for
from lapdelta.reading.fast_proof import Proof, own_sectors
from lapdelta.reading.fast_scan import Odd, look_at, parts_of
from lapdelta.reading.model import Reading
from lapdelta.reading.recipe import Recipe
from lapdelta.reading.source import Source
from lapdelta.reading.vocabulary import marks_in
from lapdelta.reading.work import Careful
from lapdelta.tables import LAPS

#: Lines that are read carefully before the rest is proved to be alike; all that dialects are chosen from.
_HEAD_LINES = SAMPLE_LINES + 20
_ABOVE_TABLE = frozenset({"header", "metadata", "title", "units", "comment", "blank"})
_READ = frozenset({"lap", "lap_time", "status", "notes", "ignore", None, *MEASURED, *TEXTS, *TIMES})


def read_fast(source: Source, given: Mapping[str, str], recipe: Recipe) -> Reading | None:
    """The reading of a clean file of some length, or None where the careful path has to read it."""
    try:
        parts = parts_of(source)
        first = next(parts, b"")
        head = _head(first)
        look_at(head, b",")
        work = work_through(Source(source.name, head, source.sha256), given, recipe)
        skipped = _first_row(work)
        return _read(source, work, skipped, first, parts)
    except (Odd, UnreadableFile, pl.exceptions.PolarsError):
        return None


def _head(data: bytes) -> bytes:
    at = 0
    for _ in range(_HEAD_LINES):
        at = data.find(b"\n", at) + 1
        if at == 0:
            raise Odd
    if at == len(data):
        raise Odd
    return data[:at]


def _first_row(work: Careful) -> int:
    """Number of lines above the first lap, if the head is clean: one table, a row a lap, nothing set aside."""
    if len(work.layouts) != 1 or work.questions or work.layouts[0].name != "a row a lap":
        raise Odd
    if work.dialect.delimiter not in (",", ";", "\t", "|") or not work.structure.tables[0].header:
        raise Odd
    layout = work.layouts[0]
    sectors = {f"sector_{number}" for number in range(1, 100)}
    if not {column.meaning for column in layout.columns} <= _READ | sectors:
        raise Odd
    if any(outcome.faults or not outcome.laps for outcome in work.outcomes.values()):
        raise Odd
    if any(fault for outcome in work.outcomes.values() for lap in outcome.laps for fault in lap.cell_faults):
        raise Odd
    first = min(work.outcomes)
    if any(line >= first or kind not in _ABOVE_TABLE for line, kind in work.ledger.booked.items()):
        raise Odd
    return first - 1


def _read(source: Source, work: Careful, skipped: int, first: bytes, parts: Iterator[bytes]) -> Reading:
    plan = plan_for(work)
    laps = _laps(source.name, work, plan, skipped, _below(first, skipped, parts))
    booked = list(work.ledger.booked.values())
    known = {kind: booked.count(kind) for kind in sorted(set(booked))}
    if skipped != sum(known.values()):
        raise Odd
    account = {
        "lines": skipped + laps.height,  # each part has as many rows as lines
        "lap_lines": laps.height,
        "laps": laps.height,
        "known": known,
        "set_aside_lines": 0,
        "set_aside_cells": 0,
    }
    return Reading(
        laps=laps,
        set_aside=work.ledger.table(),
        questions=(),
        account=account,
        recipe=replace(work.recipe, columns=work.columns),
        source_name=source.name,
        sha256=source.sha256,
        source=source,
        facts=facts_of(work),
        columns=work.columns,
        encoding=work.text.encoding,
        notes=tuple(work.notes),
    )


def _below(first: bytes, skipped: int, parts: Iterator[bytes]) -> Iterator[bytes]:
    """The parts without the lines above the first lap."""
    start = 0
    for _ in range(skipped):
        start = first.index(b"\n", start) + 1
    yield first[start:]
    yield from parts


def _laps(name: str, work: Careful, plan: Plan, skipped: int, parts: Iterator[bytes]) -> pl.DataFrame:
    """The canonical laps; Odd unless every row is proved."""
    sectors = _sector_names(plan)
    proof = Proof(plan)
    tables: list[pl.DataFrame] = []
    line = skipped + 1
    for data in parts:
        part = canonical(look_at(data, plan.sign.encode()), plan)
        proof.add(part)
        numbered = part.drop(sectors).with_columns(
            pl.int_range(line, line + part.height, dtype=pl.Int64, eager=True).alias("source_line")
        )
        line += part.height
        if sectors:
            numbered = numbered.with_columns(_listed(own_sectors(part, sectors, plan.form.cumulative)))
        tables.append(numbered)
    table = pl.concat(tables, rechunk=False)
    proof.close(table, work.layouts[0], work)
    table = _with_marks(table).with_columns(_constants(table, name, plan))
    laps = table.select(list(LAPS))
    return laps if laps.schema == LAPS else laps.cast(LAPS)


def _sector_names(plan: Plan) -> list[str]:
    numbers = sorted(int(name[7:]) for name in plan.form.sector_units)
    if numbers != list(range(1, len(numbers) + 1)):
        raise Odd
    return [f"sector_{number}" for number in numbers]


def _constants(table: pl.DataFrame, name: str, plan: Plan) -> list[pl.Expr]:
    """The columns that are the same in every row."""
    first = plan.first
    said = {"source_file": name, "session": first.session, "kart": first.kart, "driver": first.driver}
    said |= {"date": first.date}
    made = [
        pl.lit(said.get(column), dtype=dtype).alias(column)
        for column, dtype in LAPS.items()
        if column not in table.columns and column not in ("marks", "sector_times_s")
    ]
    if "sector_times_s" not in table.columns:
        made.append(pl.lit(pl.Series([[]], dtype=pl.List(pl.Float64()))).first().alias("sector_times_s"))
    return made


def _with_marks(table: pl.DataFrame) -> pl.DataFrame:
    """The words of the status column as marks."""
    said = table.get_column("marked as").unique().to_list() if "marked as" in table.columns else [""]
    marks = pl.DataFrame(
        {"marked as": said, "marks": [list(marks_in(text) or ()) for text in said]},
        schema={"marked as": pl.String(), "marks": pl.List(pl.String())},
    )
    if len(said) == 1:
        return table.with_columns(marks=pl.lit(marks.get_column("marks")).first())
    return table.join(marks, on="marked as", how="left", maintain_order="left")


def _listed(sectors: pl.DataFrame) -> pl.Series:
    """The columns as one list a row; without gaps through one block of numbers, which is much quicker."""
    if any(sectors.null_count().row(0)):
        return sectors.select(pl.concat_list(pl.all())).to_series().alias("sector_times_s")
    block = np.empty(sectors.shape)
    for at, column in enumerate(sectors.get_columns()):
        block[:, at] = column.to_numpy()
    return pl.Series("sector_times_s", block).arr.to_list()
