"""The fast path, bytes: whole lines in parts of some megabytes, their cells, and which lines have another shape."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np
import numpy.typing as npt
import polars as pl

from lapdelta.reading.source import Source

#: Bytes that are held as cells at a time.
_PART_BYTES = 8 << 20
#: Bytes that are looked at together; they stay in the processor's cache.
_LOOK_BYTES = 1 << 18
#: So many bytes of the next look belong to what is sought at the end of one.
_OVERLAP = 4
#: How a line begins that may have been taken out by hand.
_TAKEN_OUT = (b"//", b"# ", b"#\t", b"% ", b"%\t", b"##")


class OddFileError(Exception):
    """The file is not clean enough for this path: it takes the careful one."""


class UnprovedError(Exception):
    """Some line of these is not plain, or not in the form that was tried: they are looked at one by one."""


@dataclass(frozen=True)
class Part:
    """Some whole lines; ``loose``: it may hold numbers that polars reads and the careful path does not."""

    data: bytes
    lines: int
    loose: bool


def parts_of(source: Source) -> Iterator[bytes]:
    """The bytes of a file in parts that end with a line end, save for a last line that has none."""
    rest = b""
    for block in source.blocks(_PART_BYTES):
        cut = block.rfind(b"\n") + 1
        if cut:
            yield b"".join((rest, memoryview(block)[:cut])) if rest or cut < len(block) else block
            rest = block[cut:]
        else:
            rest += block
    if rest:
        yield rest


def refuse_odd_bytes(data: bytes) -> None:
    """OddFileError unless it is UTF-8 without bare CR or NUL."""
    if b"\x00" in data or data.startswith((b"\xff", b"\xfe")):
        raise OddFileError
    if b"\r" in data and data.count(b"\r") != data.count(b"\r\n"):
        raise OddFileError
    if not data.isascii():
        try:
            data.decode("utf-8")
        except UnicodeDecodeError:
            raise OddFileError from None


def look_at(data: bytes, sign: bytes) -> Part:
    """Count lines and look for rare numbers.

    Raises:
        UnprovedError: quotes do more than enclose whole cells, or a line begins as a comment does.
    """
    if _begins_with(data, _TAKEN_OUT):
        raise UnprovedError
    if b'"' in data:
        view = np.frombuffer(data, dtype=np.uint8)
        if _lines_with_odd_quotes(view, np.flatnonzero(view == ord("\n")), ord(sign)).size:
            raise UnprovedError
        data = data.replace(b'"', b"")
    lines, doubtful = _counted(data, ord(sign))
    return Part(data, lines, doubtful or b"+" in data)


def _begins_with(data: bytes, signs: Iterable[bytes]) -> bool:
    """Whether any line begins with one of these; a single byte is sought first, which is many times quicker."""
    return any(
        first in data and any(b"\n" + sign in data or data.startswith(sign) for sign in alike)
        for first, alike in groupby(signs, key=lambda sign: sign[:1])
    )


def _counted(data: bytes, sign: int) -> tuple[int, bool]:
    """Line ends, and whether numbers such as 6e1 or 00000012 may be among the cells."""
    view = np.frombuffer(data, dtype=np.uint8)
    lines = 0
    doubtful = False
    for start in range(0, len(view), _LOOK_BYTES):
        look = view[start : start + _LOOK_BYTES + _OVERLAP]
        lines += int(np.count_nonzero(look[:_LOOK_BYTES] == ord("\n")))
        doubtful = doubtful or _is_doubtful(look, sign)
    return lines, doubtful


def _is_doubtful(look: npt.NDArray[np.uint8], sign: int) -> bool:
    """Whether an ``e`` stands behind a digit or a point, or a cell begins with four zeros."""
    if bool((((look[1:] | 32) == ord("e")) & ((look[:-1] - ord(".")) <= 11)).any()):
        return True
    zeros = look == ord("0")
    pairs = zeros[:-1] & zeros[1:]
    if not bool((pairs[:-2] & pairs[2:]).any()):
        return False
    before = (look == sign) | (look == ord("\n"))
    return bool((before[:-4] & pairs[1:-2] & pairs[3:]).any())


def cells_of(
    part: Part, sign: str, width: int, types: Mapping[int, type[pl.DataType]], decimal_comma: bool
) -> pl.DataFrame:
    """The cells c0, c1, ...; text but for ``types``; an empty cell is null.

    Raises:
        UnprovedError: a row has not exactly ``width`` cells, a line is blank, or a cell does not fit its type.
    """
    try:
        rows = pl.read_csv(
            part.data,
            has_header=False,
            schema={f"c{at}": types.get(at, pl.String) for at in range(width)},
            separator=sign,
            quote_char=None,
            decimal_comma=decimal_comma,
            encoding="utf8",
            glob=False,
        )
    except pl.exceptions.PolarsError:
        raise UnprovedError from None
    if rows.width != width or rows.height != part.lines:
        raise UnprovedError
    # longer rows are an error of read_csv; shorter ones have no last cell, and show in the number of delimiters
    if rows.to_series(width - 1).null_count() and part.data.count(sign.encode()) != (width - 1) * rows.height:
        raise UnprovedError
    return rows.rechunk()  # parts of one chunk each: else the whole would be copied to align its columns


@dataclass(frozen=True)
class Lines:
    """Whole lines by themselves: where each ends, and whether it has the usual width and no odd quotes."""

    data: bytes
    ends: npt.NDArray[np.intp]
    shaped: npt.NDArray[np.bool_]

    def text(self, at: int) -> str:
        """The text of a line by its index, without its line end."""
        start = int(self.ends[at - 1]) + 1 if at else 0
        return text_of(self.data[start : int(self.ends[at])])

    def kept(self) -> bytes:
        """The bytes of the lines of the usual shape, without the quotes around their cells."""
        edges = np.flatnonzero(np.diff(self.shaped.astype(np.int8), prepend=0, append=0))
        starts = np.concatenate(([0], self.ends + 1))
        view = memoryview(self.data)
        kept = b"".join(view[starts[a] : starts[b]] for a, b in zip(edges[::2], edges[1::2], strict=True))
        return kept.replace(b'"', b"")


def lines_of(data: bytes, sign: bytes, width: int) -> Lines:
    """The lines of a part that ends with a line end."""
    view = np.frombuffer(data, dtype=np.uint8)
    ends = np.flatnonzero(view == ord("\n"))
    seen = np.searchsorted(np.flatnonzero(view == ord(sign)), ends)
    shaped = np.diff(seen, prepend=0) == width - 1
    starts = np.concatenate(([0], ends[:-1] + 1))
    for first, second in _TAKEN_OUT:
        shaped &= (view[starts] != first) | (view[np.minimum(starts + 1, len(view) - 1)] != second)
    if b'"' in data:
        shaped[_lines_with_odd_quotes(view, ends, ord(sign))] = False
    return Lines(data, ends, shaped)


def _lines_with_odd_quotes(
    view: npt.NDArray[np.uint8], ends: npt.NDArray[np.intp], sign: int
) -> npt.NDArray[np.intp]:
    """Indices of the lines with quotes that do more than enclose a whole cell without a delimiter in it."""
    quotes = np.flatnonzero(view == ord('"'))
    before, behind = view[quotes - 1], view[np.minimum(quotes + 1, len(view) - 1)]
    opens = (before == sign) | (before == ord("\n")) | (quotes == 0)
    closes = (behind == sign) | (behind == ord("\n")) | (behind == ord("\r"))
    line = np.searchsorted(ends, quotes)
    place = np.arange(len(quotes)) - np.searchsorted(line, line)
    second = place % 2 == 1
    cell = np.searchsorted(np.flatnonzero(view == sign), quotes)
    ends_cell = closes & ~opens & (cell == np.roll(cell, 1))
    odd = (second & ~ends_cell) | (~second & ~(opens & ~closes))
    lone = np.flatnonzero(
        ~second & np.append(line[1:] != line[:-1], True)
    )  # opened and not closed in its line
    return np.unique(np.concatenate([line[odd], line[lone]]))


def text_of(line: bytes) -> str:
    """A line's text without its line end."""
    return line.decode("utf-8").removesuffix("\n").removesuffix("\r")


def fetch(source: Source, wanted: Sequence[int]) -> dict[int, str]:
    """The texts of some lines (1-based, rising) of a file whose parts are all plain bytes."""
    found: dict[int, str] = {}
    ahead = iter(wanted)
    line, above = next(ahead, None), 0
    for part in parts_of(source):
        ends = np.flatnonzero(np.frombuffer(part, dtype=np.uint8) == ord("\n"))
        bounds = [*([] if part.endswith(b"\n") else [len(part)])]
        stops = np.concatenate((ends + 1, np.array(bounds, dtype=ends.dtype)))
        while line is not None and line <= above + len(stops):
            at = line - above - 1
            found[line] = text_of(part[int(stops[at - 1]) if at else 0 : int(stops[at])])
            line = next(ahead, None)
        above += len(stops)
    return {at: text.removeprefix("\ufeff") if at == 1 else text for at, text in found.items()}
