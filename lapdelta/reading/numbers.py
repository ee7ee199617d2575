"""Numbers as files print them: decimal and thousands marks are decided for a column, never guessed for a cell."""

import re
import unicodedata

#: Spaces and quotes that group thousands.
_GROUPERS = "   '’"
_MINUS = str.maketrans({"−": "-", "–": "-", "‒": "-"})
_PLAIN = {
    ".": re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?"),
    ",": re.compile(r"[+-]?(?:\d+(?:,\d*)?|,\d+)(?:[eE][+-]?\d+)?"),
}
_GROUPED = {
    ".": re.compile(r"[+-]?\d{1,3}(?:([ ,'’])\d{3})(?:\1\d{3})*(?:\.\d+)?"),
    ",": re.compile(r"[+-]?\d{1,3}(?:([ .'’])\d{3})(?:\1\d{3})*(?:,\d+)?"),
}


def tidy(text: str) -> str:
    """Full-width digits narrowed, special spaces made plain, minus signs made one; for numbers only."""
    return text.strip() if text.isascii() else unicodedata.normalize("NFKC", text).translate(_MINUS).strip()


def read_number(text: str, mark: str) -> float | None:
    """The number that ``text`` prints if ``mark`` (``.`` or ``,``) is the decimal mark, else None."""
    bare = tidy(text)
    if _PLAIN[mark].fullmatch(bare):
        return float(bare.replace(",", "."))
    if _GROUPED[mark].fullmatch(bare):
        other = "," if mark == "." else "."
        for sign in (*_GROUPERS, other):
            bare = bare.replace(sign, "")
        return float(bare.replace(",", "."))
    return None


def certain_mark(text: str) -> str | None:
    """The decimal mark if only one reading of ``text`` is a number (98,4 is; 14.250 is not)."""
    text = tidy(text)
    if "." not in text and "," not in text:
        return None
    readings = [mark for mark in ".," if read_number(text, mark) is not None]
    return readings[0] if len(readings) == 1 else None


def decimals(text: str) -> int | None:
    """Digits after the last mark of a cell that ends in a digit; 0 without a mark; None for other text."""
    bare = tidy(text)
    if not bare or not bare[-1].isdigit():
        return None
    match = re.search(r"[.,:'\"](\d+)$", bare)
    return len(match.group(1)) if match else 0


def whole_number(text: str) -> int | None:
    """A count such as 7, 07 or 7.0; None for anything else."""
    bare = tidy(text)
    match = re.fullmatch(r"(\d{1,7})(?:[.,]0{0,3})?", bare)
    return int(match.group(1)) if match else None
