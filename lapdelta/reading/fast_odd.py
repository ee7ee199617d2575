"""The fast path, odd lines: read line by line with what stands around them, under the formats of the whole file."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import polars as pl

from lapdelta.reading.careful import read_tables, shown
from lapdelta.reading.clock import looks_timed
from lapdelta.reading.deciding import is_sure, is_usual, lap_seconds, sector_misses, sector_shares
from lapdelta.reading.decode import Text
from lapdelta.reading.dialect import Dialect, Record, records_of
from lapdelta.reading.drafts import Layout
from lapdelta.reading.fast_cells import Plan
from lapdelta.reading.fast_scan import OddFileError
from lapdelta.reading.laps import Formats
from lapdelta.reading.ledger import Ledger
from lapdelta.reading.naming import name_laps
from lapdelta.reading.numbers import whole_number
from lapdelta.reading.printing import Printing
from lapdelta.reading.structure import Walker
from lapdelta.reading.vocabulary import heading
from lapdelta.reading.work import Careful

#: Lines before and behind one that is no row by itself: a header looks at the rows below, a title at the header below.
_AROUND = (1, 25)
#: The same for a quote that is not closed in its line: it may end some lines below, in a record as wide as those above.
_AROUND_QUOTE = (13, 38)
#: Lines above a last one without a line end, to which it is compared.
_ABOVE_END = 400


@dataclass(frozen=True)
class Plain:
    """What the plain rows say of the formats of the whole; ``complete``: rows with all sectors."""

    table: pl.DataFrame
    complete: int


def lines_around(odd: Mapping[int, str], dialect: Dialect, lines: int, ended: bool) -> set[int]:
    """Numbers of the lines that have to be read together with the odd ones."""
    wanted: set[int] = set()
    for line, text in odd.items():
        before, behind = _reach(text, dialect)
        wanted.update(range(max(1, line - before), min(lines, line + behind) + 1))
    if not ended:
        wanted.update(range(max(1, lines - _ABOVE_END), lines + 1))
    return wanted


def _reach(text: str, dialect: Dialect) -> tuple[int, int]:
    """How many lines before and behind a line say what it is."""
    cells, closed = dialect.split(text)
    if not closed:
        return _AROUND_QUOTE
    filled = [cell for cell in cells if cell]
    if not filled or any(looks_timed(cell) for cell in filled):
        return 0, 0
    counted = len(filled) > 1 and any(whole_number(cell) is not None for cell in filled)
    row = counted and bool(cells[0]) and heading(cells[0]).meaning not in ("lap", "number")
    return (0, 0) if row else _AROUND


def read_odd(
    head: Careful, plan: Plan, texts: Mapping[int, str], lines: int, ended: bool, plain: Plain
) -> Careful:
    """The lines in ``texts`` read carefully, as they would be among all ``lines`` of the file.

    Raises:
        OddFileError: they would change how a column is read, ask a question, or say something of the rows below them.
    """
    numbers = sorted(texts)
    shown_lines = [texts[number] for number in numbers]
    records = [_moved(record, numbers) for record in records_of(shown_lines, head.dialect)]
    ledger = Ledger(lines)
    structure = Walker(records, head.dialect, ledger).walk()
    if len(structure.tables) != 1 or structure.tables[0].header != head.structure.tables[0].header:
        raise OddFileError
    contexts = [
        row.context for table in (structure.tables[0], head.structure.tables[0]) for row in table.rows
    ]
    if any(context != contexts[0] for context in contexts):
        raise OddFileError
    if set(structure.below) & {"kart", "session"}:
        raise OddFileError
    text = Text(shown_lines, ended, head.text.encoding, head.text.note)
    notes = [text.note] if text.note else []
    work = Careful(head.source, text, head.dialect, ledger, structure, head.answers, notes=notes)
    read_tables(work, lambda layout, form: _settled(layout, form, plan, plain))
    if work.questions or [c.meaning for c in work.layouts[0].columns] != [
        c.meaning for c in head.layouts[0].columns
    ]:
        raise OddFileError
    name_laps(work)
    if work.questions:
        raise OddFileError
    work.columns = tuple(shown(work))
    work.recipe = replace(head.recipe, columns=work.columns)
    return work


def _moved(record: Record, numbers: list[int]) -> Record:
    """A record with its line in the file; OddFileError where it spans lines that do not follow each other there."""
    first, last = record.line - 1, record.line + record.span - 2
    if numbers[last] - numbers[first] != last - first:
        raise OddFileError
    return replace(record, line=numbers[first])


def _settled(layout: Layout, form: Formats, plan: Plan, plain: Plain) -> Formats:
    """The formats of the whole file; OddFileError unless the odd lines leave them as the head decided."""
    told = plan.form
    if (form.time_unit, form.sector_units, form.cumulative, form.day_order, _decimals(form)) != (
        told.time_unit, told.sector_units, told.cumulative, told.day_order, _decimals(told),
    ) or (form.speed, form.rpm) != (told.speed, told.rpm):  # fmt: skip
        raise OddFileError
    seconds = lap_seconds(layout, form.time_unit, form.legend)
    missed = sector_misses(layout, form.time_unit, form.sector_units, bool(form.cumulative))
    shares = sector_shares(layout, form.time_unit, form.sector_units)
    more = _plain_shares(plain.table, plan) if shares else {}
    middle = median_lap(plain.table, seconds)
    return replace(
        form,
        median_lap_s=middle,
        printing={name: _of_whole(one, plain.table.height, middle) for name, one in form.printing.items()},
        sectors_sure=form.cumulative is not None and is_sure(missed, plain.complete),
        sectors_usual=form.cumulative is not None and is_usual(missed, plain.complete),
        sector_shares={meaning: _median(more[meaning], found) for meaning, found in shares.items()},
    )


def _decimals(form: Formats) -> dict[str, int | None]:
    return {meaning: printing.decimals for meaning, printing in form.printing.items()}


def _of_whole(printing: Printing, plain: int, middle: float) -> Printing:
    """How a column of the whole file is printed: plain rows have no letters. ``middle``: the median lap, s."""
    return replace(printing, count=printing.count + plain, middle_s=middle)


def median_lap(table: pl.DataFrame, seconds: Iterable[float]) -> float:
    """The median of the plain laps and of these, in s."""
    return _median(table.get_column("lap_time_s").to_numpy(), seconds)


def _median(values: npt.NDArray[np.float64], more: Iterable[float]) -> float:
    return float(np.median(np.concatenate([values, np.fromiter(more, float)])))


def _plain_shares(table: pl.DataFrame, plan: Plan) -> dict[str, npt.NDArray[np.float64]]:
    """Shares of the lap of each sector (or split) of the plain rows."""
    found: dict[str, npt.NDArray[np.float64]] = {}
    before = pl.lit(0.0)
    for at, meaning in enumerate(sorted(plan.form.sector_units, key=lambda name: int(name[7:]))):
        own = pl.col("sector_times_s").list.get(at)
        split = before + own if plan.form.cumulative else own
        before = split
        found[meaning] = table.select(split / pl.col("lap_time_s")).to_series().drop_nulls().to_numpy()
    return found
