"""Text as it may stand on a page or in a picture."""

import unicodedata


def printable(text: str) -> str:
    """Without control and other characters that XML cannot hold; white space becomes a space."""
    kept = (" " if character.isspace() else character for character in text)
    return "".join(c for c in kept if unicodedata.category(c) not in ("Cc", "Cs", "Cn", "Co", "Cf"))


def capital(text: str) -> str:
    """The text with a capital in front, as the first word of a line."""
    return text[:1].upper() + text[1:]
