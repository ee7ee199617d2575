"""Bytes to text: byte order mark, NUL pattern, strict UTF-8, else a short list of legacy encodings scored by words."""

import codecs
import re
from dataclasses import dataclass

from lapdelta.errors import UnreadableFile
from lapdelta.reading.source import Source
from lapdelta.reading.vocabulary import fold, heading, is_summary

#: Bytes of the beginning that sniffing looks at.
SNIFFED = 256 * 1024
_MARKS: tuple[tuple[bytes, str], ...] = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
#: Tried in this order; an earlier one wins a tie.
_LEGACY = ("cp1252", "cp1250", "cp932", "euc_jp", "iso8859_2", "mac_roman", "cp850", "cp437")
#: Letters of names in the languages we know, outside ASCII; anything else in a legacy text speaks against it.
_LETTERS = frozenset("àâäáãåąæçćčďéèêëęěíìîïłńňñóòôöõøőœřśšșßťúùûüůűýÿźżž")
_SIGNS = frozenset("°ºª–—’‘“”…€£²³·±№´ ")
_HARMLESS_CONTROLS = frozenset("\t\n\r\f\x1a\x0b")


@dataclass(frozen=True)
class Text:
    """Decoded text as physical lines.

    Attributes:
        lines: without their line ends; a line end at the very end starts no further line.
        ended: whether the last line had a line end.
        encoding: the name of the encoding taken.
        note: how sure that is, one plain sentence, or an empty text where there was no doubt.
    """

    lines: list[str]
    ended: bool
    encoding: str
    note: str


def decode(source: Source, wanted: str | None = None) -> Text:
    """The text of a file; ``wanted`` is an encoding the user named."""
    text, encoding, note = _decoded(source, wanted)
    _refuse_binary(text[:SNIFFED], source)
    if not text.strip("\ufeff \t\r\n\x1a\f"):
        raise UnreadableFile("The file holds nothing but blank lines.", "Export the laps again.", source.name)
    text = text.removeprefix("\ufeff").removesuffix("\x1a")
    ended = text.endswith(("\n", "\r"))
    lines = re.split(r"\r\n|\n|\r", text) if "\r" in text else text.split("\n")
    if ended:
        lines.pop()
    return Text(lines, ended, encoding, note)


def _decoded(source: Source, wanted: str | None) -> tuple[str, str, str]:
    data = source.data
    if wanted is not None:
        try:
            return data.decode(wanted), wanted, f"Read as {wanted}, as you said."
        except UnicodeDecodeError:
            raise UnreadableFile(
                f"The file is not written in {wanted}.",
                "Leave the encoding to us, or name another.",
                source.name,
            ) from None
    for mark, encoding in _MARKS:
        if data.startswith(mark):
            return _strict(source, encoding), encoding, ""
    wide = _wide_without_mark(data[:4096])
    if wide:
        return _strict(source, wide), wide, f"Read as {wide}: every second byte is empty."
    try:
        return data.decode("utf-8"), "utf-8", ""
    except UnicodeDecodeError:
        if (damaged := _nearly_utf8(data)) is not None:
            return (
                damaged,
                "utf-8",
                "Read as utf-8; letters that are damaged in the file are shown as \ufffd.",
            )
        encoding = _best_legacy(data[:SNIFFED], data)
        return (
            data.decode(encoding, errors="replace"),
            encoding,
            f"Read as {encoding}: the header words and letters fit best.",
        )


def _nearly_utf8(data: bytes) -> str | None:
    """The text where letters of several bytes abound and few are damaged; no legacy text looks like that."""
    text = data.decode("utf-8", errors="replace")
    damaged = text.count("\ufffd")
    whole = sum(1 for c in text[:SNIFFED] if c > "\x7f") - damaged
    return text if damaged <= max(3, len(text) // 1000) and whole >= 3 * damaged else None


def _strict(source: Source, encoding: str) -> str:
    try:
        return source.data.decode(encoding)
    except UnicodeDecodeError:
        raise UnreadableFile(
            f"The file begins as {encoding} text but breaks off inside a letter.",
            "Copy or export it again.",
            source.name,
        ) from None


def _wide_without_mark(head: bytes) -> str | None:
    """UTF-16 told by its zero bytes: nearly all of one parity, none of the other."""
    even, odd = head[0::2], head[1::2]
    if len(odd) < 4:
        return None
    if odd.count(0) > 0.6 * len(odd) and even.count(0) < 0.02 * len(even):
        return "utf-16-le"
    if even.count(0) > 0.6 * len(even) and odd.count(0) < 0.02 * len(odd):
        return "utf-16-be"
    return None


def _best_legacy(sample: bytes, data: bytes) -> str:
    scored: list[tuple[float, int, str]] = []
    for place, encoding in enumerate(_LEGACY):
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError:
            continue
        scored.append((_score(text[: len(sample)], encoding), -place, encoding))
    return max(scored)[2] if scored else "cp1252"


def _score(text: str, encoding: str) -> float:
    """Header words outside ASCII weigh most, then languages that are written so, then the letters."""
    score = 0.0
    for line in re.split(r"[\r\n]+", text)[:60]:
        for cell in re.split(r"[,;\t|:]|\s{2,}", line):
            found = heading(cell.strip().strip('"'))
            if found.meaning is None and not is_summary(cell):
                continue
            score += 20.0 if _telling(cell) else 0.0
            central = found.language in ("pl", "cs")
            score += 3.0 if central and encoding in ("cp1250", "iso8859_2") else 0.0
    odd = [c for c in text if ord(c) > 127]
    if odd:
        score += 10 * sum(_worth(c) for c in odd) / len(odd)
        score -= (
            10 * sum(1 for pair in re.findall(r"[a-z][^\x00-\x7f]", text) if pair[1].isupper()) / len(odd)
        )
    return score


def _telling(cell: str) -> bool:
    """Whether a header word speaks for its encoding: two letters fold to some word by chance (``Łą``)."""
    return not cell.isascii() and (len(fold(cell)) > 2 or all(_is_japanese(c) for c in cell.strip()))


def _is_japanese(char: str) -> bool:
    """Kana, kanji, and the full-width figures and signs that go with them."""
    return "぀" <= char <= "ヿ" or "一" <= char <= "鿿" or "\uff01" <= char <= "\uff5e"


def _worth(char: str) -> float:
    if char.casefold() in _LETTERS:
        return 1.0
    if char in _SIGNS:
        return 0.5
    return 0.9 if _is_japanese(char) else -1.0


def _refuse_binary(text: str, source: Source) -> None:
    controls = sum(1 for c in text if (c < " " and c not in _HARMLESS_CONTROLS) or c == "\x7f")
    if "\x00" in text or controls > max(2, len(text) // 30):
        raise UnreadableFile(
            "The file holds bytes that are no text, so it is not a table of laps.",
            "Export the laps as CSV or text from the program that made it.",
            source.name,
        )
