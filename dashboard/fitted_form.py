"""One session of the setup sheet in plain widgets: what is not touched stays as it was before."""

import re
from typing import Any, Final

import polars as pl
import streamlit as st

from dashboard import own_units, state
from dashboard.card import show_error
from dashboard.just_written import keep_entries
from dashboard.plain import plain
from dashboard.says import mark, say
from lapdelta.errors import SetupError
from lapdelta.setups import parse_setup, same_as_before, setup_row
from lapdelta.setups.fields import BY_COLUMN
from lapdelta.words import in_digits

#: What most change from session to session, then the rest; wheels of an axle share a field, left / right.
_OFTEN: Final = (
    "engine_teeth",
    "axle_teeth",
    "front",
    "rear",
    "tyre_set",
    "track_state",
    "air_temperature_c",
)
_SELDOM: Final = (
    "chain_links", "chain_pitch_mm", "tyre_laps", "total_weight_kg", "ballast_kg", "carburettor", "fuel",
    "track_temperature_c", "notes",
)  # fmt: skip
_WHEELS: Final = {
    "front": ("pressure_front_left_bar", "pressure_front_right_bar"),
    "rear": ("pressure_rear_left_bar", "pressure_rear_right_bar"),
}
#: A further entry as the field shows it.
_QUOTED: Final = re.compile(r'\s*([^="]+?)="([^"]*)"')
TRACK_STATES: Final = ("dry", "damp", "wet")


def fill_in(event: str, kart: str, driven: list[str], session: str) -> None:
    """The form of one session; written only when everything in it can be read."""
    start, source = _start(event, kart, driven, session)
    st.header(mark("fitted.title", session=session), anchor=False)
    st.caption(plain(source))
    with st.form(f"setup_{event}_{kart}_{session}", border=True):
        place = f"fit_{event}_{kart}_{session}{own_units.unit_tag()}"
        typed = _fields(start, place)
        wish, expected = _meant(place)
        if not st.form_submit_button(mark("fitted.write", session=session), type="primary"):
            return
    try:
        values = _read(typed, start)
    except SetupError as error:
        show_error(error)
        return
    _write(event, kart, session, values, wish, expected)


def _start(event: str, kart: str, driven: list[str], session: str) -> tuple[dict[str, Any], str]:
    """What the fields start with, and where that comes from."""
    sheet = state.archive().setups
    rows = sheet.filter(
        pl.col("event") == event, pl.col("kart") == kart, pl.col("session") == session
    ).to_dicts()
    if rows:
        return rows[0], say("fitted.from.written")
    try:
        before = same_as_before(sheet, driven, event, session, kart)
    except SetupError:
        return {}, say("fitted.from.nothing")
    return before, say("fitted.from.before")


def _fields(start: dict[str, Any], place: str) -> dict[str, str]:
    """What stands in each field, as typed."""
    typed: dict[str, str] = {}
    # Two by two on a laptop; on a phone one below the other, in this order.
    for first in range(0, len(_OFTEN), 2):
        for column, name in zip(st.columns(2), _OFTEN[first : first + 2], strict=False):
            with column:
                typed[name] = _field(name, start, place)
    with st.expander(mark("fitted.more")):
        for name in _SELDOM:
            typed[name] = _field(name, start, place)
        typed["other"] = st.text_input(
            mark("fitted.other"), value=_others(start), key=f"{place}_other", help=mark("fitted.other.help")
        )
    return typed


def _field(name: str, start: dict[str, Any], place: str) -> str:
    label, key = _pressures(name) if name in _WHEELS else plain(own_units.label(name)), f"{place}_{name}"
    value = _text(name, start)
    if name in ("engine_teeth", "axle_teeth"):
        field = BY_COLUMN[name]
        low, high = int(field.low or 0), int(field.high or 0)
        teeth = st.number_input(
            label, min_value=low, max_value=high, value=int(value) if value else None, step=1, key=key
        )
        return "" if teeth is None else str(teeth)
    if name == "track_state" and value in ("", *TRACK_STATES):
        return (
            st.pills(
                label,
                TRACK_STATES,
                default=value or None,
                key=key,
                format_func=lambda word: say(f"track.{word}"),
            )
            or ""
        )
    return st.text_input(label, value=value, key=key, max_chars=300)


def _pressures(name: str) -> str:
    """The name of the field for both wheels of an axle, with the unit of a bare number."""
    own = state.archive().units.pressure
    said = say(f"field.{name}")
    return plain(said if own == "bar" else re.sub(r"bar \w+ psi", own, said))


def _text(name: str, start: dict[str, Any]) -> str:
    """A value as the field shows it; both wheels of an axle in one, left / right where they differ."""
    if name in _WHEELS:
        sides = [_plainly(column, start.get(column)) for column in _WHEELS[name]]
        return sides[0] if sides[0] == sides[1] else "/".join(sides)
    return _plainly(name, start.get(name))


def _plainly(column: str, value: Any) -> str:
    value = own_units.shown(column, value)
    if isinstance(value, float):
        return in_digits(f"{value:g}", state.language())
    return "" if value is None else str(value)


def _others(start: dict[str, Any]) -> str:
    return " ".join(f'{pair["key"]}="{pair["value"]}"' for pair in start.get("other") or ())


def _read(typed: dict[str, str], start: dict[str, Any]) -> dict[str, Any]:
    """Fields as columns of the sheet; a field that was emptied gives None, one that was never filled nothing.

    A field left as it was keeps its value to the last digit, whatever unit it was shown in.
    """
    fields = {name: text.strip() for name, text in typed.items() if name != "other"}
    touched = [name for name, text in fields.items() if text != _text(name, start)]
    kept = [column for name in fields if name not in touched for column in _WHEELS.get(name, (name,))]
    values = {column: start[column] for column in kept if start.get(column) is not None}
    values |= parse_setup([f"{name}={fields[name]}" for name in touched], state.archive().units)
    return values | _other_read(typed["other"], start)


def _other_read(text: str, start: dict[str, Any]) -> dict[str, Any]:
    """Further entries; one that was taken out of the field is emptied.

    Names may have spaces where every value stands in quotes, as the field shows them.
    """
    quoted = _QUOTED.findall(text) if re.fullmatch(rf"(?:{_QUOTED.pattern})*\s*", text) else []
    row = parse_setup([f"{key}={value}" for key, value in quoted] or text, state.archive().units)
    pairs: list[dict[str, str]] = row.pop("other", [])
    told = {pair["key"] for pair in pairs}
    pairs += [{"key": one["key"], "value": ""} for one in start.get("other") or () if one["key"] not in told]
    return row | {"other": pairs} if pairs else row


def _meant(place: str) -> tuple[str, str | None]:
    """What the change is meant to do, before the session; both may stay empty."""
    with st.expander(mark("fitted.meant")):
        wish = st.text_input(mark("look.wish"), key=f"{place}_wish", max_chars=200)
        expected = st.pills(
            mark("fitted.expected"), ("faster", "slower", "no difference"), key=f"{place}_expected",
            format_func=lambda way: say(f"expected.{way.replace(' ', '_')}"),
        )  # fmt: skip
    return wish.strip(), expected


def _write(
    event: str, kart: str, session: str, values: dict[str, Any], wish: str, expected: str | None
) -> None:
    """Keep the entry, and what the change is meant to do where that was said; then on to the next session."""
    cleared = [name for name, value in values.items() if value is None]
    row = setup_row(event, session, kart, values)
    entries = [state.archive().put_setups(row, "typed on the page", clear=cleared)]
    if wish or expected:
        question: dict[str, Any] = {
            "after": [session],
            "measure": "lap_time",
            "wish": wish or None,
            "expected": expected,
        }
        entries.append(state.archive().put_question(event, kart=kart, **question))
    keep_entries("fitted", entries, say("fitted.written", session=session, event=event))
    # The picker goes on to the next session without an entry.
    for name in (f"fitted_session_{event}_{kart}", f"fitted_coming_{event}_{kart}"):
        st.session_state.pop(name, None)
    st.rerun()
