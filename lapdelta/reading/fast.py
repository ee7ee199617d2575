"""The fast path: plain rows go through vectorised expressions, only odd lines through the careful path.

The head of the file is read carefully; what it decided is then proved for every row. Lines that do not fit
are read carefully by themselves; where they would change how the whole is read, all of it takes the careful
path: both give the same reading where both apply.
"""

from collections.abc import Mapping
from dataclasses import replace

import polars as pl

from lapdelta.errors import UnreadableFile
from lapdelta.reading import formats
from lapdelta.reading.careful import book, facts_of, frame_of, karts_titled, work_through
from lapdelta.reading.dialect import SAMPLE_LINES, Record
from lapdelta.reading.fast_cells import MEASURED, TEXTS, TIMES, Plan, plan_for
from lapdelta.reading.fast_columns import prove_columns
from lapdelta.reading.fast_join import (
    all_rise,
    canonical_laps,
    drop_repeats,
    joined,
    repeats,
    sums,
    without,
    words_for_karts,
)
from lapdelta.reading.fast_odd import Plain, lines_around, read_odd
from lapdelta.reading.fast_scan import OddFileError, UnprovedError, fetch, parts_of, refuse_odd_bytes, text_of
from lapdelta.reading.fast_sift import Sieve
from lapdelta.reading.laps import LONG_LAP
from lapdelta.reading.ledger import Ledger
from lapdelta.reading.model import Reading
from lapdelta.reading.parts import JUDGED_ROWS
from lapdelta.reading.printing import LONG_OTHERWISE, NUMBER
from lapdelta.reading.recipe import Recipe
from lapdelta.reading.second_look import second_look
from lapdelta.reading.source import Source
from lapdelta.reading.work import Careful

#: Lines that are read carefully before the rest is proved to be alike; all that dialects are chosen from.
_HEAD_LINES = SAMPLE_LINES + 20
_ABOVE_TABLE = frozenset({"header", "metadata", "title", "units", "comment", "blank"})
_READ = frozenset({"lap", "lap_time", "status", "notes", "ignore", None, *MEASURED, *TEXTS, *TIMES})


def read_fast(source: Source, given: Mapping[str, str], recipe: Recipe) -> Reading | None:
    """The reading of a file of some length with few odd lines, or None where the careful path has to read it."""
    try:
        return _read(source, given, recipe)
    except (OddFileError, UnprovedError, UnreadableFile, pl.exceptions.PolarsError):
        return None


def _read(source: Source, given: Mapping[str, str], recipe: Recipe) -> Reading:
    parts = parts_of(source)
    first = next(parts, b"")
    data = _head(first)
    refuse_odd_bytes(data)
    head = work_through(Source(source.name, data, whole=source), given, recipe)
    head.source = source
    skipped = _first_row(head)
    plan = plan_for(head)
    sieve = Sieve(plan, skipped + 1)
    sieve.add(_below(first, skipped))
    ended = True
    for part in parts:
        ended = part.endswith(b"\n")
        if ended:
            sieve.add(part)
        elif part == b"\x1a":
            ended = True  # the mark that ended a text once
        else:
            refuse_odd_bytes(part)
            sieve.keep(text_of(part).removesuffix("\x1a"))
    return _Whole(source, head, plan, sieve, skipped, ended).reading()


def _head(data: bytes) -> bytes:
    at = 0
    for _ in range(_HEAD_LINES):
        at = data.find(b"\n", at) + 1
        if at == 0:
            raise OddFileError
    if at == len(data):
        raise OddFileError
    return data[:at]


def _first_row(work: Careful) -> int:
    """Number of lines above the first lap, if the head is one table with a row a lap and nothing to ask."""
    if len(work.layouts) != 1 or work.questions or work.layouts[0].name != "a row a lap":
        raise OddFileError
    if work.text.encoding not in ("utf-8", "utf-8-sig"):
        raise OddFileError
    if work.dialect.delimiter not in (",", ";", "\t", "|") or not work.structure.tables[0].header:
        raise OddFileError
    sectors = {f"sector_{number}" for number in range(1, 100)}
    if not {column.meaning for column in work.layouts[0].columns} <= _READ | sectors:
        raise OddFileError
    laps = [line for line, outcome in work.outcomes.items() if outcome.laps]
    if len(work.structure.tables[0].rows) < JUDGED_ROWS:
        raise OddFileError
    if not laps:
        raise OddFileError
    return min(work.outcomes) - 1


def _below(first: bytes, skipped: int) -> bytes:
    """The first part without the lines above the first row."""
    start = 0
    for _ in range(skipped):
        start = first.index(b"\n", start) + 1
    return first[start:]


def _complete(rows: pl.DataFrame) -> int:
    """Rows that have all sectors."""
    return sum(1 for sectors in rows.get_column("sector_times_s").to_list() if None not in sectors)


def _middle(laps: pl.DataFrame) -> float:
    """Median of the lap times, s."""
    middle = laps.get_column("lap_time_s").median()
    return middle if isinstance(middle, float) else 0.0


class _Whole:
    """All rows of a file, sifted, on their way to a reading."""

    def __init__(
        self, source: Source, head: Careful, plan: Plan, sieve: Sieve, skipped: int, ended: bool
    ) -> None:
        """OddFileError where the plain rows themselves do not bear out what the head decided."""
        self.source, self.head, self.plan, self.sieve = source, head, plan, sieve
        self.skipped, self.ended = skipped, ended
        self.lines = sieve.line - 1
        if not sieve.tables:
            raise OddFileError
        self.table = pl.concat(sieve.tables, rechunk=False)
        self.middle = _middle(self.table)
        if not formats.LAP_RANGE_S[0] <= self.middle <= formats.LAP_RANGE_S[1]:
            raise OddFileError
        if len(plan.form.sector_units) > 1 and not sieve.complete:
            raise OddFileError
        prove_columns(self.table, head, plan, len(sieve.odd))

    def reading(self) -> Reading:
        """The reading; without odd lines nothing of the file is read carefully but its head."""
        booked = self.head.ledger.booked
        clean = not self.sieve.odd and all(
            line <= self.skipped and kind in _ABOVE_TABLE for line, kind in booked.items()
        )
        low = self._low(self.middle)
        if clean and not low and self.sieve.all_rise():
            laps = canonical_laps(self.table, self.source.name, self.plan)
            if not sums(laps, (), self.middle) and not words_for_karts(laps, self.sieve.karts()):
                ledger = Ledger(self.lines, laps.height, dict(booked))
                return self._closed(self.head, laps, ledger)
        return self._with_odd(set(low))

    def _low(self, middle: float) -> list[int]:
        """Lines of laps so short or so long that they may be none."""
        seconds = self.table.get_column("lap_time_s")
        far = ~seconds.is_between(0.25 * middle, LONG_LAP * middle)
        longest = seconds.max()
        if isinstance(longest, float) and longest > LONG_OTHERWISE * middle:
            far |= (seconds > LONG_OTHERWISE * middle) & self._may_be_printed_otherwise(seconds, middle)
        return self.table.get_column("source_line").filter(far).to_list()

    def _may_be_printed_otherwise(self, seconds: pl.Series, middle: float) -> pl.Series:
        """Which laps may stand in a clock form that those near the top do not have."""
        usual = replace(self.plan.form.printed("lap_time"), middle_s=middle).usual_forms()
        number = self.plan.form.time_unit in ("s", "ms") and NUMBER not in usual
        minutes = self.sieve.clocked and "0:0.0" not in usual
        whole = self.sieve.clocked and "0:0" not in usual
        return (seconds == seconds.floor()) & whole | pl.Series([number or minutes])

    def _with_odd(self, more: set[int]) -> Reading:
        """The odd lines are read with all lines of the head and those around them."""
        wanted = set(range(1, self.skipped + 1)) | set(range(1, self.head.ledger.lines + 1)) | more
        wanted |= lines_around(self.sieve.odd, self.head.dialect, self.lines, self.ended)
        while True:
            if len(wanted) > self.lines // 2:
                raise OddFileError
            work, plain = self._read_odd(wanted)
            low = set(self._low(work.formats[0].median_lap_s or 0.0)) - wanted
            if not low:
                break
            wanted |= low
        odd = frame_of(
            [lap for line in sorted(work.outcomes) for lap in work.outcomes[line].laps], self.source.name
        )
        laps = joined(canonical_laps(plain, self.source.name, self.plan), odd)
        found = repeats(laps, odd if all_rise(plain, self.plan) else None)
        found |= sums(laps, found, _middle(laps))
        found |= words_for_karts(laps)
        read = [lap for outcome in work.outcomes.values() for lap in outcome.laps]
        found = {lap.line: lap.doubt for lap in read if lap.doubt} | found
        laps = drop_repeats(laps, work, found)
        lost = sorted(set(found) - set(work.outcomes))
        book(work)
        work.ledger.plain_laps = plain.height - len(lost)
        for line, text in fetch(self.source, lost).items():
            work.ledger.set_aside(Record(line, 1, (), text), found[line])
        return self._closed(work, laps, work.ledger)

    def _read_odd(self, wanted: set[int]) -> tuple[Careful, pl.DataFrame]:
        texts = fetch(self.source, sorted(wanted))
        if self.lines in texts and not self.ended:
            texts[self.lines] = texts[self.lines].removesuffix("\x1a")
        plain = without(self.table, wanted)
        aside = self.table.filter(pl.col("source_line").is_in(sorted(wanted)))
        complete = self.sieve.complete - _complete(aside) if self.sieve.sectors else 0
        return read_odd(self.head, self.plan, texts, self.lines, self.ended, Plain(plain, complete)), plain

    def _closed(self, work: Careful, laps: pl.DataFrame, ledger: Ledger) -> Reading:
        return Reading(
            laps=laps,
            set_aside=ledger.table(),
            questions=(),
            account=ledger.account(laps.height),
            recipe=replace(work.recipe, columns=work.columns),
            source_name=self.source.name,
            sha256=self.source.sha256,
            source=self.source,
            facts=facts_of(work),
            columns=work.columns,
            encoding=work.text.encoding,
            notes=(*work.notes, *second_look(laps, karts_titled(self.head))),
        )
