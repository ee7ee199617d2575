"""The fast path, bytes: whole lines in parts of some megabytes, each proved to be plain, and their cells."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl

from lapdelta.reading.source import Source

#: Bytes that are held as cells at a time.
_PART_BYTES = 16 << 20
#: Bytes that are looked at together; they stay in the processor's cache.
_LOOK_BYTES = 1 << 18
#: So many bytes of the next look belong to what is sought at the end of one.
_OVERLAP = 4


class Odd(Exception):  # noqa: N818 - not an error: the file takes the careful path
    """The file is not clean enough for this path."""


@dataclass(frozen=True)
class Part:
    """Some whole lines; ``loose``: it may hold numbers that polars reads and the careful path does not."""

    data: bytes
    lines: int
    signs: int
    loose: bool


def parts_of(source: Source) -> Iterator[bytes]:
    """The bytes of a file in parts that end with a line end; Odd where the file does not end with one."""
    rest = b""
    for block in source.blocks(_PART_BYTES):
        cut = block.rfind(b"\n") + 1
        if cut:
            yield b"".join((rest, memoryview(block)[:cut])) if rest or cut < len(block) else block
            rest = block[cut:]
        else:
            rest += block
    if rest:
        raise Odd


def look_at(data: bytes, sign: bytes) -> Part:
    """Count lines and delimiters; Odd unless it is UTF-8 without quotes, bare CR or NUL."""
    if b'"' in data or b"\x00" in data or data.startswith((b"\xff", b"\xfe")):
        raise Odd
    if b"\r" in data and data.count(b"\r") != data.count(b"\r\n"):
        raise Odd
    if not data.isascii():
        try:
            data.decode("utf-8")
        except UnicodeDecodeError:
            raise Odd from None
    lines, signs, doubtful = _counted(data, ord(sign))
    return Part(data, lines, signs, doubtful or b"+" in data)


def _counted(data: bytes, sign: int) -> tuple[int, int, bool]:
    """Line ends, delimiters, and whether numbers such as 6e1 or 00000012 may be among the cells."""
    view = np.frombuffer(data, dtype=np.uint8)
    lines = signs = 0
    doubtful = False
    for start in range(0, len(view), _LOOK_BYTES):
        look = view[start : start + _LOOK_BYTES + _OVERLAP]
        own = look[:_LOOK_BYTES]
        lines += int(np.count_nonzero(own == ord("\n")))
        signs += int(np.count_nonzero(own == sign))
        doubtful = doubtful or _is_doubtful(look, sign)
    return lines, signs, doubtful


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
        Odd: a row has not exactly ``width`` cells, or a line is blank.
        polars.exceptions.ComputeError: a cell does not fit its type.
    """
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
    # longer rows are an error of read_csv; shorter ones show in the number of delimiters
    if rows.width != width or rows.height != part.lines or part.signs != (width - 1) * rows.height:
        raise Odd
    return rows.rechunk()  # parts of one chunk each: else the whole would be copied to align its columns
