"""Options that take one or more sessions: ``--before P1 P4``, ``--before P1 --before P4``, ``--before P1,P4``."""

from collections.abc import Iterable, Sequence

import click


def spelled_out(words: Sequence[str], many: Sequence[str], ctx: click.Context | None = None) -> list[str]:
    """The words of a call with the name of an option of ``many`` before each of its words."""
    out: list[str] = []
    option: str | None = None
    fresh = False
    for word in words:
        if option and fresh and word.startswith("--"):
            raise click.UsageError(f"{option} needs at least one value behind it.", ctx)
        if word in many:
            option, fresh = word, True
            out.append(word)
        elif word.startswith("--"):
            option = None
            out.append(word)
        elif option and not fresh:
            out += [option, word]
        else:
            out.append(word)
            fresh = False
    return out


def split_labels(words: Iterable[str], known: Iterable[str]) -> list[str]:
    """Session labels from the words of an option.

    A word that is a label of its own stays whole, commas and all; any other is split at its commas. The
    number of a session is enough where only one has it.
    """
    from lapdelta.asking.which import session_meant

    labels = list(known)
    out: list[str] = []
    for word in words:
        parts = [word] if word in labels else [part.strip() for part in word.split(",") if part.strip()]
        out += [session_meant(labels, part) for part in parts]
    return out
