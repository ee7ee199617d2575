"""One writer at a time: a lock on a file that the system drops by itself when a program dies."""

import random
import sys
import time
from collections.abc import Callable, Generator
from contextlib import contextmanager
from functools import wraps
from pathlib import Path
from typing import IO, ParamSpec, TypeVar

from lapdelta.archive.durable import plainly
from lapdelta.errors import ArchiveError

#: How long a change waits for another program's change, in s. An import of a large file takes seconds.
PATIENCE_S = 120.0

_PAUSE_S = 0.005

#: How often a change is tried where there is no lock to wait for.
_TRIES = 8

P = ParamSpec("P")
R = TypeVar("R")

if sys.platform == "win32":
    import msvcrt

    def _try(file: IO[bytes]) -> bool:
        try:
            file.seek(0)
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

    def _release(file: IO[bytes]) -> None:
        file.seek(0)
        msvcrt.locking(file.fileno(), msvcrt.LK_UNLCK, 1)

else:
    import fcntl

    def _try(file: IO[bytes]) -> bool:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True

    def _release(file: IO[bytes]) -> None:
        fcntl.flock(file, fcntl.LOCK_UN)


class ArchiveBusy(ArchiveError):  # noqa: N818 - a state, not a failure
    """Another program is writing to the archive."""

    @staticmethod
    def after(patience_s: float, where: str) -> "ArchiveBusy":
        """The error, with how long was waited and for what."""
        return ArchiveBusy(
            f"Another program has been writing to this archive for more than {patience_s:.0f} s.",
            "Wait until it has finished, or close it, and do it again.",
            where,
        )


class Overtaken(ArchiveBusy):
    """Another program changed an archive that has no lock while this change was made."""

    @staticmethod
    def at(where: str) -> "Overtaken":
        """The error, with the place."""
        return Overtaken(
            "Somebody else changed the archive meanwhile. Nothing of this change was kept.",
            "Do it again.",
            where,
        )


def in_turn(change: Callable[P, R]) -> Callable[P, R]:
    """Do a whole change again, on the archive as it is by then, when somebody else was quicker."""

    @wraps(change)
    def patient(*args: P.args, **kwargs: P.kwargs) -> R:
        for tried in range(1, _TRIES):
            try:
                return change(*args, **kwargs)
            except Overtaken:
                time.sleep(random.uniform(0, _PAUSE_S * 2**tried))
        return change(*args, **kwargs)

    return patient


@contextmanager
def locked(path: Path, patience_s: float = PATIENCE_S) -> Generator[None]:
    """Hold the lock on ``path`` (made if missing), waiting up to ``patience_s``.

    Raises:
        ArchiveBusy: another program held it all that time.
        ArchiveError: the lock's file cannot be made.
    """
    until = time.monotonic() + patience_s
    with plainly(path):
        opened = path.open("ab")
    with opened as file:
        while not _try(file):
            if time.monotonic() >= until:
                raise ArchiveBusy.after(patience_s, str(path.parent))
            time.sleep(_PAUSE_S)
        try:
            yield
        finally:
            _release(file)
