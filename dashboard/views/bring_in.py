"""Bring in timing: upload, see what was understood, answer, keep. Nothing is written before "Keep"."""

import hashlib
from typing import TYPE_CHECKING, Any

import polars as pl
import streamlit as st

import lapdelta
from dashboard import state
from dashboard.card import show_error
from dashboard.launch import MAX_UPLOAD_MB
from dashboard.plain import plain
from lapdelta.errors import LapdeltaError, OpenQuestions

if TYPE_CHECKING:
    from lapdelta import Reading

_PREVIEW_LAPS = 50


def show() -> None:
    """The page."""
    st.title("Bring in timing")
    _kept_just_now()
    st.write("Any CSV of laps: one or several files, in any language. Nothing is kept before you say so.")
    files = st.file_uploader(
        "Timing files", accept_multiple_files=True, max_upload_size=MAX_UPLOAD_MB,
        key=f"files_{st.session_state.get('_round', 0)}",
    )  # fmt: skip
    if not files:
        return
    ready: list[tuple[Reading, str | None]] = []
    for file in files:
        with st.container(border=True):
            reading_and_event = _one_file(file.name, file.getvalue())
        if reading_and_event is not None:
            ready.append(reading_and_event)
    waiting = len(files) - len(ready)
    if waiting:
        st.warning(f"{waiting} of {len(files)} files still need something from you, see above.")
    label = "Keep this file" if len(files) == 1 else f"Keep these {len(files)} files"
    if st.button(label, type="primary", disabled=bool(waiting)):
        _keep(ready)


def _one_file(name: str, data: bytes) -> "tuple[Reading, str | None] | None":
    """What was understood of one file; the reading and its event if it can be kept."""
    st.markdown(f"**{plain(name)}**")
    key = hashlib.sha256(name.encode() + b"\0" + data).hexdigest()[:16]
    try:
        reading = _read(data, name, tuple(sorted(_answers(key).items())))
    except LapdeltaError as error:
        show_error(error)
        return None
    except ValueError as error:
        # An answer that cannot be: say so and ask again.
        _answers(key).clear()
        st.error(plain(error), icon=":material/error:")
        st.button("Answer again", key=f"again_{key}")
        return None
    _understood(reading)
    if reading.questions:
        for question in reading.questions:
            _ask(question, key)
        return None
    event = _event(reading, key)
    return None if event is False else (reading, event or None)


@st.cache_data(show_spinner="Reading ...", max_entries=32)
def _read(data: bytes, name: str, answers: tuple[tuple[str, str], ...]) -> "Reading":
    return lapdelta.read_timing(data, name=name, answers=dict(answers) or None)


def _answers(key: str) -> dict[str, str]:
    """Answers given so far for one file, by question."""
    return st.session_state.setdefault("_answers", {}).setdefault(key, {})


def _understood(reading: "Reading") -> None:
    """Laps, sessions, karts and the account of lines; columns, preview and rows set aside to open."""
    laps, account = reading.laps, reading.account
    sessions: list[str] = laps["session"].unique(maintain_order=True).to_list()
    known = sum(account["known"].values())
    count = "1 session" if len(sessions) == 1 else f"{len(sessions)} sessions"
    st.markdown(
        f"{account['laps']} laps of {laps['kart'].n_unique()} karts in {count} "
        f"({plain(', '.join(sessions))})  \n{account['lines']} lines = {account['lap_lines']} with laps "
        f"+ {known} other known lines + {account['set_aside_lines']} set aside"
    )
    for note in reading.notes:
        st.caption(plain(note))
    with st.expander("How each column was read"):
        columns: list[dict[str, Any]] = [dict(column) for column in reading.columns]
        st.dataframe(pl.DataFrame(columns, strict=False, infer_schema_length=None), hide_index=True)
    with st.expander("The first laps as we understood them"):
        st.dataframe(_without_empty(laps.head(_PREVIEW_LAPS)), hide_index=True)
    if reading.set_aside.height:
        with st.expander(f"Set aside: {reading.set_aside.height}, each with its line and reason"):
            st.dataframe(reading.set_aside, hide_index=True)


def _without_empty(laps: pl.DataFrame) -> pl.DataFrame:
    """Only columns that hold something, so that a phone shows what there is."""
    return laps.select([name for name in laps.columns if laps[name].null_count() < laps.height])


def _ask(question: Any, key: str) -> None:
    """One open question; an answer is taken at once and the file read again."""
    widget = f"answer_{key}_{question.key}"
    if question.options:
        given = st.radio(plain(question.text), question.options, index=None, key=widget, format_func=plain)
    else:
        given = st.text_input(plain(question.text), key=widget) or None
    if given and _answers(key).get(question.key) != given:
        _answers(key)[question.key] = given
        st.rerun()


def _event(reading: "Reading", key: str) -> str | bool:
    """The event as the user names it ("" = as the file tells); False while it has to be named."""
    from lapdelta.archive import event_laps

    given = st.text_input(
        "Event", key=f"event_{key}", placeholder="the date and track in the file", max_chars=80
    )
    given = given.strip()
    try:
        named = event_laps(reading, given or None)
    except OpenQuestions as error:
        st.info(plain(error.what), icon=":material/help:")
        return False
    events: list[str] = named["event"].unique(maintain_order=True).to_list()
    st.caption(f"Will be kept under: {plain(', '.join(events))}")
    return given


def _keep(ready: "list[tuple[Reading, str | None]]") -> None:
    """Write all of them, remember the entries for undo, and start with an empty page."""
    entries: list[str] = []
    said: list[str] = []
    for reading, event in ready:
        added = state.archive().add(reading, event=event)
        if added.entry is None:
            said.append(f"{reading.source_name}: in the archive already, nothing added.")
            continue
        entries.append(added.entry)
        known = f", {added.laps_known} were there already" if added.laps_known else ""
        said.append(f"{reading.source_name}: {added.laps_added} laps kept{known}.")
    st.session_state["_kept"] = (entries, said)
    st.session_state["_round"] = st.session_state.get("_round", 0) + 1
    st.rerun()


def _kept_just_now() -> None:
    """What was kept last, the way back, and the next step."""
    kept: tuple[list[str], list[str]] | None = st.session_state.get("_kept")
    if kept is None:
        return
    entries, said = kept
    st.success("  \n".join(plain(line) for line in said), icon=":material/check:")
    if entries and st.button("Undo"):
        for entry in reversed(entries):
            state.archive().undo(entry, why="undone on the page")
        del st.session_state["_kept"]
        st.rerun()
    state.page_link("help", "Next: did it help?")
