"""Text from files and users, made harmless for places that read it as Markdown."""

import re

from lapdelta.words.printing import printable

_MEANINGFUL = re.compile(r"([\\`*_{}\[\]()#+\-.!|~<>$:&])")


def plain(text: object) -> str:
    """The text as it is, whatever Markdown, HTML, formula or picture link it holds."""
    return _MEANINGFUL.sub(r"\\\1", printable(str(text)))
