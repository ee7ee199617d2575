"""Uploaded files read once each, with what was answered so far and what kept files of their kind tell."""

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

import streamlit as st

from dashboard import state
from dashboard.says import mark
from lapdelta.errors import LapdeltaError, UnreadableFile

if TYPE_CHECKING:
    from streamlit.runtime.uploaded_file_manager import UploadedFile

    from lapdelta import Reading

    Uploaded = UploadedFile

_READINGS: Final = "_readings"
_ANSWERS: Final = "_answers"
_MEGABYTE: Final = 1_000_000


@dataclass(frozen=True)
class Outcome:
    """One file: its reading, or why there is none; with the answers that it was read with."""

    reading: "Reading | None"
    error: LapdeltaError | None
    answers: dict[str, str] = field(default_factory=dict)


def read_all(files: "list[Uploaded]", recipe: str | None) -> list[Outcome]:
    """Every file, in order; what was read before is kept, so a click reads only what it changes."""
    kept: dict[Any, Outcome] = st.session_state.setdefault(_READINGS, {})
    keys = [_key(file, recipe) for file in files]
    missing = [place for place, key in enumerate(keys) if key not in kept]
    if missing:
        bar = st.progress(0.0)
        for done, place in enumerate(missing):
            file = files[place]
            text = mark("bring.reading", name=file.name, mb=f"{file.size / _MEGABYTE:.1f}")
            bar.progress(done / len(missing), text)
            with st.spinner(text, show_time=True):
                kept[keys[place]] = _read(file, recipe)
        bar.empty()
    found = [kept[key] for key in keys]
    st.session_state[_READINGS] = dict(zip(keys, found, strict=True))
    return found


def _key(file: "Uploaded", recipe: str | None) -> tuple[Any, ...]:
    return file.file_id, recipe, tuple(sorted(answers(file).items()))


def _read(file: "Uploaded", recipe: str | None) -> Outcome:
    from lapdelta.archive.remembered import read_with_memory

    given = dict(answers(file))
    try:
        reading = read_with_memory(
            file.getvalue(), state.archive(), name=file.name, recipe=recipe, answers=given or None
        )
    except LapdeltaError as error:
        return Outcome(None, error, given)
    except ValueError as error:
        # An answer or a recipe that cannot be: say so; nothing else is lost.
        return Outcome(None, UnreadableFile(str(error), mark("bring.mend"), file.name), given)
    return Outcome(reading, None, given)


def recipe_text(data: bytes) -> str:
    """The text of a file recipe; bytes that are no text make one that says so."""
    return data.decode("utf-8", errors="replace")


def answers(file: "Uploaded") -> dict[str, str]:
    """Answers given so far for one file, by question."""
    return st.session_state.setdefault(_ANSWERS, {}).setdefault(file.file_id, {})


def forget(file: "Uploaded") -> None:
    """Ask everything about the file again."""
    answers(file).clear()


def clear() -> None:
    """Let go of what was read: it is kept now."""
    st.session_state[_READINGS] = {}
    st.session_state[_ANSWERS] = {}
