"""The fast path, joining: plain and odd laps in one table, and what only shows between laps."""

import datetime as dt
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

import polars as pl

from lapdelta.chunked import repeated
from lapdelta.reading.checks import find_repeats, find_sums
from lapdelta.reading.fast_cells import Plan
from lapdelta.reading.footers import footers, suspects
from lapdelta.reading.laps import Lap
from lapdelta.reading.unsaid import LONG_FOR_A_SUM
from lapdelta.reading.vocabulary import marks_in
from lapdelta.reading.work import Careful
from lapdelta.tables import LAPS

#: With more stretches of odd laps than this the whole is sorted.
_MANY_STRETCHES = 50
_NAMES = ("session", "kart")
#: More than any rounding of a printed sum, s.
_NEAR_A_SUM_S = 1.1


@dataclass(frozen=True)
class Numbered:
    """A lap as far as it is compared with others."""

    session: str
    kart: str
    lap: int | None
    lap_time_s: float
    date: dt.date | None
    clock: dt.time | None
    marks: list[str]
    line: int


_COMPARED = ("session", "kart", "lap", "lap_time_s", "date", "clock", "marks", "source_line")


def canonical_laps(table: pl.DataFrame, name: str, plan: Plan) -> pl.DataFrame:
    """The canonical table of the plain rows: marks, and the columns that are the same in every row."""
    table = _with_marks(table).with_columns(_constants(table, name, plan))
    laps = table.select(list(LAPS))
    return laps if laps.schema == LAPS else laps.cast(LAPS)


def _constants(table: pl.DataFrame, name: str, plan: Plan) -> list[pl.Series]:
    first = plan.first
    said = {"source_file": name, "session": first.session, "kart": first.kart, "driver": first.driver}
    said |= {"date": first.date}
    said |= {"sector_times_s": []}
    missing = [column for column in LAPS if column not in (*table.columns, "marks")]
    return [repeated(table, column, said.get(column), LAPS[column]) for column in missing]


def _with_marks(table: pl.DataFrame) -> pl.DataFrame:
    """The words of the status column as marks."""
    said = table.get_column("marked as").unique().to_list() if "marked as" in table.columns else [""]
    marks = pl.DataFrame(
        {"marked as": said, "marks": [list(marks_in(text) or ()) for text in said]},
        schema={"marked as": pl.String(), "marks": pl.List(pl.String())},
    )
    if len(said) == 1:
        return table.with_columns(repeated(table, "marks", marks.item(0, "marks"), LAPS["marks"]))
    return table.join(marks, on="marked as", how="left", maintain_order="left")


def joined(plain: pl.DataFrame, odd: pl.DataFrame) -> pl.DataFrame:
    """The laps of the odd lines among the plain ones, in file order."""
    places = plain.get_column("source_line").search_sorted(odd.get_column("source_line")).to_list()
    if len(set(places)) > _MANY_STRETCHES:
        return pl.concat([plain, odd]).sort("source_line", maintain_order=True)
    tables: list[pl.DataFrame] = []
    above = start = 0
    for at in range(len(places) + 1):
        if 0 < at < len(places) and places[at] == places[start]:
            continue
        if at > start:
            tables.append(odd.slice(start, at - start))
            start = at
        end = places[at] if at < len(places) else plain.height
        tables.append(plain.slice(above, end - above))
        above = end
    return pl.concat([table for table in tables if table.height] or [plain], rechunk=False)


def without(table: pl.DataFrame, lines: Collection[int]) -> pl.DataFrame:
    """The rows that are not of these lines; few are cut out, so that nothing is copied."""
    found = table.get_column("source_line")
    ordered = sorted(lines)
    ranges = list(_ranges(ordered))
    if len(ranges) > _MANY_STRETCHES:
        return table.filter(~found.is_in(ordered))
    kept: list[pl.DataFrame] = []
    at = 0
    for start, stop in ranges:
        first, last = found.search_sorted(start), found.search_sorted(stop)
        kept.append(table.slice(at, first - at))
        at = last
    kept.append(table.slice(at))
    return pl.concat([part for part in kept if part.height] or [table.clear()], rechunk=False)


def _ranges(ordered: Sequence[int]) -> Iterator[tuple[int, int]]:
    """Stretches of numbers that follow each other: first, and last plus one."""
    start = 0
    for at in range(1, len(ordered) + 1):
        if at == len(ordered) or ordered[at] != ordered[at - 1] + 1:
            yield ordered[start], ordered[at - 1] + 1
            start = at


def all_rise(table: pl.DataFrame, plan: Plan) -> bool:
    """Whether the rows of each session and kart stand below each other with rising lap numbers."""
    if table.is_empty():
        return True
    names = [name for name in _NAMES if name in plan.columns]
    start = pl.any_horizontal(pl.col(name).ne_missing(pl.col(name).shift()) for name in names)
    seen = table.select(start=start if names else pl.lit(False), up=pl.col("lap").diff() > 0)
    starts = seen.get_column("start").scatter(0, True)
    if not (starts | seen.get_column("up")).all():
        return False
    runs = table.filter(starts).select(names)
    return not names or runs.n_unique() == runs.height


def repeats(laps: pl.DataFrame, odd: pl.DataFrame | None) -> dict[int, str]:
    """Line -> reason of laps that stand twice or contradict each other; ``odd``: only in their sessions and karts."""
    laps = laps.select(_COMPARED)
    if odd is not None:
        laps = laps.join(odd.select(_NAMES).unique(), on=_NAMES, how="semi", maintain_order="left")
    doubtful = laps.select(*_NAMES, "lap").is_duplicated() | laps.get_column("lap").is_null()
    if not doubtful.any():
        return {}
    groups = laps.filter(doubtful).select(_NAMES).unique()
    suspects = laps.join(groups, on=_NAMES, how="semi", maintain_order="left")
    found: dict[int, str] = {}
    for _, group in suspects.group_by(_NAMES, maintain_order=True):
        rows = [Numbered(*row) for row in group.iter_rows()]
        found.update({rows[at].line: reason for at, reason in find_repeats(rows).items()})
    return found


def sums(laps: pl.DataFrame, dropped: Collection[int], middle: float) -> dict[int, str]:
    """Line -> reason of rows that are the sum of the laps above them.

    ``dropped`` lines are no laps; ``middle`` is the median of the laps, in s.
    """
    least_s = LONG_FOR_A_SUM * middle
    long = laps.filter(pl.col("lap_time_s") > least_s)
    if long.is_empty():
        return {}
    seconds = pl.col("lap_time_s")
    rest = without(laps.select(_COMPARED), dropped)
    rest = rest.join(long.select(_NAMES).unique(), on=_NAMES, how="semi", maintain_order="left")
    missed = (
        seconds.cum_sum().over(_NAMES) - 2 * seconds
    ).abs()  # the first sum of a kart is of all laps above
    groups = rest.filter((seconds > least_s) & (missed < _NEAR_A_SUM_S)).select(_NAMES).unique()
    found: dict[int, str] = {}
    for _, group in rest.join(groups, on=_NAMES, how="semi", maintain_order="left").group_by(
        _NAMES, maintain_order=True
    ):
        rows = [Numbered(*row) for row in group.iter_rows()]
        found.update({rows[at].line: reason for at, reason in find_sums(rows, least_s).items()})
    return found


def words_for_karts(laps: pl.DataFrame, karts: Collection[str] = ()) -> dict[int, str]:
    """Line -> reason of rows of karts that are named by a word, among others with numbers, and are none.

    ``karts``: all that there are, where that is known.
    """
    suspected = suspects(karts or laps.get_column("kart").unique().to_list())
    if not suspected:
        return {}
    rows = [Numbered(*row) for row in laps.select(_COMPARED).iter_rows()]
    return {
        rows[at].line: reason for at, reason in footers(rows, [row.kart for row in rows], suspected).items()
    }


def drop_repeats(laps: pl.DataFrame, work: Careful, found: dict[int, str]) -> pl.DataFrame:
    """The table without these laps; those of odd lines leave the work, too."""
    for line, reason in found.items():
        if line in work.outcomes:
            outcome = work.outcomes[line]
            lap: Lap = outcome.laps[0]
            outcome.faults.append((lap.column, lap.draft.cells["lap_time"][0], reason))
            outcome.laps = []
    return without(laps, found) if found else laps
