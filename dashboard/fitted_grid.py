"""The setup sheet of a day as one table, for those who like it; every field is also reachable without it."""

from typing import Any, Final

import polars as pl
import streamlit as st

from dashboard import own_units, state
from dashboard.card import show_error
from dashboard.fitted_form import TRACK_STATES
from dashboard.just_written import keep_entries
from dashboard.says import mark, say
from dashboard.shown import cell, table
from lapdelta.errors import SetupError
from lapdelta.setups import natural, validate
from lapdelta.tables import SETUPS

_KEY: Final = ("event", "session", "kart")


def as_table(event: str, kart: str, driven: list[str]) -> None:
    """What is written down for this kart and day; editable in a grid."""
    sheet = _sheet(event, kart, driven)
    if sheet.is_empty():
        return
    names = [
        name for name in sheet.columns if name not in (*_KEY, "other") and sheet[name].drop_nulls().len()
    ]
    same = [name for name in names if sheet[name].n_unique() == 1]
    rows = [
        {say("fitted.column.session"): row["session"]}
        | {own_units.label(name): _value(name, row[name]) for name in names if name not in same}
        for row in sheet.to_dicts()
    ]
    table(say("fitted.sheet", kart=kart), rows)
    if same:
        listed = "; ".join(f"{own_units.label(name)} {_value(name, sheet[name][0])}" for name in same)
        st.caption(mark("fitted.same", listed=listed))
    with st.expander(mark("fitted.grid")):
        _grid(sheet.drop("event", "kart", "other"), event, kart)


def _value(name: str, value: Any) -> str:
    """A value as the table shows it, in the user's unit and language."""
    if name == "track_state" and value in TRACK_STATES:
        return say(f"track.{value}")
    return cell(own_units.shown(name, value))


def _sheet(event: str, kart: str, driven: list[str]) -> pl.DataFrame:
    """Rows of the kart at the event in the order driven; sessions without an entry have an empty row."""
    kept = state.archive().setups
    rows = kept.filter(pl.col("event") == event, pl.col("kart") == kart)
    if rows.is_empty():
        return rows
    others = sorted(set(rows["session"]) - set(driven), key=natural)
    order = pl.DataFrame({"session": [*driven, *others]})
    return order.join(rows, on="session", how="left", maintain_order="left").select(list(SETUPS))


def _grid(sheet: pl.DataFrame, event: str, kart: str) -> None:
    own = in_own_units(sheet)
    edited: Any = st.data_editor(
        own, hide_index=True, disabled=["session"],
        key=f"grid_{event}_{kart}_{state.version()[1]}{own_units.unit_tag()}",
        column_config={"session": say("fitted.column.session")}
        | {name: own_units.label(name) for name in sheet.columns[1:]},
    )  # fmt: skip
    if not st.button(mark("fitted.grid.write"), disabled=edited.equals(own)):
        return
    try:
        entries = _changed(own, edited, event, kart)
    except SetupError as error:
        show_error(error)
        return

    if entries:
        keep_entries("fitted", entries, say("fitted.grid.written"))
    st.rerun()


def in_own_units(sheet: pl.DataFrame) -> pl.DataFrame:
    """The sheet with its amounts in the user's units."""
    shown = {name: [own_units.shown(name, value) for value in sheet[name]] for name in sheet.columns}
    return pl.DataFrame(shown, schema=sheet.schema)


def _changed(sheet: pl.DataFrame, edited: pl.DataFrame, event: str, kart: str) -> list[str]:
    """Write what differs, both in the user's units; each row with the fields that were emptied."""
    entries: list[str] = []
    for old, new in zip(sheet.to_dicts(), edited.cast(dict(sheet.schema)).to_dicts(), strict=True):
        changed = {name: value for name, value in new.items() if value != old[name]}
        if changed:
            row = {"event": event, "session": new["session"], "kart": kart}
            row |= {
                name: own_units.typed(name, value) for name, value in changed.items() if value is not None
            }
            frame = validate(pl.DataFrame([row], schema={name: SETUPS[name] for name in row}))
            emptied = [name for name, value in changed.items() if value is None]
            entries.append(state.archive().put_setups(frame, "typed into the table", clear=emptied))
    return entries
