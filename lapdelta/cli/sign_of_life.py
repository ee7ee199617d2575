"""A word on the terminal while a command takes its time; nothing where nobody looks, or in a file."""

import sys
import threading
from collections.abc import Generator
from contextlib import contextmanager

#: Seconds of silence before the first word, and between the words after it.
FIRST_S, NEXT_S = 1.0, 10.0

_quiet = threading.Event()


@contextmanager
def sign_of_life(first_s: float = FIRST_S, next_s: float = NEXT_S) -> Generator[None]:
    """Say on stderr, if that is a terminal, that work goes on; until the block ends or ``be_quiet`` is called.

    Args:
        first_s: seconds before the first word.
        next_s: seconds between the words after it.
    """
    _quiet.clear()
    if not sys.stderr.isatty():
        yield
        return
    speaker = threading.Thread(target=_speak, args=(first_s, next_s), daemon=True)
    speaker.start()
    try:
        yield
    finally:
        be_quiet()
        speaker.join()


def be_quiet() -> None:
    """No more words: the command shows its own progress, or is done."""
    _quiet.set()


def _speak(first_s: float, next_s: float) -> None:
    waited = first_s
    if _quiet.wait(first_s):
        return
    print("Working ...", file=sys.stderr, flush=True)
    while not _quiet.wait(next_s):
        waited += next_s
        print(f"Still working, {waited:.0f} s ... (Ctrl-C stops it)", file=sys.stderr, flush=True)
