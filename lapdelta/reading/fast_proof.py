"""The fast path, proof of rows: each fits what the head of the file decided, as the careful path would find."""

from itertools import pairwise

import polars as pl

from lapdelta.reading import formats
from lapdelta.reading.dialect import bare
from lapdelta.reading.fast_cells import TEXTS, TIMES, Plan
from lapdelta.reading.fast_scan import OddFileError
from lapdelta.reading.numbers import tidy
from lapdelta.reading.vocabulary import is_summary, marks_in

#: Sectors may miss the lap time by this much in the proof that they are own (or end at it), in s.
_SLACK_S = 0.0006
#: Sectors of rows that add up to the lap do not also end at it: by this much, in s.
_CLEAR_S = 1.0
_MOST_MARKS = 200


def sectors_of(plan: Plan) -> list[str]:
    """The sector columns in their order; OddFileError where one is missing between them."""
    numbers = sorted(int(name[7:]) for name in plan.form.sector_units)
    if numbers != list(range(1, len(numbers) + 1)):
        raise OddFileError
    return [f"sector_{number}" for number in numbers]


def run_starts(table: pl.DataFrame, plan: Plan) -> pl.Series:
    """Where the session, the kart or the driver is another than in the row above; the first row is a start."""
    names = [pl.col(name) for name in TEXTS if name in plan.columns]
    if not names or table.is_empty():
        return pl.Series("start", [False] * table.height, dtype=pl.Boolean())
    starts = table.select(start=pl.any_horizontal(name.ne_missing(name.shift()) for name in names))
    return starts.to_series().scatter(0, True)


def all_fit(table: pl.DataFrame, heads: pl.DataFrame, plan: Plan) -> bool:
    """Whether every row of a part of the canonical columns is plain; ``heads``: the rows where a run starts."""
    if any(table.get_column(name).null_count() for name in _needed(plan)):
        return False
    if not table.select(pl.all_horizontal(fits.all() for fits in _conditions(plan))).item():
        return False
    if any(text != bare(text) for name in TEXTS if name in plan.columns for text in _said(heads, name)):
        return False
    return not _strange_marks(table) and not _summaries(heads)


def _said(rows: pl.DataFrame, name: str) -> list[str]:
    """The texts in a column, each once."""
    return rows.get_column(name).unique().drop_nulls().to_list()


def which_fit(table: pl.DataFrame, plan: Plan) -> pl.Series:
    """For each row whether it is plain."""
    fits = [pl.col(name).is_not_null() for name in _needed(plan)]
    fits += [condition.fill_null(True) for condition in _conditions(plan)]
    if strange := _strange_marks(table):
        fits.append(~pl.col("marked as").is_in(strange))
    if summaries := _summaries(table):
        fits.append(~pl.col("kart").is_in(summaries))
    return table.select(pl.all_horizontal(fits)).to_series()


def _needed(plan: Plan) -> list[str]:
    return ["lap", "lap_time_s", *(name for name in ("session", "kart", *TIMES) if name in plan.columns)]


def _conditions(plan: Plan) -> list[pl.Expr]:
    """What must hold in a row; null where there is nothing to prove."""
    low, high = formats.LAP_LIMITS_S
    conditions = [pl.col("lap_time_s").is_between(low, high, closed="left")]
    if "top_speed" in plan.columns:
        conditions.append(pl.col("top_speed_kmh").is_between(*formats.SPEED_LIMITS_KMH, closed="left"))
    if "peak_rpm" in plan.columns:
        conditions.append(pl.col("peak_rpm").is_between(*formats.RPM_LIMITS, closed="left"))
    return conditions + _of_sectors(plan)


def _of_sectors(plan: Plan) -> list[pl.Expr]:
    """Sectors fit into the lap, and in every complete row they add up to it, or end at it, as the head's did."""
    names = sectors_of(plan)
    lap = pl.col("lap_time_s")
    conditions = [(pl.col(name) > 0) & (pl.col(name) <= lap + 0.002) for name in names]
    if len(names) < 2:
        return conditions
    slack = _SLACK_S * (len(names) + 1)
    total = pl.col(names[0])
    for name in names[1:]:
        total = total + pl.col(name)  # null where one is missing
    own, last = (total - lap).abs(), (pl.col(names[-1]) - lap).abs()
    right, wrong = (last, own) if plan.form.cumulative else (own, last)
    conditions += [right <= slack, total.is_null() | (wrong > _CLEAR_S)]
    if plan.form.cumulative:
        conditions += [pl.col(later) > pl.col(earlier) for earlier, later in pairwise(names)]
    return conditions


def _strange_marks(table: pl.DataFrame) -> list[str]:
    """Words of the status column that are no marks we know."""
    if "marked as" not in table.columns:
        return []
    said = table.get_column("marked as").unique()
    if said.len() > _MOST_MARKS:
        raise OddFileError
    return [text for text in said.to_list() if marks_in(text) is None or text != tidy(text)]


def _summaries(table: pl.DataFrame) -> list[str]:
    """Words such as ``Best`` that stand where the kart should be."""
    sessions = _said(table, "session") if "session" in table.columns else []
    if any(is_summary(session.split(" ")[0]) for session in sessions):
        raise OddFileError  # its laps may stand in other sessions already
    if "driver" in table.columns and any(is_summary(driver) for driver in _said(table, "driver")):
        raise OddFileError  # its laps may be made of those of others
    return [kart for kart in _said(table, "kart") if is_summary(kart)] if "kart" in table.columns else []


def own_sectors(part: pl.DataFrame, names: list[str], cumulative: bool | None) -> pl.DataFrame:
    """Each sector's own time."""
    if not cumulative:
        return part.select(names)
    return part.select(names[0], *((pl.col(b) - pl.col(a)).round(6).alias(b) for a, b in pairwise(names)))
