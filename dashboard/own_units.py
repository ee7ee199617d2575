"""The user's units on the pages: labels, values, and where they are chosen."""

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import streamlit as st

from dashboard import state
from dashboard.plain import plain
from dashboard.says import mark, say
from lapdelta.gearing.checks import LARGEST_PITCH_MM, SMALLEST_PITCH_MM
from lapdelta.setups.fields import BY_COLUMN
from lapdelta.sheet.own_units import in_units, item_label, measure_shown
from lapdelta.units import CHOICES, IN_STORE

if TYPE_CHECKING:
    from lapdelta import Finding


def label(name: str) -> str:
    """A column of the setup sheet with the unit that its values are shown and typed in."""
    return item_label(name, state.archive().units, state.language())


def shown(name: str, value: Any) -> Any:
    """A value of the setup sheet in the user's unit; what has none stays."""
    field = BY_COLUMN.get(name)
    stored, units = field.unit if field else None, state.archive().units
    if not isinstance(value, float) or units.unit(stored) == stored:
        return value
    return float(f"{units.shown(value, stored):.4g}")


def typed(name: str, value: Any) -> Any:
    """A value of the setup sheet typed in the user's unit, as it is kept; what has none stays."""
    field = BY_COLUMN.get(name)
    if not isinstance(value, float):
        return value
    return state.archive().units.kept(value, field.unit if field else None)


def unit_tag() -> str:
    """Part of the keys of fields: what was typed in psi must not be read in bar after another choice."""
    units = state.archive().units
    return "" if units == IN_STORE else f"_{units}"


def finding_shown(finding: "Finding") -> "Finding":
    """The finding for what is shown of it; the stored one is kept, counted and repeated."""
    return in_units(finding, state.archive().units, texts=False)


def about(measure: str) -> str:
    """The measure's name for texts about it in the user's units."""
    return measure_shown(measure, state.archive().units)


def margin_shown(measure: str, margin: float) -> float:
    """A margin in the user's unit of the measure."""
    return margin if about(measure) == measure else state.archive().units.shown_change(margin, "km/h")


def margin_kept(measure: str, margin: float) -> float:
    """A margin typed in the user's unit, as it is kept."""
    return margin if about(measure) == measure else state.archive().units.kept(margin, "km/h")


def pitch_input(key: str, start_mm: float | None = None) -> float | None:
    """A field for a chain pitch in the user's unit of length; the pitch in mm."""
    units = state.archive().units
    own = units.length
    typed = st.number_input(
        plain(say("gearing.pitch").removesuffix("mm") + own), min_value=units.shown(SMALLEST_PITCH_MM, "mm"),
        max_value=units.shown(LARGEST_PITCH_MM, "mm"), step=0.001, format="%.3f" if own == "mm" else "%.4f",
        value=None if start_mm is None else units.shown(start_mm, "mm"), key=f"{key}{unit_tag()}",
    )  # fmt: skip
    if typed is None or (start_mm is not None and typed == units.shown(start_mm, "mm")):
        return start_mm if typed is not None else None
    return units.kept(typed, "mm")


def choose_units() -> None:
    """One choice a kind of quantity, kept with the archive."""
    chosen = asdict(state.archive().units)
    with st.expander(mark("units.title")):
        st.caption(mark("units.intro"))
        for kind, units in CHOICES.items():
            picked = st.pills(mark(f"units.{kind}"), list(units), default=chosen[kind], key=f"units_{kind}",
                              format_func=plain)  # fmt: skip
            if picked and picked != chosen[kind]:
                state.archive().put_units(picked)
                st.rerun()
