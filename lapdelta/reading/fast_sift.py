"""The fast path, sifting: each part to the table of its plain rows and the lines of all others."""

from collections.abc import Iterator

import numpy as np
import polars as pl

from lapdelta.reading.fast_cells import Plan, from_numbers, from_text, is_mixed
from lapdelta.reading.fast_proof import all_fit, own_sectors, run_starts, sectors_of, which_fit
from lapdelta.reading.fast_scan import OddFileError, UnprovedError, lines_of, look_at, refuse_odd_bytes

#: A part that is not plain as a whole is tried in so many pieces; what is left is looked at line by line.
_PIECES = 16
#: With more odd lines than this, and more than plain ones, the file takes the careful path.
_MANY_ODD = 1000


class Sieve:
    """Plain rows as tables, in file order, and all other lines as text by their number."""

    def __init__(self, plan: Plan, line: int) -> None:
        """Nothing is read yet; ``line`` is the number of the first line."""
        self.plan, self.line = plan, line
        self.sectors = sectors_of(plan)
        self.tables: list[pl.DataFrame] = []
        self.odd: dict[int, str] = {}
        self.plain = self.complete = 0
        self.clocked = False  # whether a lap time may be printed with minutes
        self.rising = True
        self.runs: list[pl.DataFrame] = []
        self._last: tuple[tuple[str, ...], int] | None = None
        self._types = plan.types
        self._rough = False

    def add(self, data: bytes) -> None:
        """Sift the next part, which ends with a line end."""
        refuse_odd_bytes(data)
        odd = len(self.odd)
        if self._rough or not self._as_a_whole(data):
            missed = 0
            for piece in [data] if self._rough else _pieces(data):
                if self._rough or not self._as_a_whole(piece):
                    missed += 1
                    self._by_lines(piece)
            self._rough = len(self.odd) > odd + (0 if self._rough else _PIECES)
        if len(self.odd) > max(_MANY_ODD, self.plain):
            raise OddFileError

    def keep(self, text: str) -> None:
        """A last line without a line end is an odd one."""
        self.odd[self.line] = text
        self.line += 1

    def _as_a_whole(self, data: bytes) -> bool:
        """Take the lines if each is proved to be plain."""
        try:
            part = look_at(data, self.plan.sign.encode())
            try:
                table = from_numbers(part, self.plan, self._types)
            except UnprovedError:
                if self._types is not self.plan.types or not is_mixed(self.plan):
                    raise
                table = from_numbers(part, self.plan, self.plan.types_but_times)
                self._types = self.plan.types_but_times
        except UnprovedError:
            return False
        self.clocked = self.clocked or self.plan.columns["lap_time"].index not in self._types
        starts = run_starts(table, self.plan)
        heads = table.filter(starts)
        if not all_fit(table, heads, self.plan):
            return False
        self._take(table, pl.int_range(self.line, self.line + table.height, dtype=pl.Int64, eager=True))
        self._follow(table, heads, starts)
        self.line += table.height
        return True

    def _by_lines(self, data: bytes) -> None:
        """Take the lines that are plain; the others are kept as text."""
        lines = lines_of(data, self.plan.sign.encode(), self.plan.width)
        table, sound, clocked = from_text(lines, self.plan)
        self.clocked = self.clocked or clocked
        plain = sound & which_fit(table, self.plan)
        taken = lines.shaped.copy()
        taken[lines.shaped] = plain.to_numpy()
        if plain.any():
            kept = table.filter(plain)
            starts = run_starts(kept, self.plan)
            self._follow(kept, kept.filter(starts), starts)
            self._take(kept, pl.Series(np.flatnonzero(taken) + self.line, dtype=pl.Int64()))
        for at in np.flatnonzero(~taken).tolist():
            self.odd[self.line + at] = lines.text(at)
        self.line += len(taken)

    def _take(self, table: pl.DataFrame, lines: pl.Series) -> None:
        numbered = table.drop(self.sectors).with_columns(lines.alias("source_line"))
        if self.sectors:
            own = own_sectors(table, self.sectors, self.plan.form.cumulative)
            numbered = numbered.with_columns(listed(own))
            gaps = any(own.null_count().row(0))
            self.complete += own.drop_nulls().height if gaps else own.height
        self.tables.append(numbered)
        self.plain += numbered.height

    def _follow(self, table: pl.DataFrame, heads: pl.DataFrame, starts: pl.Series) -> None:
        """Whether the rows of each session and kart stand below each other with rising lap numbers, so far."""
        lap = table.get_column("lap")
        self.rising = self.rising and bool((starts | (lap.diff() > 0)).fill_null(True).all())
        names = [name for name in ("session", "kart") if name in self.plan.columns]
        runs = heads.select(names)
        first, last = (table.select(names).row(at) if names else () for at in (0, -1))
        if self._last is not None and first == self._last[0]:
            self.rising = self.rising and lap[0] > self._last[1]
            runs = runs.slice(1) if starts[0] else runs
        self._last = (last, lap[-1])
        self.runs.append(runs)

    def karts(self) -> set[str]:
        """The karts of the plain rows, where the rows print one."""
        named = [run.get_column("kart").unique() for run in self.runs if "kart" in run.columns]
        return set(pl.concat(named).to_list()) if named else set()

    def all_rise(self) -> bool:
        """Whether no lap can stand there twice, so that repeats need not be sought."""
        if not self.rising:
            return False
        runs = pl.concat(self.runs)
        return runs.n_unique() == runs.height if runs.width else True


def _pieces(data: bytes) -> Iterator[bytes]:
    """The lines in pieces of about equal size."""
    size = max(len(data) // _PIECES, 1 << 16)
    start = 0
    while start < len(data):
        end = data.find(b"\n", min(start + size, len(data) - 1)) + 1
        yield data[start:end]
        start = end


def listed(sectors: pl.DataFrame) -> pl.Series:
    """The columns as one list a row; without gaps through one block of numbers, which is much quicker."""
    if any(sectors.null_count().row(0)):
        return sectors.select(pl.concat_list(pl.all())).to_series().alias("sector_times_s")
    block = np.column_stack([column.to_numpy() for column in sectors.get_columns()])
    return pl.Series("sector_times_s", block).arr.to_list()
