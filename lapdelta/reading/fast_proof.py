"""The fast path, proof: every row fits what the head of the file decided, and no lap stands there twice."""

import math
from itertools import pairwise

import polars as pl

from lapdelta.reading import formats
from lapdelta.reading.fast_cells import TIMES, Plan
from lapdelta.reading.fast_scan import Odd
from lapdelta.reading.layouts import Layout
from lapdelta.reading.numbers import tidy
from lapdelta.reading.vocabulary import is_summary, marks_in
from lapdelta.reading.work import Careful

#: Sectors may miss the lap time by this much in the proof that they are own (or end at it), in s.
_SLACK_S = 0.0006
#: Sectors of rows that add up to the lap do not also end at it: by this much, in s.
_CLEAR_S = 1.0
_MOST_MARKS = 200


class Proof:
    """What has been proved of the parts so far; ``add`` each part in file order, then ``close``."""

    def __init__(self, plan: Plan) -> None:
        """Nothing is proved yet."""
        self._plan = plan
        self._lowest_lap_s = math.inf
        self._sector_rows = 0
        self._runs: list[pl.DataFrame] = []
        self._last: tuple[str, str, int] | None = None
        self._rising = True

    def add(self, part: pl.DataFrame) -> None:
        """Raise Odd unless every row of the part fits."""
        columns = self._plan.columns
        needed = ["lap", "lap_time_s", *(name for name in ("session", "kart", *TIMES) if name in columns)]
        if any(part.get_column(name).null_count() for name in needed):
            raise Odd
        low, high = formats.LAP_LIMITS_S
        if not part.select(_within(pl.col("lap_time_s"), low, high)).item():
            raise Odd
        for name, limits in (
            ("top_speed_kmh", formats.SPEED_LIMITS_KMH),
            ("peak_rpm", formats.RPM_LIMITS),
        ):
            if name in part.columns and not part.select(_within(pl.col(name), *limits)).item():
                raise Odd
        self._lowest_lap_s = min(self._lowest_lap_s, part.select(pl.min("lap_time_s")).item())
        self._add_sectors(part)
        self._add_runs(part)

    def _add_sectors(self, part: pl.DataFrame) -> None:
        """Sectors fit into the lap, and in every complete row they add up to it, or end at it, as the head did."""
        form = self._plan.form
        names = list(form.sector_units)
        if not names:
            return
        inside = ((pl.col(name) > 0) & (pl.col(name) <= pl.col("lap_time_s") + 0.002) for name in names)
        if not part.select(pl.all_horizontal(fits.all() for fits in inside)).item():
            raise Odd
        if len(names) < 2:
            return
        slack = _SLACK_S * (len(names) + 1)
        last = (pl.col(names[-1]) - pl.col("lap_time_s")).abs()
        own = (pl.sum_horizontal(names, ignore_nulls=False) - pl.col("lap_time_s")).abs()
        right, wrong = (last, own) if form.cumulative else (own, last)
        complete = part.select(names).drop_nulls().height if _has_gaps(part, names) else part.height
        if not complete:
            return
        self._sector_rows += complete
        both = pl.when(own.is_not_null())
        if not part.select((right.max() <= slack) & (both.then(wrong).min() > _CLEAR_S)).item():
            raise Odd

    def _add_runs(self, part: pl.DataFrame) -> None:
        """Rows of one kart in one session below each other with rising lap numbers need no further proof."""
        names = [name for name in ("session", "kart") if name in part.columns]
        start = pl.any_horizontal(pl.col(name).ne_missing(pl.col(name).shift()) for name in names)
        seen = part.select(start=start if names else pl.lit(False), up=pl.col("lap").diff() > 0)
        starts = seen.get_column("start").scatter(0, True)
        self._rising = self._rising and bool((starts | seen.get_column("up")).all())
        heads = part.filter(starts)
        if self._last is not None:
            session, kart, lap = self._last
            first = part.row(0, named=True)
            if (first.get("session", session), first.get("kart", kart)) == (session, kart):
                self._rising = self._rising and first["lap"] > lap
                heads = heads.slice(1)
        self._runs.append(self._keys(heads))
        end = self._keys(part.tail(1)).row(0)
        self._last = (end[0], end[1], part.get_column("lap")[-1])

    def _keys(self, rows: pl.DataFrame) -> pl.DataFrame:
        first = self._plan.first
        return rows.select(
            pl.col(name) if name in rows.columns else pl.lit(said, dtype=pl.String).alias(name)
            for name, said in (("session", first.session), ("kart", first.kart))
        )

    def close(self, table: pl.DataFrame, layout: Layout, work: Careful) -> None:
        """Raise Odd unless the whole, ``table``, with all parts added, fits."""
        middle = table.get_column("lap_time_s").median()
        if not isinstance(middle, float) or not formats.LAP_RANGE_S[0] <= middle <= formats.LAP_RANGE_S[1]:
            raise Odd
        if self._lowest_lap_s < 0.25 * middle:
            raise Odd
        runs = pl.concat(self._runs)
        if runs.null_count().sum_horizontal().item():
            raise Odd
        if not (self._rising and runs.n_unique() == runs.height) and not _laps_differ(table, self):
            raise Odd
        if any(is_summary(kart) for kart in runs.get_column("kart").unique().to_list()):
            raise Odd
        if len(self._plan.form.sector_units) > 1 and not self._sector_rows:
            raise Odd
        _prove_unit(table, layout, self._plan, work)
        _prove_marks(table)

    def keys_of(self, table: pl.DataFrame) -> pl.DataFrame:
        """Session and kart of every row."""
        return self._keys(table)


def _within(value: pl.Expr, low: float, high: float) -> pl.Expr:
    """All values that are there lie in the range; one that is no number does not."""
    return value.is_between(low, high, closed="left").all()


def _has_gaps(part: pl.DataFrame, names: list[str]) -> bool:
    return any(part.get_column(name).null_count() for name in names)


def _laps_differ(table: pl.DataFrame, proof: Proof) -> bool:
    """No session, kart and lap stand there twice, by one whole number each."""
    keys = (
        proof.keys_of(table)
        .with_columns(pl.all().cast(pl.Categorical).to_physical().cast(pl.Int64))
        .with_columns(table.get_column("lap"))
    )
    session, kart, lap = (pl.col(name) for name in ("session", "kart", "lap"))
    whole = (session * (kart.max() + 1) + kart) * (lap.max() + 1).cast(pl.Int64) + lap
    return keys.select(whole.n_unique()).item() == table.height


def _prove_unit(table: pl.DataFrame, layout: Layout, plan: Plan, work: Careful) -> None:
    """The unit of the speeds is what the whole column says."""
    speed = plan.columns.get("top_speed")
    if speed is None or speed.unit is not None or "speed_unit" in work.answers:
        return
    middle = table.get_column("top_speed_kmh").median()
    printed = [middle / plan.form.speed.factor] if isinstance(middle, float) else []
    metric = any(other.language and "en" not in other.language.split() for other in layout.columns)
    unit = formats.decide_speed_unit(printed, None, None, metric)
    if unit is None or formats.KMH_IN[unit] != plan.form.speed.factor:
        raise Odd


def _prove_marks(table: pl.DataFrame) -> None:
    """All marks are words we know."""
    if "marked as" not in table.columns:
        return
    said = table.get_column("marked as").unique()
    if said.len() > _MOST_MARKS or any(
        marks_in(text) is None or text != tidy(text) for text in said.to_list()
    ):
        raise Odd


def own_sectors(part: pl.DataFrame, names: list[str], cumulative: bool | None) -> pl.DataFrame:
    """Each sector's own time; Odd where a split is not later than the one before."""
    if not cumulative:
        return part.select(names)
    own = part.select(names[0], *((pl.col(b) - pl.col(a)).round(6).alias(b) for a, b in pairwise(names)))
    if own.select(pl.any_horizontal((pl.all() <= 0).any())).item():
        raise Odd
    return own
