"""Errors as facts: what was seen, where, and how to mend it. The sentence is made late.

Command line and dashboard render the same object; ``--json`` prints ``to_dict()``.
"""

from typing import Any


class LapdeltaError(Exception):
    """Base of all our own errors.

    Attributes:
        what: what was seen, one plain sentence.
        where: file, line, column, session or option it was seen in; None if it has no place.
        mend: what to do about it, one plain sentence.
    """

    def __init__(self, what: str, mend: str, where: str | None = None) -> None:
        """Keep the facts; the sentence is made when somebody asks for it."""
        super().__init__(what, mend, where)
        self.what = what
        self.mend = mend
        self.where = where

    def __str__(self) -> str:
        """Two plain sentences, with the place in front if there is one."""
        place = f"{self.where}: " if self.where else ""
        return f"{place}{self.what} {self.mend}"

    def to_dict(self) -> dict[str, Any]:
        """``{"what", "where", "mend"}``, the object that ``--json`` prints under ``error``."""
        return {"what": self.what, "where": self.where, "mend": self.mend}


class UnreadableFile(LapdeltaError):  # noqa: N818 - the public name says it
    """A timing file that cannot be read at all: missing, empty, binary, too large, no laps in it."""


class QuestionError(LapdeltaError, ValueError):
    """A question that cannot be asked of these laps: unknown kart, session or measure, bad margin."""


class SetupError(LapdeltaError, ValueError):
    """A setup entry with a value that cannot be, or for a session nobody knows."""


class ArchiveError(LapdeltaError):
    """The archive cannot be opened, written, or holds something it should not."""


class OpenQuestions(LapdeltaError, ValueError):  # noqa: N818 - a state, not a failure
    """A reading whose questions are still open was to be kept.

    Attributes:
        questions: the open questions, each with ``key``, ``text`` and ``options``.
    """

    def __init__(
        self, what: str, mend: str, where: str | None = None, questions: tuple[Any, ...] = ()
    ) -> None:
        """Keep the facts and the questions."""
        super().__init__(what, mend, where)
        self.questions = questions


def in_digits(number: float) -> str:
    """A number for a sentence of an error: six digits of it, and never as 1e+06."""
    short = f"{number:g}"
    return f"{number:.9f}".rstrip("0").rstrip(".") if "e" in short else short
