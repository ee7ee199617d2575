"""The fast path, proof of columns: what the head decided of a column holds for the values of the whole file."""

import datetime as dt

import polars as pl

from lapdelta.reading import formats
from lapdelta.reading.columns import Column
from lapdelta.reading.fast_cells import Plan
from lapdelta.reading.fast_scan import OddFileError
from lapdelta.reading.vocabulary import heading
from lapdelta.reading.work import Careful

#: A plain ``Time`` column is a lap time up to this median, in s.
_LONGEST_PLAIN_LAP_S = 300.0
#: Times of day that begin later than this are no lap times.
_DAYTIME = dt.time(5)


def prove_columns(table: pl.DataFrame, head: Careful, plan: Plan, odd: int) -> None:
    """Raise OddFileError unless all rows decide as the head did; ``odd`` rows are not in the table."""
    for column in head.layouts[0].columns:
        if not column.answered:
            _prove_column(table, column, plan, odd)
    _prove_speed_unit(table, head, plan, odd)
    _prove_groups(table, head, plan)
    _prove_decimals(table, head, plan)


def _prove_column(table: pl.DataFrame, column: Column, plan: Plan, odd: int) -> None:
    """A column whose header says little: its values said what it is."""
    said = heading(column.header).meaning
    if said == "number" and column.meaning == "lap":
        rises = int((table.get_column("lap").diff() == 1).sum())
        counts = rises == table.height - 1
        if counts or rises < 0.6 * (table.height + odd) + 2 * odd:
            raise OddFileError
    elif said == "number" and column.meaning not in ("kart", "ignore"):
        raise OddFileError
    elif said == "time" and column.meaning == "lap_time":
        times = table.get_column("lap_time_s")
        middle, first = times.median(), times[0]
        steps = int((times.diff() > 0.4 * first).sum()) + 2 * odd
        if not isinstance(middle, float) or middle > _LONGEST_PLAIN_LAP_S or steps > 0.6 * table.height:
            raise OddFileError
    elif said == "time" and column.meaning == "clock":
        earliest = table.get_column("clock").min()
        if not isinstance(earliest, dt.time) or earliest < _DAYTIME:
            raise OddFileError
    elif column.note.endswith("is taken for this") and said != "driver":
        raise OddFileError  # equal columns in the head may differ below


def _prove_speed_unit(table: pl.DataFrame, head: Careful, plan: Plan, odd: int) -> None:
    """The unit of the speeds is what the whole column says, whatever the odd rows hold."""
    speed = plan.columns.get("top_speed")
    if speed is None or speed.unit is not None or "speed_unit" in head.answers:
        return
    speeds = table.get_column("top_speed_kmh").drop_nulls()
    metric = any(other.language and "en" not in other.language.split() for other in head.layouts[0].columns)
    aside = min(0.5, (odd + 1) / max(1, len(speeds)))
    for share in (0.5 - aside, 0.5, 0.5 + aside):
        middle = speeds.quantile(share, "nearest")
        printed = [] if middle is None else [middle / plan.form.speed.factor]
        unit = formats.decide_speed_unit(printed, None, None, metric)
        if unit is None or formats.KMH_IN[unit] != plan.form.speed.factor:
            raise OddFileError


def _prove_groups(table: pl.DataFrame, head: Careful, plan: Plan) -> None:
    """An unknown column does not part the laps into sessions: lap numbers start again nowhere."""
    context = head.layouts[0].drafts[0].context
    unknown = any(c.meaning is None and not c.answered for c in head.layouts[0].columns)
    if not unknown or "session" in plan.columns or "session" in context:
        return
    by = [name for name in ("kart", "driver") if name in plan.columns]
    rises = pl.col("lap").diff() > 0
    if not table.select((rises.over(by) if by else rises).all()).item():
        raise OddFileError


def _prove_decimals(table: pl.DataFrame, head: Careful, plan: Plan) -> None:
    """Lap times in whole seconds, with a number behind them, may be decimals that a comma has cut off."""
    if plan.sign == "," and plan.form.time_unit == "s":
        limit, fractions = 0.5 * table.height, 0
        for chunk in table.get_column("lap_time_s").get_chunks():
            fractions += int((chunk != chunk.floor()).sum())
            if fractions >= limit:
                return
        raise OddFileError
