"""The words of timing files: folding, and look-up of headers, units, marks and titles. The data is words.toml."""

import re
import tomllib
import unicodedata
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib.resources import files
from typing import Any

_STROKES = str.maketrans({"ł": "l", "ß": "ss", "đ": "d", "æ": "ae", "œ": "oe"})
_SPEEDS = ("km_h", "mph", "m_s")
_BRACKETED = re.compile(r"[(\[{<]\s*([^)\]}>]*?)\s*[)\]}>]")
#: A unit behind a header word: ``Speed km/h``, ``time_s``, ``Time in s``; one word, or two (``1/1000 s``).
_TAILS = tuple(
    re.compile(rf"^(.*?)(?:[\s_]+in[\s_]+|[\s_,/:-]+)({tail})$", re.IGNORECASE | re.DOTALL)
    for tail in (r"[^\s_]+", r"[^\s_]+ [^\s_]+")
)


#: A sector that goes by a letter.
_LETTERED = re.compile(r"([^\W\d_]+)[\s_-]([A-F])")


@dataclass(frozen=True)
class Heading:
    """What a header cell says.

    Attributes:
        meaning: ``lap``, ``lap_time``, ``sector_1`` .. , ``lap_n`` (a column a lap), ``kart_n`` (a column a
            kart) and the keys of ``[header]`` in words.toml; None for unknown words.
        unit: a key of ``[unit]``, or None.
        language: of the word, or None where it is not told.
        number: of the sector or the lap in the header, else None.
    """

    meaning: str | None
    unit: str | None = None
    language: str | None = None
    number: int | None = None


@cache
def words() -> dict[str, Any]:
    """The parsed words.toml."""
    return tomllib.loads(files("lapdelta.reading").joinpath("words.toml").read_text(encoding="utf-8"))


@lru_cache(maxsize=65536)
def fold(text: str) -> str:
    """Letters and digits only, without accents, case, spaces and punctuation (``#`` stays)."""
    flat = unicodedata.normalize("NFKD", text).casefold().translate(_STROKES)
    return "".join(c for c in flat if c.isalnum() or c == "#" or c == "ø")


@cache
def _table(section: str) -> dict[str, tuple[str, str]]:
    """Folded word -> (meaning, languages joined by a space) of ``[header]``, ``[fact]`` or ``[mark]``."""
    found: dict[str, tuple[str, str]] = {}
    for meaning, by_language in words()[section].items():
        for language, entries in by_language.items():
            for entry in entries:
                key = fold(entry)
                known = found.get(key)
                if known is None:
                    found[key] = (meaning, language)
                elif known[0] == meaning:
                    found[key] = (meaning, f"{known[1]} {language}")
    return found


@cache
def _spelled() -> dict[str, tuple[str, str]]:
    """Header words as they are spelled, where another language means something else by the same letters."""
    folded = _table("header")
    found: dict[str, tuple[str, str]] = {}
    for meaning, by_language in words()["header"].items():
        for language, entries in by_language.items():
            for entry in entries:
                if folded[fold(entry)][0] != meaning and not entry.isascii():
                    found.setdefault(entry.casefold(), (meaning, language))
    return found


@cache
def _folded(section: str) -> frozenset[str]:
    """Folded words of a plain list, or of a section whose parts hold lists."""
    part: Any = words()[section]
    lists: list[list[str]] = [part] if isinstance(part, list) else list(part.values())
    return frozenset(fold(entry) for entries in lists for entry in entries)


@cache
def _units() -> dict[str, str]:
    found: dict[str, str] = {}
    for unit, entries in words()["unit"].items():
        for entry in entries:
            found.setdefault(entry.casefold().replace(" ", ""), unit)
    return found


def unit_of(text: str) -> str | None:
    """The unit that a text names (``[km/h]``, ``s``, ``m:ss.000``), or None."""
    bare = unicodedata.normalize("NFKC", text).strip().strip("()[]{}<>").strip().casefold().replace(" ", "")
    return _units().get(bare)


@cache
def _alternatives(section: str, meaning: str, shortest: int = 1) -> str:
    keys = {key for key, (found, _) in _table(section).items() if found == meaning and len(key) >= shortest}
    return "|".join(sorted((re.escape(key) for key in keys), key=len, reverse=True))


@cache
def _numbered() -> tuple[tuple[str, re.Pattern[str]], ...]:
    """Patterns of folded headers that hold a number: sector 3, 3rd sector, lap 7."""
    clock = f"(?:{_alternatives('header', 'time')}|{_alternatives('header', 'lap_time')})?"
    sector, long_sector = _alternatives("header", "sector"), _alternatives("header", "sector", 2)
    lap, long_lap = _alternatives("header", "lap"), _alternatives("header", "lap", 2)
    return (
        ("sector", re.compile(rf"{clock}(?:{sector}){clock}0*(\d{{1,2}}){clock}$")),
        ("sector", re.compile(rf"{clock}0*(\d{{1,2}})(?:st|nd|rd|th)?(?:{long_sector}){clock}$")),
        ("lap_n", re.compile(rf"(?:{lap})0*(\d{{1,3}})$")),
        ("lap_n", re.compile(rf"0*(\d{{1,3}})(?:{long_lap})$")),
    )


def _look_up(text: str) -> Heading | None:
    if (match := _LETTERED.fullmatch(text.strip())) and fold(match.group(1)) in _long_sectors():
        number = ord(match.group(2)) - ord("A") + 1
        return Heading(f"sector_{number}", number=number)
    key = fold(text)
    spelled = _spelled().get(unicodedata.normalize("NFC", text).strip().casefold())
    if spelled or key in _table("header"):
        meaning, language = spelled or _table("header")[key]
        return Heading(meaning, language=language)
    for kind, pattern in _numbered():
        match = pattern.match(key)
        if match:
            number = int(match.group(1))
            return Heading(f"sector_{number}" if kind == "sector" else kind, number=number)
    return None


@cache
def _long_sectors() -> frozenset[str]:
    """Words for a sector that are no abbreviation."""
    return frozenset(
        key for key, (meaning, _) in _table("header").items() if meaning == "sector" and len(key) > 4
    )


@lru_cache(maxsize=65536)
def heading(text: str) -> Heading:
    """What a header cell means; meaning None where no word is known."""
    plain = _look_up(text)
    if plain is not None:
        return plain
    if (whole := unit_of(text)) in _SPEEDS:
        return Heading("top_speed", whole)
    unit = None
    for match in _BRACKETED.finditer(text):
        unit = unit or unit_of(match.group(1))
    rest = _BRACKETED.sub(" ", text).strip() if unit else text.strip()
    if unit is None:
        tails = [match for pattern in _TAILS if (match := pattern.match(rest))]
        told = next((match for match in tails if unit_of(match.group(2)) not in (None, "none")), None)
        if told:
            rest, unit = told.group(1), unit_of(told.group(2))
    found = _look_up(rest) if unit else None
    if found is None:
        speed = unit in _SPEEDS and _says_speed(rest)
        return Heading("top_speed" if speed else None, unit=unit)
    return Heading(found.meaning, unit, found.language, found.number)


def _says_speed(text: str) -> bool:
    """Whether words beside a unit of speed say a highest speed: ``Max``, ``speed at end of straight``; no average."""
    said = [fold(word) for word in re.split(r"[\s_.,/-]+", text) if fold(word)]
    if said and len(said) == 1 and said[0] in ("max", "maks", "top", "v", "peak", "vmax"):
        return True
    speed = any((found := _table("header").get(word)) and found[0] == "top_speed" for word in said[:1])
    return speed and not any(word in _folded("summary") - {"max", "maks"} for word in said)


def fact_of(text: str) -> str | None:
    """The fact that a metadata key names: track, event, date, session, kart, driver; else None."""
    key = fold(text)
    if key in _table("fact"):
        return _table("fact")[key][0]
    found = _table("header").get(key)
    return found[0] if found and found[0] in ("date", "session", "kart", "driver", "clock") else None


def is_summary(text: str) -> bool:
    """Whether a cell says that its row is a best, average, total or the like."""
    key = fold(text)
    return bool(key) and (key in _folded("summary") or key.rstrip("0123456789") in _long_summary())


@cache
def _long_summary() -> frozenset[str]:
    return frozenset(word for word in _folded("summary") if len(word) > 3)


def is_no_time(text: str) -> bool:
    """Whether a cell says in words or dashes that there is no time."""
    key = fold(text)
    return not key or key in _folded("no_time")


@lru_cache(maxsize=65536)
def marks_in(text: str) -> tuple[str, ...] | None:
    """The marks that a status cell names, () for none, None where the words are not known."""
    found: list[str] = []
    for piece in re.split(r"[,;/+&|()\[\]:]|\s-\s", text):
        mark = mark_of(piece)
        if mark is None:
            return None
        if mark != "none" and mark not in found:
            found.append(mark)
    return tuple(found)


@lru_cache(maxsize=65536)
def marks_within(text: str) -> tuple[str, ...]:
    """The marks that pieces of a remark name (``cold, out lap``); single letters are none."""
    pieces = [piece.strip() for piece in re.split(r"[,;/+&|()\[\]:]|\s-\s", text)]
    marks = [mark_of(piece) for piece in pieces if len(piece) > 1]
    return tuple(dict.fromkeys(mark for mark in marks if mark not in (None, "none")))


@lru_cache(maxsize=65536)
def mark_of(text: str) -> str | None:
    """``out``, ``in``, ``pit``, ``invalid``, ``first``, ``none``; or None where the word is not known."""
    key = fold(text)
    if not key:
        return "none"
    if key in _table("mark"):
        return _table("mark")[key][0]
    found = _table("header").get(key)
    return found[0] if found and found[0] in ("out", "in", "pit", "invalid", "first") else None


@lru_cache(maxsize=65536)
def truth_of(text: str) -> bool | None:
    """Yes or no as a cell prints it; None for anything else."""
    bare = text.strip().casefold()
    if bare in {word.casefold() for word in words()["yes"]["all"]}:
        return True
    return False if bare in {word.casefold() for word in words()["no"]["all"]} else None


@cache
def months() -> dict[str, int]:
    """Folded month name -> 1..12."""
    return {fold(name): int(number) for number, names in words()["month"].items() for name in names}


def is_word(section: str, text: str) -> bool:
    """Whether a text is a word of a plain list, such as ``weekday``, ``minutes`` or ``other_day``."""
    return fold(text) in _folded(section)


def holds_word(section: str, text: str) -> bool:
    """Whether a text holds a word of a plain list, or some words on end; Japanese words need no space between."""
    said = [fold(word) for word in re.split(r"[\W_]+", text)]
    runs = {
        "".join(said[at:end]) for at in range(len(said)) for end in range(at + 1, min(at + 3, len(said)) + 1)
    }
    whole = fold(text)
    return any(word in runs or (not word.isascii() and word in whole) for word in _folded(section))


def header_words(section: str, meaning: str) -> str:
    """A regular expression of the folded words with that meaning."""
    return _alternatives(section, meaning)


def starts_as_session(text: str) -> bool:
    """Whether a title begins with a kind of session (practice, heat, ...) or is a code such as P1 or FP2."""
    if re.fullmatch(r"[A-Z]{1,3}[ -]?\d{1,2}", text.strip()):
        return True
    folded = fold(text)
    return any(
        folded.startswith(word) and _rest_is_label(folded[len(word) :]) for word in _folded("session_kind")
    )


def _rest_is_label(rest: str) -> bool:
    return len(rest) <= 3 or any(rest.startswith(word) for word in _folded("session_kind"))
