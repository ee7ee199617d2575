"""What the library says in English, said in another language: each sentence is matched against its template.

A finding, a plan or an error keeps its sentences in English, so that what is stored never changes with the
language of a page. The tables ``german_*.toml`` hold every English sentence as a template beside its German;
here a stored sentence is matched, its holes are taken out and put into the other sentence, numbers with the
decimal mark of the language.
"""

import re
import tomllib
from dataclasses import dataclass
from functools import cached_property, lru_cache
from importlib.resources import files
from typing import Final

from lapdelta.words.catalogue import phrase

_TABLES: Final = {
    "de": ("german_findings", "german_gearing", "german_seasons", "german_archive", "german_reading")
}
#: A hole: its name, and what it holds (``#`` a number, ``~`` words of the tables, ``?`` the same or a name,
#: ``^`` as ``~`` in the dative, ``!`` as ``?`` without a comma in it, nothing: text that
#: stays as it is; ``unit`` holds one word).
_HOLE: Final = re.compile(r"\{(\w+)([#~?^!]?)\}")
_NUMBER: Final = r"[-+±]{0,2}\d+(?:[.,]\d+)*(?:e[-+]?\d+)?"
#: Text of a hole: first without the end of a sentence in it, then anything.
_WITHIN, _ANYTHING = r"(?:(?![.!?] ).)+?", r".+?"
_SEPARATORS: Final = (("; ", "list.comma"), (", ", "list.comma"), (" and ", "list.and"))


@dataclass(frozen=True)
class _Template:
    """One sentence of the library and how it is said in the language."""

    english: str
    said: str

    @cached_property
    def pieces(self) -> tuple[str, ...]:
        """The text between the holes, for a quick look before the pattern is tried."""
        return tuple(piece for piece in _HOLE.sub("\0", self.english).split("\0") if piece)

    @cached_property
    def kinds(self) -> dict[str, str]:
        """What each hole holds."""
        return dict(_HOLE.findall(self.english))

    def find(self, sentence: str, text: str) -> dict[str, str] | None:
        """The holes' contents if the whole sentence fits; ``text`` is the pattern of a hole with text."""
        if not all(piece in sentence for piece in self.pieces):
            return None
        found = self._pattern(text).fullmatch(sentence)
        return None if found is None else found.groupdict()

    def _pattern(self, text: str) -> re.Pattern[str]:
        return _compiled(self.english, text)


@lru_cache(maxsize=4096)
def _compiled(english: str, text: str) -> re.Pattern[str]:
    pattern, end, seen = "", 0, set[str]()
    for hole in _HOLE.finditer(english):
        name, kind = hole[1], hole[2]
        holds = {"#": _NUMBER, "!": r"[^,]+?"}.get(kind, r"\S+?" if name.startswith("unit") else text)
        pattern += re.escape(english[end : hole.start()])
        pattern += f"(?P={name})" if name in seen else f"(?P<{name}>{holds})"
        seen.add(name)
        end = hole.end()
    return re.compile(pattern + re.escape(english[end:]), re.DOTALL)


@dataclass(frozen=True)
class _Table:
    """All templates of a language: those without holes by text, the others the most particular first."""

    language: str
    plain: dict[str, str]
    holed: tuple[_Template, ...]
    dative: dict[str, str]


@lru_cache(maxsize=4)
def _table(language: str) -> _Table:
    sections = [
        (name, section)
        for file in _TABLES.get(language, ())
        for name, section in tomllib.loads(
            files("lapdelta.words").joinpath(f"{file}.toml").read_text(encoding="utf-8")
        ).items()
    ]
    pairs = {key: said for name, section in sections if name != "dative" for key, said in section.items()}
    dative = {key: said for name, section in sections if name == "dative" for key, said in section.items()}
    holed = [_Template(english, said) for english, said in pairs.items() if _HOLE.search(english)]
    holed.sort(key=lambda one: -sum(map(len, one.pieces)))
    plain = {english: said for english, said in pairs.items() if not _HOLE.search(english)}
    return _Table(language, plain, tuple(holed), dative)


def in_language(sentence: str, language: str = "en") -> str:
    """A sentence that the library wrote in English, said in the language.

    One that is no sentence of the library (a name, a text in that language already) stays as it is.
    """
    return said_in(sentence, language) or sentence


def said_in(sentence: str, language: str) -> str | None:
    """As ``in_language``; None where the sentence, or one of several on end, is none of the library's."""
    if language == "en" or not sentence.strip():
        return sentence
    return _said(sentence, language)


@lru_cache(maxsize=4096)
def _said(sentence: str, language: str) -> str | None:
    table = _table(language)
    found = _whole(sentence, table, _WITHIN)
    if found is not None:
        return found
    for end in reversed([match.start() + 1 for match in re.finditer(r"[.!?] ", sentence)]):
        first = _whole(sentence[:end], table, _WITHIN)
        if first is not None and (rest := _said(sentence[end + 1 :], language)) is not None:
            return f"{first} {rest}"
    found = _whole(sentence, table, _ANYTHING)
    if found is None and sentence[0].islower():
        # A reason within a sentence that stands in the tables as a sentence of its own.
        stop = "" if sentence.endswith(".") else "."
        found = _whole(f"{sentence[0].upper()}{sentence[1:]}{stop}", table, _WITHIN)
        return None if found is None else found.removesuffix(stop)
    return found


def _whole(sentence: str, table: _Table, text: str) -> str | None:
    """The sentence as one template of the table."""
    if sentence in table.plain:
        return table.plain[sentence]
    for template in table.holed:
        holes = template.find(sentence, text)
        if holes is not None:
            filled = {name: _filled(value, template.kinds[name], table) for name, value in holes.items()}
            if None not in filled.values():
                return _HOLE.sub(lambda hole, values=filled: str(values[hole[1]]), template.said)
    return None


def _filled(value: str, kind: str, table: _Table) -> str | None:
    """The content of a hole in the language; None where it had to be words of the tables and is none."""
    if kind == "#":
        return value.replace(".", phrase("number.decimal_mark", table.language))
    if not kind:
        return value
    said = _said(value, table.language) or _listed(value, kind, table)
    if kind == "^" and said is not None:
        for nominative, dative in table.dative.items():
            said = re.sub(rf"\b{nominative}\b", dative, said)
    return value if said is None and kind in "?!" else said


def _listed(value: str, kind: str, table: _Table) -> str | None:
    """Several words or names, each said by itself."""
    for separator, key in _SEPARATORS:
        if separator not in value:
            continue
        items = [_filled(item, kind, table) for item in value.split(separator)]
        if any(item is None for item in items):
            return None
        joint = phrase(key, table.language, first="\0", last="").replace("\0", "") if "and" in key else None
        return (joint or phrase(key, table.language)).join(str(item) for item in items)
    return None
