"""Bring in timing: upload, see what was understood, answer, keep. Nothing is written before "Keep"."""

from typing import TYPE_CHECKING

import streamlit as st

from dashboard import reading_files, state
from dashboard.card import show_error
from dashboard.just_written import keep_entries, written_just_now
from dashboard.launch import MAX_UPLOAD_MB
from dashboard.look import say_upload
from dashboard.on_the_page import mark_told
from dashboard.plain import plain
from dashboard.says import count, mark, say
from dashboard.understood import ask, by_hand, understood
from lapdelta.errors import OpenQuestions

if TYPE_CHECKING:
    from lapdelta import Reading

_LAST_CHANGES = 12


def show() -> None:
    """The page."""
    st.title(mark("page.bring"), anchor=False)
    if written_just_now("bring"):
        state.page_link("fitted", say("bring.next"))
    st.write(mark("bring.intro"))
    say_upload(say("bring.choose"), say("bring.limit", mb=MAX_UPLOAD_MB))
    turn = st.session_state.get("_round", 0)
    files = st.file_uploader(
        mark("bring.files"), accept_multiple_files=True, max_upload_size=MAX_UPLOAD_MB, key=f"files_{turn}"
    )
    with st.expander(mark("bring.recipe")):
        given = st.file_uploader(mark("bring.recipe.file"), type=["toml"], key=f"recipe_{turn}")
    recipe = reading_files.recipe_text(given.getvalue()) if given else None
    if files:
        _files(files, recipe, turn)
    _history()


def _files(files: list["reading_files.Uploaded"], recipe: str | None, turn: int) -> None:
    """Every file as understood, the event once for all, and the button that keeps them."""
    outcomes = reading_files.read_all(files, recipe)
    # Asked once for all files: a day's sessions often lie in a file each.
    hint = say("bring.event.hint" if len(files) == 1 else "bring.event.all")
    event = _event_field(mark("ask.event"), f"event_{turn}", hint)
    ready = [
        one
        for file, outcome in zip(files, outcomes, strict=True)
        if (one := _one_file(file, outcome, event, several=len(files) > 1)) is not None
    ]
    waiting = len(files) - len(ready)
    if waiting:
        st.warning(mark("bring.waiting", n=waiting, total=len(files)))
        if len(files) > 1 and any(outcome.error for outcome in outcomes):
            st.caption(mark("bring.take_out"))
    if st.button(count("bring.keep", len(files)), type="primary", disabled=bool(waiting), key="keep"):
        _keep(ready)


def _event_field(label: str, key: str, hint: str) -> str:
    return st.text_input(label, key=key, placeholder=hint, max_chars=80).strip()


def _one_file(
    file: "reading_files.Uploaded", outcome: "reading_files.Outcome", event: str, *, several: bool
) -> "tuple[Reading, str | None] | None":
    """What was understood of one file; the reading and the event it was given, if it can be kept."""
    with st.container(border=True):
        st.markdown(f"**{plain(file.name)}**")
        if outcome.error is not None:
            show_error(outcome.error)
            if outcome.answers:
                st.button(
                    mark("bring.again"),
                    key=f"again_{file.file_id}",
                    on_click=reading_files.forget,
                    args=(file,),
                )
            return None
        reading = outcome.reading
        if reading is None:
            return None
        understood(reading)
        by_hand(reading, file)
        if reading.questions:
            for question in reading.questions:
                ask(question, file)
            return None
        if not event and several and not _tells_its_event(reading):
            event = _event_field(mark("bring.event.this"), f"event_{file.file_id}", say("bring.event.day"))
        return (reading, event or None) if _event_known(reading, event) else None


def _tells_its_event(reading: "Reading") -> bool:
    try:
        state.archive().named(reading, None)
    except OpenQuestions:
        return False
    return True


def _event_known(reading: "Reading", event: str) -> bool:
    """True if the event is named or the file tells it; says under which it will be kept."""
    try:
        named = state.archive().named(reading, event or None)
    except OpenQuestions as error:
        st.info(f"{mark_told(error.what)} {mark('bring.event.above')}", icon=":material/help:")
        return False
    events: list[str] = named["event"].unique(maintain_order=True).to_list()
    st.caption(mark("bring.under", events=", ".join(events)))
    return True


def _keep(ready: "list[tuple[Reading, str | None]]") -> None:
    """Write all of them, remember the entries for undo, and start with an empty page."""
    entries: list[str] = []
    said: list[str] = []
    bar = st.progress(0.0)
    for place, (reading, event) in enumerate(ready):
        bar.progress(place / len(ready), mark("bring.keeping", name=reading.source_name))
        added = state.archive().add(reading, event=event)
        if added.entry is None:
            said.append(say("bring.already", name=reading.source_name))
            continue
        entries.append(added.entry)
        known = say("bring.known", n=added.laps_known) if added.laps_known else ""
        said.append(say("bring.added", name=reading.source_name, n=added.laps_added, known=known))
    keep_entries("bring", entries, *said)
    st.session_state["_round"] = st.session_state.get("_round", 0) + 1
    reading_files.clear()
    if entries:
        state.forget_question()
    st.rerun()


def _history() -> None:
    """The last changes of the archive, each with its way back."""
    history = state.archive().history().reverse().head(_LAST_CHANGES)
    if history.is_empty():
        return
    with st.expander(mark("bring.history")):
        _check()
        for row in history.iter_rows(named=True):
            st.markdown(mark_told(f"{row['what']}") + plain(f" ({row['at']:%Y-%m-%d %H:%M} UTC)"))
            if not row["undone"] and st.button(mark("bring.take_back"), key=f"undo_{row['entry']}"):
                state.archive().undo(row["entry"], why="undone on the page")
                st.rerun()


def _check() -> None:
    """Whether all that was kept is as it was written."""
    if not st.button(mark("bring.check"), key="bring_check"):
        return
    wrong = state.archive().check()
    for error in wrong:
        show_error(error)
    if not wrong:
        st.success(mark("bring.check.fine"), icon=":material/check:")
