"""Texts of the pages in the language chosen, made harmless for places that read Markdown."""

from dashboard import state
from dashboard.plain import plain
from lapdelta.words import in_language, phrase, plural


def say(key: str, /, **values: object) -> str:
    """The text of the page, raw: for labels of widgets use ``mark``."""
    return phrase(f"ui.{key}", state.language(), **values)


def mark(key: str, /, **values: object) -> str:
    """The text of the page for places that read Markdown; values of files and users stay what they are."""
    return plain(say(key, **values))


def told(sentence: str) -> str:
    """A sentence that the library wrote, in the language and the units of the page; for Markdown see ``plain``."""
    return state.archive().units.said(in_language(sentence, state.language()))


def count(key: str, number: int, /, **values: object) -> str:
    """The text with a count, one or many, for places that read Markdown."""
    return plain(plural(f"ui.{key}", number, state.language(), **values))
