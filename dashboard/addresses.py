"""The address of each page: its title as people would type it, in any of our languages, or its short name."""

import re
import unicodedata
from functools import cache
from typing import Final

from dashboard.views import PAGES
from lapdelta.words import LANGUAGES, phrase

#: The page under ``/``.
FIRST: Final = "help"
#: Addresses that earlier versions showed: people keep them.
_FORMER: Final = {"bring-in": "bring"}
#: Letters that an address spells out.
_SPELLED_OUT: Final = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "ß": "ss"})


def address(name: str, language: str = "en") -> str:
    """The title in small letters, its words joined by hyphens: ``did-it-help``."""
    title = phrase(f"ui.page.{name}", language).lower().translate(_SPELLED_OUT)
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode()
    return "-".join(re.findall(r"[a-z0-9]+", plain))


@cache
def other_addresses() -> dict[str, str]:
    """Address -> short name of its page, for those that lead on to the one that the browser then shows."""
    typed = {address(name, language): name for language in LANGUAGES for name in PAGES}
    typed |= {name: name for name in PAGES} | _FORMER
    shown = {address(name) for name in PAGES if name != FIRST}
    return {text: name for text, name in typed.items() if text not in shown}
