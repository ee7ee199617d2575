"""What outlives a click and a reload: the archive once opened, what was read of it, and the answers given.

A page is drawn anew at every click. One user, one machine, so one memory for each archive's folder.
"""

import threading
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import replace
from functools import cache, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import polars as pl

import lapdelta
from dashboard.question import Question, with_margin
from lapdelta.archive import Archive, default_folder
from lapdelta.errors import LapdeltaError

if TYPE_CHECKING:
    from lapdelta import Finding

#: Tables larger than this are read again rather than held: a season has some 10^4 laps.
_MOST_ROWS: Final = 500_000
_MOST_ANSWERS: Final = 64


class KeptArchive(Archive):
    """An archive whose reads are kept until anybody changes it, also from another program."""

    def __init__(self, folder: str | Path | None) -> None:
        """Open it; nothing is read yet."""
        super().__init__(folder)
        self._seen: tuple[int, dict[Any, pl.DataFrame]] = (-1, {})

    def laps(self, event: str | None = None, *, with_set_aside: bool = False) -> pl.DataFrame:
        """As ``Archive.laps``."""
        return self._once(
            ("laps", event, with_set_aside), lambda: Archive.laps(self, event, with_set_aside=with_set_aside)
        )

    def laps_of(self, events: Sequence[str]) -> pl.DataFrame:
        """As ``Archive.laps_of``."""
        return self._once(("laps of", *events), lambda: Archive.laps_of(self, events))

    def sessions(self, event: str | None = None) -> pl.DataFrame:
        """As ``Archive.sessions``."""
        return self._once(("sessions", event), lambda: Archive.sessions(self, event))

    @property
    def setups(self) -> pl.DataFrame:
        """As ``Archive.setups``."""
        return self._once("setups", lambda: Archive.setups.__get__(self))

    @property
    def events(self) -> pl.DataFrame:
        """As ``Archive.events``."""
        return self._once("events", lambda: Archive.events.__get__(self))

    @property
    def questions(self) -> pl.DataFrame:
        """As ``Archive.questions``."""
        return self._once("questions", lambda: Archive.questions.__get__(self))

    def lap_lengths(self) -> pl.DataFrame:
        """As ``parts_table.lap_lengths``."""
        from lapdelta.archive.parts_table import lap_lengths

        return self._once("lap lengths", lambda: lap_lengths(self.folder))

    def _once(self, key: Any, read: Callable[[], pl.DataFrame]) -> pl.DataFrame:
        # Entries are only ever added, so their number tells whether anything has changed.
        now = self.history().height
        if self._seen[0] != now:
            self._seen = (now, {})
        kept = self._seen[1]
        if key in kept:
            return kept[key]
        found = read()
        if found.height <= _MOST_ROWS:
            kept[key] = found
        return found


@cache
def archive_of(folder: str | None) -> KeptArchive:
    """The archive in that folder, opened once; the usual one for None.

    Raises:
        ArchiveError: as ``Archive``; then it is tried again the next time.
    """
    return KeptArchive(Path(folder) if folder else default_folder())


@cache
def memory_of(folder: str) -> dict[str, Any]:
    """What the pages of an archive remember across reloads."""
    del folder
    return {}


def answer_of(archive: KeptArchive, asked: Question) -> "Finding":
    """The answer, by the same function as the command line; it counts as asked, and is computed once."""
    finding = _answer(archive, asked, archive.history().height, lapdelta.__version__)
    _count(archive, replace(asked, margin=None), finding)
    return finding


@lru_cache(maxsize=_MOST_ANSWERS)
def _answer(archive: KeptArchive, asked: Question, changes: int, program_version: str) -> "Finding":
    """A finding is frozen, so it is kept as it is. The last two only say when it is out of date."""
    from lapdelta.asking.archive_question import ask

    del changes, program_version
    return ask(
        archive,
        event=asked.event,
        kart=asked.kart,
        before=asked.before,
        after=asked.after,
        measure=asked.measure,
        margin=asked.margin,
        use_history=asked.history,
        count=False,
    )


def _count(archive: KeptArchive, asked: Question, finding: "Finding") -> None:
    """Count the question among the season's, once for each start of the program."""
    from lapdelta.asking.beside import record

    counted: set[Question] = memory_of(str(archive.folder)).setdefault("_counted", set())
    if asked not in counted:
        record(archive, finding)
        counted.add(asked)


def think_ahead(archive: KeptArchive, asked: Question, measures: Sequence[str]) -> None:
    """Compute the answers of the other measures while the first is being read; none is shown, none counts."""
    changes = archive.history().height
    begun: set[Any] = memory_of(str(archive.folder)).setdefault("_begun", set())
    about = (replace(asked, measure="", margin=None), changes)
    if about in begun:
        return
    begun.add(about)

    def think() -> None:
        # What is wrong with a question is said when it is asked.
        with suppress(LapdeltaError):
            for measure in measures:
                question = with_margin(archive, replace(asked, measure=measure, margin=None))
                if question is not None:
                    _answer(archive, question, changes, lapdelta.__version__)

    threading.Thread(target=think, daemon=True).start()
