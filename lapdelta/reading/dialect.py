"""Text to records of cells: the delimiter, quotes with line breaks inside, fixed width."""

import re
from collections import Counter
from dataclasses import dataclass

from lapdelta.reading.clock import looks_timed
from lapdelta.reading.titles import kart_and_measure, kart_in, numbers_a_session
from lapdelta.reading.vocabulary import heading

#: Physical lines that one quoted record may span.
LONGEST_RECORD = 12
#: Lines that the choice of a dialect looks at.
SAMPLE_LINES = 100
#: Names of the delimiters; ``columns`` is fixed width by position, ``gaps`` two or more spaces, ``space`` any.
DELIMITERS = (";", "\t", ",", "|", "columns", "gaps", "space")


@dataclass(frozen=True)
class Record:
    """One record: first physical line (1-based), number of physical lines, cells (stripped), raw text.

    ``broken`` says that a quote was opened and never closed.
    """

    line: int
    span: int
    cells: tuple[str, ...]
    text: str
    broken: bool = False

    @property
    def filled(self) -> tuple[str, ...]:
        """The cells that hold something."""
        return tuple(cell for cell in self.cells if cell)


@dataclass(frozen=True)
class Dialect:
    """How lines are cut into cells; ``edges`` are the starts of the columns where the width is fixed."""

    delimiter: str
    edges: tuple[int, ...] = ()

    def split(self, text: str) -> tuple[list[str], bool]:
        """Cells of a line or joined lines, and whether every quote was closed."""
        if self.delimiter == "columns":
            ends = (*self.edges[1:], None)
            return [text[start:end].strip() for start, end in zip(self.edges, ends, strict=True)], True
        if self.delimiter == "gaps":
            return re.split(r"\s{2,}|\t", text.strip()), True
        if self.delimiter == "space":
            return text.split(), True
        return split_cells(text, self.delimiter)


def bare(cell: str) -> str:
    """A cell without the space around it, and without the apostrophe by which spreadsheets mark a number as text."""
    cell = cell.strip()
    return cell[1:] if cell[:1] == "'" and cell[1:2].isdigit() else cell


def split_cells(text: str, delimiter: str) -> tuple[list[str], bool]:
    """Cells cut at ``delimiter``; a quote counts only at the start of a cell, two inside stand for one."""
    if '"' not in text:
        return [bare(cell) for cell in text.split(delimiter)], True
    cells: list[str] = []
    at = 0
    while True:
        start = at
        while start < len(text) and text[start] == " ":
            start += 1
        if start < len(text) and text[start] == '"':
            cell, at, closed = _quoted(text, start + 1, delimiter)
            cells.append(cell)
            if not closed:
                return cells, False
        else:
            end = text.find(delimiter, at)
            end = len(text) if end < 0 else end
            cells.append(bare(text[at:end]))
            at = end
        if at >= len(text):
            return cells, True
        at += 1


def _quoted(text: str, at: int, delimiter: str) -> tuple[str, int, bool]:
    """The cell behind an opening quote: its text, where its delimiter stands, whether it was closed."""
    parts: list[str] = []
    while True:
        end = text.find('"', at)
        if end < 0:
            return "".join([*parts, text[at:]]).strip(), len(text), False
        parts.append(text[at:end])
        if text[end + 1 : end + 2] == '"':
            parts.append('"')
            at = end + 2
            continue
        stop = text.find(delimiter, end)
        stop = len(text) if stop < 0 else stop
        return bare("".join(parts) + text[end + 1 : stop]), stop, True


def records_of(lines: list[str], dialect: Dialect) -> list[Record]:
    """All records; a quote that is not closed within LONGEST_RECORD lines spoils its own line only."""
    records: list[Record] = []
    at = 0
    while at < len(lines):
        cells, closed = dialect.split(lines[at])
        span, text = 1, lines[at]
        if not closed:
            joined = _joined(lines, at, dialect, _usual_width(records))
            if joined is not None:
                cells, span = joined
                text = "\n".join(lines[at : at + span])
        records.append(Record(at + 1, span, tuple(cells), text, broken=not closed and span == 1))
        at += span
    return records


def _usual_width(records: list[Record]) -> int | None:
    recent = [len(record.cells) for record in records[-5:] if len(record.filled) > 1]
    return Counter(recent).most_common(1)[0][0] if recent else None


def _joined(lines: list[str], at: int, dialect: Dialect, width: int | None) -> tuple[list[str], int] | None:
    """The record that begins at line index ``at`` and is closed on a later line, as wide as those above."""
    for span in range(2, min(LONGEST_RECORD, len(lines) - at) + 1):
        alone, whole = dialect.split(lines[at + span - 1])
        if whole and width is not None and len(alone) == width:
            return None  # that line is a record of its own: the quote above it was never closed
        cells, closed = dialect.split("\n".join(lines[at : at + span]))
        if closed:
            return (cells, span) if width is None or len(cells) == width else None
    return None


def choose_dialect(lines: list[str]) -> Dialect:
    """The dialect under which most lines look like rows of one table with known header words."""
    sample = [line for line in lines[:SAMPLE_LINES] if line.strip()]
    if sample and (told := re.fullmatch(r"\ufeff?\"?sep=(.)\"?", sample[0].strip("\r\n"))):
        return Dialect(told.group(1))
    best: tuple[float, int, Dialect] | None = None
    for place, name in enumerate(DELIMITERS):
        dialect = Dialect(name, _edges(sample)) if name == "columns" else Dialect(name)
        if name == "columns" and len(dialect.edges) < 2:
            continue
        found = (_fitness(sample, dialect), -place, dialect)
        if best is None or found[:2] > best[:2]:
            best = found
    return best[2] if best and best[0] > 0 else Dialect(";")


def _fitness(sample: list[str], dialect: Dialect) -> float:
    """Known headers, lines of the usual width, and cells that are times, weighed together."""
    rows = [dialect.split(line)[0] for line in sample]
    widths = Counter(len(row) for row in rows if len([cell for cell in row if cell]) > 1)
    if not widths:
        return 0.0
    width, count = widths.most_common(1)[0]
    usual = count / len(rows)
    if dialect.delimiter == "space" and usual < 0.6:
        return 0.0
    words = max(_words(line, row, width) for line, row in zip(sample[:80], rows[:80], strict=True))
    body = [cell for row in rows for cell in row if cell and len(row) > 1]
    timed = sum(1 for cell in body[:3000] if looks_timed(cell)) / max(1, min(len(body), 3000))
    loose = {"gaps": 0.8, "space": 0.5, "columns": 0.9}.get(dialect.delimiter, 1.0)
    return loose * (words + 3 * usual + 4 * timed)


def _words(line: str, row: list[str], width: int) -> int:
    """Known header words of a line; a header of the usual width may be written with another delimiter."""
    if len(row) == 1 < width:
        foreign = [split_cells(line, sign)[0] for sign in (";", "\t", ",", "|")]
        row = next((cells for cells in foreign if len(cells) == width), row)
    return sum(1 for cell in row if cell and _is_word(cell))


def _is_word(cell: str) -> bool:
    """Whether a cell could stand in a header: a known word, a kart, or a session with its number."""
    return bool(heading(cell).meaning or kart_in(cell) or kart_and_measure(cell) or numbers_a_session(cell))


def _edges(sample: list[str]) -> tuple[int, ...]:
    """Starts of fixed-width columns: after every stretch of positions that is blank in all table lines."""
    if any("\t" in line for line in sample):
        return ()
    known = [sum(1 for cell in re.split(r"\s{2,}", line.strip()) if _is_word(cell)) for line in sample[:80]]
    first = max(range(len(known)), key=known.__getitem__) if known else 0
    table = [line.rstrip() for line in sample[first:] if re.search(r"\S\s+\S", line)]
    pieces = [len(re.split(r"\s{2,}", line.strip())) for line in table]
    usual = sorted(pieces)[len(pieces) // 2] if pieces else 0
    table = [line for line, count in zip(table, pieces, strict=True) if 3 * count > usual]  # no notes below
    width = max((len(line) for line in table), default=0)
    if len(table) < 3 or width > 2000:
        return ()
    taken = [any(at < len(line) and line[at] != " " for line in table) for at in range(width)]
    edges = [at for at in range(width) if taken[at] and (at == 0 or not taken[at - 1])]
    return tuple(_under_header(edges, table[0]) if known and known[first] >= 2 else edges)


def _under_header(edges: list[int], header: str) -> list[int]:
    """Edges that part header words; one inside a known header, or with no header above, parts words of one cell."""
    inside: set[int] = set()
    for match in re.finditer(r"\S+(?: \S+)*", header):
        if _is_word(match.group()):
            inside.update(range(match.start() + 1, match.end()))
    kept = [at for at in edges if at == edges[0] or at not in inside]
    ends = [*kept[1:], len(header)]
    return [
        at for at, end in zip(kept, ends, strict=True) if at == kept[0] or header[at : max(at, end)].strip()
    ]
