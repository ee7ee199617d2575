"""Lines outside the tables: key and value, titles that name the kart or session below, legends of marks."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache

from lapdelta.reading.clock import looks_timed
from lapdelta.reading.dates import date_readings
from lapdelta.reading.title_days import day_in, holds_date, pieces_of, with_years
from lapdelta.reading.vocabulary import (
    fact_of,
    fold,
    header_words,
    heading,
    holds_word,
    is_no_time,
    is_summary,
    is_word,
    mark_of,
    starts_as_session,
)

#: Context keys: what a title can say of the laps below it.
CONTEXT = ("kart", "session", "driver", "date")
_KEY_VALUE = re.compile(r"\s*([^\W\d_][^:=]{0,30}?)\s*[:=]\s*(\S.*?)\s*", re.DOTALL)
_CODE = r"#?\s*([0-9][0-9A-Za-z]{0,4}|[A-Z]{1,3}[0-9]{0,3}|NA)"
_MEASURED = re.compile(r"lap|lap_time|time|sector_\d+|top_speed|peak_rpm|clock")
_LEGEND = re.compile(r"\W{0,2}?([*†‡!^~§#])\W*[=:–-]+\s*(.+)|\W{0,2}?([*†‡!^~§])\W?\s+(\D.+)")


@dataclass
class Said:
    """What one line said: context for the laps below, other facts, and pieces of text without a known word."""

    context: dict[str, str] = field(default_factory=dict[str, str])
    facts: dict[str, str] = field(default_factory=dict[str, str])
    unknown: list[str] = field(default_factory=list[str])


@cache
def _kart_pattern() -> re.Pattern[str]:
    return re.compile(rf"({header_words('header', 'kart')}|no|nr|#)", re.IGNORECASE)


def kart_in(text: str) -> tuple[str, str] | None:
    """(code, driver or empty) of a text such as ``Kart 07``, ``#12`` or ``Kart 07 (Mia)``; None for others."""
    match = re.fullmatch(
        rf"(#|[^\W\d_][^\W\d]*(?:[\s-]?(?:[Nn](?:[or]\.?|[º°.])(?![^\W\d_])|[Čč]\.|#))?)\.?\s*[:#-]?\s*{_CODE}(.*)",
        text.strip(),
        re.DOTALL,
    )
    if match is None or not _kart_pattern().fullmatch(fold(match.group(1))):
        return _kart_of_words(text.strip())
    rest = match.group(3).strip()
    if not rest:
        return match.group(2), ""
    name = re.fullmatch(r"[(\[,:\s–-]*([^\W\d][^()\[\]:=]*)[)\]]?", rest)
    boundary = match.group(3)[0] in " (,:-–"
    return (match.group(2), name.group(1).strip()) if name and boundary else None


def _kart_of_words(text: str) -> tuple[str, str] | None:
    """The code behind several words, such as ``Numéro de kart 7``."""
    match = re.fullmatch(rf"([^\W\d_]\S*\s[^\d:]*?)\.?\s*[:#-]?\s+{_CODE}", text)
    return (match.group(2), "") if match and _kart_pattern().fullmatch(fold(match.group(1))) else None


def understand(cells: tuple[str, ...], above: bool = False) -> Said:
    """What the filled cells of a line outside a table say; ``above`` all tables two cells are a key and its value."""
    said = Said()
    cells = with_years(cells)
    worded = above and len(cells) == 2 and _words_a_key(*cells)
    at = 0
    while at < len(cells):
        key = cells[at].rstrip(" :=")
        following = cells[at + 1] if at + 1 < len(cells) else None
        bare_key = bool(fact_of(key)) or cells[at].endswith((":", "=")) or (worded and at == 0)
        if (
            bare_key
            and following is not None
            and fact_of(following) is None
            and heading(following).meaning is None
        ):
            _keep(said, key, following)
            at += 2
            continue
        _line(said, cells[at])
        at += 1
    return said


def _words_a_key(first: str, second: str) -> bool:
    """Whether the first of two cells may be the key of the second, not a title beside a kart, session or day."""
    if not re.fullmatch(r"[^\W\d][^\d:=]{0,30}", first) or kart_in(second) or numbers_a_session(second):
        return False
    return not (day_in(second) and (is_word("weekday", first) or session_in(first)))


def _line(said: Said, text: str) -> None:
    """What a line, or one cell of it, says: a day first, for it may hold the signs that part the pieces."""
    day = day_in(text)
    for piece in day.apart if day else pieces_of(text):
        pair = _KEY_VALUE.fullmatch(piece)
        if holds_date(piece) and not (pair and fact_of(pair.group(1)) != "date"):
            said.unknown.append(piece.strip())
        else:
            _piece(said, piece)
    if day is None:
        return
    said.context["date"] = day.text
    named = False
    for words in day.beside:
        if kart_in(words) or (session_in(words) and re.search(r"\d", words)) or _driver_in(words):
            _piece(said, words)
            named = True
    if day.beside and not named:
        said.unknown.insert(0, day.piece)


def _keep(said: Said, key: str, value: str) -> None:
    fact = fact_of(key)
    kart = kart_in(key)
    if kart and not kart[1]:
        said.context["kart"] = kart[0]
        fact = "session" if session_in(value) else "driver"
    if fact == "kart":
        code = kart_in(value)
        said.context["kart"] = code[0] if code else value.strip().lstrip("#")
    elif fact in CONTEXT:
        said.context[fact] = value.strip()
    else:
        said.facts[fact or key.strip()] = value.strip()


def _piece(said: Said, piece: str) -> None:
    pair = _KEY_VALUE.fullmatch(piece)
    if pair and not looks_timed(piece):
        _keep(said, pair.group(1), pair.group(2))
        return
    if both := _session_and_kart(piece):
        said.context["session"], said.context["kart"] = both
        return
    kart = kart_in(piece)
    if kart:
        said.context["kart"] = kart[0]
        if kart[1]:
            said.context["driver"] = kart[1]
        return
    session = session_in(piece)
    if session:
        said.context["session"] = session
    elif date_readings(piece) and not holds_word("other_day", piece):
        said.context["date"] = piece.strip()
    elif (named := _driver_in(piece)) is not None:
        said.context["driver"] = named
    elif not is_word("weekday", piece):
        said.unknown.append(piece.strip())


def _session_and_kart(piece: str) -> tuple[str, str] | None:
    """Session and kart of ``Session 2 Kart 13`` or ``Kart 13 Session 2``, with a blank between them only."""
    words = piece.split()
    for at in range(1, len(words)):
        first, second = " ".join(words[:at]), " ".join(words[at:])
        for session, kart in ((first, second), (second, first)):
            found = kart_in(kart)
            if found and not found[1] and numbers_a_session(session) and not kart_in(session):
                return session_in(session) or session, found[0]
    return None


#: What somebody wrote in brackets behind a title.
_REMARK = re.compile(r"(?<=\d)\s+\([^()]+\)$")


def session_in(piece: str) -> str | None:
    """The label of ``Practice 2``, ``P1``, ``Session P1`` (P1) or ``Session 2`` (a bare number says little).

    A remark in brackets behind a label stays with it: two heats may differ in nothing else.
    """
    text = piece.strip()
    head, _, rest = text.partition(" ")
    if rest and heading(head).meaning == "session" and re.search(r"\d|^[A-Z]$", rest) and len(rest) <= 20:
        return text if rest.strip().isdigit() or starts_as_session(head + " 1") else rest.strip()
    return text if starts_as_session(text) or starts_as_session(_REMARK.sub("", text)) else None


def numbers_a_session(text: str) -> bool:
    """Whether a text is a word for a session with its number; a code such as T2 may be anything."""
    worded = re.fullmatch(r".*(?:[^\W\d_]{3,}|[\u3040-\u9fff]).*\d", text.strip())
    return bool(worded) and session_in(text) is not None


def number_and_name(cells: tuple[str, ...]) -> str | None:
    """``3 Tom Lund`` of two cells, a number as karts have and a name; None where the other is a word we know."""
    if len(cells) != 2:
        return None
    number, name = cells if cells[0][0].isdigit() or cells[0][0] == "#" else cells[::-1]
    if not re.fullmatch(r"#?\d{1,4}[A-Za-z]?", number) or not re.fullmatch(r"[^\W\d_][^\d:=]{2,40}", name):
        return None
    known = heading(name).meaning or fact_of(name) or mark_of(name) or is_no_time(name) or is_summary(name)
    return None if known or session_in(name) or date_readings(name) else f"{number} {name}"


def _driver_in(piece: str) -> str | None:
    head, _, rest = piece.strip().partition(" ")
    return rest.strip() if rest and heading(head).meaning == "driver" else None


def kart_and_measure(text: str) -> tuple[str, str] | None:
    """Kart and measure of a header such as ``Kart 7 S1`` or ``#7 time``; None for others."""
    words = text.split()
    for at in range(len(words) - 1, 0, -1):
        kart, measure = kart_in(" ".join(words[:at])), " ".join(words[at:])
        if kart and not kart[1] and _MEASURED.fullmatch(heading(measure).meaning or ""):
            return kart[0], measure
    return None


def titles_beside(cells: Sequence[str], below: Sequence[str]) -> list[tuple[int, dict[str, str]]]:
    """Place and context of each title of a line that names a kart, or a session, above each of several tables.

    ``below``: the line below it, their header; it has a lap time for each. Empty where the line is something else.
    """
    titles = [at for at, cell in enumerate(cells) if cell]
    times = sum(1 for cell in below if heading(cell).meaning in ("lap_time", "time"))
    if not 1 < len(titles) <= times:
        return []
    filled = [(at, understand((cells[at],))) for at in titles]
    if any(said.unknown or said.facts for _, said in filled):
        return []
    for key in ("kart", "session"):
        told = {said.context.get(key, "") for _, said in filled}
        if len(told) == len(filled) and "" not in told:
            return [(at, said.context) for at, said in filled]
    return []


def legend_in(text: str) -> dict[str, str]:
    """Sign -> mark of a legend such as ``* = lap deleted; ! = pit`` or ``Laps with * were deleted``; else empty."""
    found: dict[str, str] = {}
    whole = text.strip().strip('";,|\t ')
    for part in [whole, *re.split(r"[;,|\t]|\s{2,}", whole)]:
        match = _LEGEND.fullmatch(part.strip())
        mark = _mark_within(match.group(2) or match.group(4)) if match else None
        if match and mark:
            found[match.group(1) or match.group(3)] = mark
    signs = set(re.findall(r"(?:^|(?<=[\s\"'(\[]))[*†‡!^~§](?=$|[\s\"')\],.])", whole))
    prose = len(signs) == 1 and len(whole) < 200 and not re.search(r"\d", whole)
    if not found and prose and (mark := _mark_within(whole)):
        found[signs.pop()] = mark
    return found


def _mark_within(words: str) -> str | None:
    """The mark that a legend's words name: all of them, else the one word that does."""
    for piece in [words, *re.split(r"[\s,;:()/.-]+", words)]:
        mark = mark_of(piece)
        if mark and mark != "none":
            return mark
    return None
