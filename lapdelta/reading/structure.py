"""Records to tables: headers, unit rows, titles, metadata, comments, summary rows; all else is a row of its table."""

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from lapdelta.reading.clock import looks_timed
from lapdelta.reading.dialect import DELIMITERS, Dialect, Record
from lapdelta.reading.ledger import Ledger
from lapdelta.reading.numbers import whole_number
from lapdelta.reading.row_kinds import (
    is_header,
    is_summary_row,
    is_unit_row,
    names_karts_only,
    title_in_header,
)
from lapdelta.reading.sector_rows import MOST_SECTORS, sectors_above
from lapdelta.reading.title_days import day_in
from lapdelta.reading.titles import Said, kart_in, legend_in, number_and_name, titles_beside, understand
from lapdelta.reading.vocabulary import fact_of, fold, heading, is_no_time, mark_of

#: Signs that take a row out; #07 and #A1 are karts.
_OUT = re.compile(r"//|[#%][ \t]|##")
_RULE = re.compile(r"[\s\-=_+|*#~;,.]{3,}")
#: A comma between cells, as no prose writes it; and the rows by which it is told whether the file writes it so.
_COMMA_OF_TABLES = re.compile(r",(?=[^\s,])")
_SEEN = 50
#: Key of a context that may be out of date; the value tells since which line.
DOUBT = "doubt"
#: Key of what stands beside the kart in a title and names nothing that we know.
REST = "rest"
#: Key of what titles side by side say, as JSON: place of the first column and context, for each.
BESIDE = "beside"


@dataclass(frozen=True)
class Row:
    """A record below a header, with what the titles above it said (kart, session, driver, date)."""

    record: Record
    context: tuple[tuple[str, str], ...]


@dataclass
class Table:
    """Rows under one header; a later block with the same header continues it. Empty header: none was found.

    ``unknown``: the header was told by its shape only, no word of it is known.
    """

    header: tuple[str, ...]
    units: tuple[str, ...] = ()
    rows: list[Row] = field(default_factory=list[Row])
    unknown: bool = False

    @property
    def signature(self) -> str:
        """The header's folded words, by which a file recipe knows it."""
        return "|".join(fold(cell) for cell in self.header)


@dataclass
class Structure:
    """All tables of a file, its facts and legends; ``below``: what lines below the last row said, by context key."""

    tables: list[Table] = field(default_factory=list[Table])
    facts: dict[str, str] = field(default_factory=dict[str, str])
    legend: dict[str, str] = field(default_factory=dict[str, str])
    below: dict[str, set[str]] = field(default_factory=dict[str, set[str]])


def _trimmed(cells: Sequence[str]) -> tuple[str, ...]:
    kept = list(cells)
    while kept and not kept[-1]:
        kept.pop()
    return tuple(kept)


def _repeats(cells: Sequence[str], header: tuple[str, ...]) -> bool:
    """Whether a row says the header again, be it with some cells missing: two words in their places, or one we know."""
    filled = [at for at, cell in enumerate(cells) if cell]
    if not filled or any(at >= len(header) or fold(cells[at]) != fold(header[at]) for at in filled):
        return False
    return len(filled) > 1 or len(header) == 1 or heading(cells[filled[0]]).meaning is not None


def _words_columns(cells: Sequence[str]) -> bool:
    """Whether a line is more of a header, which was not understood, than a title: it counts laps, or means columns."""
    words = [heading(cell).meaning for cell in cells]
    return len(cells) > 2 and (
        words[0] in ("lap", "number") or 2 * sum(1 for word in words if word) > len(cells)
    )


class Walker:
    """One pass over the records; ``structure`` is what was found, the ledger holds the non-laps."""

    def __init__(self, records: list[Record], dialect: Dialect, ledger: Ledger) -> None:
        """A walk over all records of a file that were cut under one dialect."""
        self.records, self.dialect, self.ledger = records, dialect, ledger
        self.places = {record.line: at for at, record in enumerate(records)}
        self.timed: dict[int, bool] = {}
        self.structure = Structure()
        self.table: Table | None = None
        self.context: list[tuple[str, str]] = []
        self.pending: list[Row] = []
        self.after_header = False
        self.titled = True

    def walk(self) -> Structure:
        """Classify every record."""
        for at, record in enumerate(self.records):
            if self._are_titles_beside(at):
                continue
            header = self._header_at(at)
            if header is not None:
                header, told = title_in_header(header, self._following(at))
                if told:
                    self._apply(Said(told), record)
                if not self.titled:
                    self._doubt(record)
                self._begin(record, header)
                self.after_header, self.titled = True, False
                continue
            if self._is_known(record) or self._is_title(at):
                continue
            self.after_header = self.titled = False
            if self._is_timed(record):
                self.structure.below.clear()
            if self.table and not self._is_timed(record):
                self._doubt(record)
            row = Row(record, tuple(self.context))
            (self.table.rows if self.table else self.pending).append(row)
        self._settle_pending()
        return self.structure

    def _settle_pending(self) -> None:
        if not self.structure.tables:
            rows = [row for row in self.pending if any(looks_timed(cell) for cell in row.record.filled)]
            if rows:
                self._begin_unknown(self.pending.index(rows[0]))
                return
        for row in self.pending:
            self.ledger.set_aside(row.record, "not understood, above the first table")

    def _begin_unknown(self, first: int) -> None:
        """The table of a file without known header words; words in a row above the first times are its header."""
        above = self.pending[first - 1] if first else None
        below = self.pending[first].record
        if above is None or above.record.line + above.record.span != below.line:
            self.structure.tables.append(Table((), rows=self.pending))
            return
        cells = _trimmed(above.record.cells)
        named = all(re.search(r"[^\W\d_]", cell) for cell in cells) and len(set(cells)) == len(cells) > 1
        if not named or len(cells) != len(_trimmed(below.cells)):
            self.structure.tables.append(Table((), rows=self.pending))
            return
        for row in self.pending[: first - 1]:
            self.ledger.set_aside(row.record, "not understood, above the first table")
        self.ledger.known(above.record, "header")
        self.structure.tables.append(Table(cells, rows=self.pending[first:], unknown=True))

    def _following(self, at: int, count: int = 3) -> list[Record]:
        found: list[Record] = []
        for record in self.records[at + 1 : at + 12]:
            if record.filled and not _RULE.fullmatch(record.text) and not is_unit_row(record.cells):
                found.append(record)
                if len(found) == count:
                    break
        return found

    def _header_at(self, at: int) -> tuple[str, ...] | None:
        """The trimmed header cells if the record is a header (written with another delimiter included)."""
        record = self.records[at]
        if record.broken or not record.filled or self._is_timed(record):
            return None
        title = len(record.filled) <= 2 and kart_in(record.text) and not names_karts_only(record.filled)
        if title or (self.after_header and is_unit_row(record.cells)):
            return None
        following = self._following(at)
        if self.table and _repeats(record.cells, self.table.header):
            return self.table.header
        if is_header(_trimmed(record.cells), following):
            return _trimmed(record.cells)
        if len(record.filled) == 1 and following:
            return self._foreign_header(record, following)
        return None

    def _foreign_header(self, record: Record, following: list[Record]) -> tuple[str, ...] | None:
        width = len(_trimmed(following[0].cells))
        for name in DELIMITERS:
            if name in (self.dialect.delimiter, "columns", "gaps", "space"):
                continue
            cells = _trimmed(Dialect(name).split(record.text)[0])
            if len(cells) == width > 1 and is_header(cells, following):
                return cells
        return None

    def _begin(self, record: Record, header: tuple[str, ...]) -> None:
        key = tuple(fold(cell) for cell in header)
        same = [t for t in self.structure.tables if tuple(fold(cell) for cell in t.header) == key]
        self.ledger.known(record, "repeated_header" if same else "header")
        if same:
            self.table = same[0]
        else:
            self.table = Table(header)
            self.structure.tables.append(self.table)

    def _is_known(self, record: Record) -> bool:
        kind: str | None = None
        if not record.filled:
            kind = "blank"
        elif record.broken:
            self.ledger.set_aside(record, "a quote is opened and never closed")
            return True
        elif self._is_commented_out(record):
            self.ledger.set_aside(record, "a row of laps behind the sign of a comment")
            return True
        elif _RULE.fullmatch(record.text) or (
            record.line == 1 and re.fullmatch(r"\"?sep=.\"?", record.text.strip())
        ):
            kind = "comment"
        elif not self._is_timed(record) and (found := legend_in(record.text)):
            self.structure.legend.update(found)
            kind = "comment"
        elif self._is_comment(record):
            self._apply(understand((record.text.lstrip("#/% ").strip(),)), record)
            kind = "comment"
        elif self.after_header and self.table and is_unit_row(record.cells):
            if not self.table.units:
                self.table.units = record.cells
            kind = "units"
        elif is_summary_row(
            record.cells, self.table.header if self.table else ()
        ) and not self._sums_up_sectors(record):
            kind = "summary"
        if kind:
            self.ledger.known(record, kind)
        return kind is not None

    def _sums_up_sectors(self, record: Record) -> bool:
        """Whether a row such as ``Total`` under a column a lap is the lap time: the rows above it are the sectors."""
        rows = self.table.rows if self.table else []
        own = tuple(self.context)
        above = [row.record.cells for row in rows[-MOST_SECTORS:] if row.context == own]
        return self.table is not None and sectors_above(self.table.header, above, record.cells) > 0

    def _is_timed(self, record: Record) -> bool:
        if record.line not in self.timed:
            self.timed[record.line] = any(looks_timed(cell) for cell in record.filled)
        return self.timed[record.line]

    def _is_commented_out(self, record: Record) -> bool:
        """Whether somebody took a row of laps out by a sign before it, which the rows beside it do not have."""
        if not self.table or not _OUT.match(record.text.lstrip()) or not self._is_timed(record):
            return False
        above = [row.record for row in self.table.rows[-1:]]
        beside = above or self._following(self.places[record.line])
        return len(record.filled) > 1 and not all(_OUT.match(one.text.lstrip()) for one in beside)

    def _is_comment(self, record: Record) -> bool:
        text = record.text.lstrip()
        if text.startswith("//") or re.match(r"#\s|%\s|#{2,}|#[^\W\d]", text):
            return not (
                self.table and len(record.filled) > 1 and any(looks_timed(cell) for cell in record.filled)
            )
        return False

    def _is_title(self, at: int) -> bool:
        """Metadata above the first table, or a title between tables; laps are never taken for one."""
        record = self.records[at]
        filled = self._free_cells(record)
        if any(looks_timed(cell) for cell in filled) or _words_columns(filled):
            return False
        below = self._following(at, 1)
        heads = bool(below) and self._header_at(self.places[below[0].line]) is not None
        if self.table and len(filled) > (6 if heads else 4):
            return False
        if heads and (named := number_and_name(filled)) and not self._goes_on(record):
            filled = (named,)
        said = understand(filled, above=self.table is None)
        only_day = set(said.context) == {"date"} and not said.facts and bool(said.unknown)
        if (said.context or said.facts) and not only_day:
            if self.table and said.unknown and len(filled) > 1 and not self._names_a_block(record, said):
                return False
            self._apply(said, record)
            if heads and "kart" in said.context and said.unknown:
                self.context.append((REST, said.unknown[0]))
            self.ledger.known(record, "title" if said.context and not said.facts else "metadata")
            return True
        if (len(filled) == 1 or only_day) and (self.table is None or heads):
            if self.table is not None:
                self._forget("kart")
                self._forget("driver")
            self._apply(said, record)
            if heads and said.unknown:
                self._forget("title")
                self.context.append(("title", said.unknown[0]))
            self.ledger.known(record, "title")
            return True
        return False

    def _are_titles_beside(self, at: int) -> bool:
        """Whether a line is the titles of tables side by side; then it is booked, and holds until the next title."""
        if self._is_timed(self.records[at]):
            return False
        below = self._following(at, 1)
        found = titles_beside(self.records[at].cells, below[0].cells) if below else []
        if not found:
            return False
        self.titled = True
        for key in (DOUBT, BESIDE, *(key for _, said in found for key in said)):
            self._forget(key)
        self.context.append((BESIDE, json.dumps(found)))
        self.ledger.known(self.records[at], "title")
        return True

    def _names_a_block(self, record: Record, said: Said) -> bool:
        """Whether a line of several cells says the kart or session of the laps below, as no row of its table does."""
        assert self.table is not None
        meanings = [heading(cell).meaning for cell in self.table.header]
        cells = record.cells
        if not {"kart", "session"} & set(said.context) - set(meanings):
            return False
        if any(is_no_time(cell) or mark_of(cell) is not None for cell in record.filled):
            return False
        lap = meanings.index("lap") if "lap" in meanings else len(cells)
        if (
            lap < len(cells)
            and whole_number(cells[lap]) is not None
            and not (lap and fact_of(cells[lap - 1]))
        ):
            return False
        above = self.table.rows[-1].record.cells if self.table.rows else ()
        return not any(kart_in(cell) and kart_in(other) for cell, other in zip(cells, above, strict=False))

    def _goes_on(self, record: Record) -> bool:
        """Whether a row counts on from the row above it: it is a lap without a time, whatever stands there instead."""
        above = self.table.rows[-1].record.cells if self.table and self.table.rows else ()
        counts = [whole_number(cell) for cell in record.cells]
        return any(
            count is not None and whole_number(cell) == count - 1
            for cell, count in zip(above, counts, strict=False)
        )

    def _free_cells(self, record: Record) -> tuple[str, ...]:
        """Filled cells of a line outside a table: single spaces part none, nor do commas of prose with a day in it."""
        if self.dialect.delimiter in ("columns", "gaps", "space"):
            return tuple(re.split(r"\s{2,}|\t", record.text.strip()))
        text = record.text.strip(" ,")
        prose = self.dialect.delimiter == "," and ", " in text and not _COMMA_OF_TABLES.search(text)
        if prose and day_in(text) and fact_of(record.filled[0]) is None and self._rows_have_no_prose():
            return (text,)
        return record.filled

    def _rows_have_no_prose(self) -> bool:
        """Whether no space stands behind the commas of the rows with times."""
        timed = [record.text for record in self.records[:_SEEN] if self._is_timed(record)]
        return any(_COMMA_OF_TABLES.search(text) for text in timed)

    def _apply(self, said: Said, record: Record) -> None:
        """Take over what a line said; a key said again ends everything that was said after it."""
        self.titled = True
        for key in (DOUBT, BESIDE, REST) if said.context else ():
            self._forget(key)
        again = [at for at, (key, _) in enumerate(self.context) if key in said.context]
        if again:
            del self.context[min(again) :]
        self.context.extend(said.context.items())
        for key, value in {**said.facts, **said.context}.items():
            self.structure.facts.setdefault(key, value)
        if self.structure.tables:
            for key, value in said.context.items():
                self.structure.below.setdefault(key, set()).add(value)
        for text in said.unknown:
            self.structure.facts.setdefault("title", text)

    def _doubt(self, record: Record) -> None:
        """From here on a title that should have ended what the one above said may be missing."""
        if any(key in ("kart", "session") for key, _ in self.context):
            self._forget(DOUBT)
            self.context.append((DOUBT, str(record.line)))

    def _forget(self, key: str) -> None:
        self.context = [pair for pair in self.context if pair[0] != key]
