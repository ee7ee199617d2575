"""Looking up a phrase in a language: one more language is one more file and one more line here."""

from collections.abc import Mapping, Sequence
from typing import Final

from lapdelta.words import english, english_pages, english_season, german, german_pages, german_season

#: Texts by language code. Every language has exactly the keys and the placeholders of English (tested).
LANGUAGES: Final[Mapping[str, Mapping[str, str]]] = {
    "en": {**english.TEXTS, **english_pages.TEXTS, **english_season.TEXTS},
    "de": {**german.TEXTS, **german_pages.TEXTS, **german_season.TEXTS},
}


def phrase(key: str, language: str = "en", /, **values: object) -> str:
    """The text of ``key`` with its placeholders filled.

    KeyError for an unknown language, key or placeholder: a sentence with a hole is never shown.
    Values are put in as they are and never looked at for placeholders again.
    """
    return LANGUAGES[language][key].format_map({name: str(value) for name, value in values.items()})


def number_word(number: int, language: str = "en") -> str:
    """A small whole number in words (0..12), digits above."""
    words = phrase("number.words", language).split()
    return words[number] if 0 <= number < len(words) else str(number)


def plural(key: str, count: int, language: str = "en", /, **values: object) -> str:
    """The phrase ``key.one`` or ``key.many``, with ``n`` filled in."""
    form = "one" if count == 1 else "many"
    return phrase(f"{key}.{form}", language, n=count, **values)


def join(items: Sequence[str], language: str = "en") -> str:
    """Items with commas and a last "and"."""
    if len(items) < 2:
        return "".join(items)
    return phrase("list.and", language, first=phrase("list.comma", language).join(items[:-1]), last=items[-1])
