"""What a reading is: laps, rows set aside, questions, the line account and how every column was read."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import polars as pl

from lapdelta.reading.recipe import Recipe
from lapdelta.reading.source import Source


@dataclass(frozen=True)
class Question:
    """Something the file does not tell.

    Attributes:
        key: the key of the answer (``kart``, ``day_order``, ``column:<header>``, ...).
        text: the question in plain words.
        options: the possible answers; empty means free text.
    """

    key: str
    text: str
    options: tuple[str, ...] = ()


@dataclass(frozen=True)
class Reading:
    """One timing file as we understood it.

    Attributes:
        laps: ``tables.LAPS``, in file order; laps that wait for an answer are not in it.
        set_aside: ``tables.SET_ASIDE``; ``column`` null means the whole line.
        questions: open questions; not empty means laps that hang on them are left out.
        account: lines, lap_lines, laps, known {kind: count}, set_aside_lines, set_aside_cells, where
            lines = lap_lines + sum(known) + set_aside_lines.
        recipe: the answers remembered, and how every column was read.
        source_name: base name of the file.
        sha256: of the original bytes.
        source: where the bytes came from; ``data`` gives the original bytes.
        facts: what lines outside the tables said (track, date, session, title, ...), and the answers
            ``event`` and ``date``.
        columns: header, meaning, unit and note of every column, in file order.
        encoding: of the text.
        notes: plain sentences of what was decided, for the screen.
    """

    laps: pl.DataFrame
    set_aside: pl.DataFrame
    questions: tuple[Question, ...]
    account: dict[str, Any]
    recipe: Recipe
    source_name: str
    sha256: str
    source: Source = field(repr=False)
    facts: dict[str, str]
    columns: tuple[dict[str, str], ...]
    encoding: str
    notes: tuple[str, ...]

    @property
    def data(self) -> bytes:
        """The original bytes; those of a large file are read again.

        Raises:
            UnreadableFile: a large file was moved or changed since it was read.
        """
        return self.source.data

    def blocks(self) -> Iterator[bytes]:
        """The original bytes a block at a time, as ``data`` gives them, but never held as a whole."""
        return self.source.blocks()
