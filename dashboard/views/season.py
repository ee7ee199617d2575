"""Season: what a setting was worth, all days together, circuit by circuit."""

from functools import partial
from typing import TYPE_CHECKING, Any, Final

import streamlit as st

from dashboard import asking, own_units, state
from dashboard.cautions import show_cautions
from dashboard.first_look import measure_label
from dashboard.launch import wait_until_ready
from dashboard.on_the_page import for_page, mark_told
from dashboard.says import mark, say
from dashboard.shown import bullets, cell, picture, pictures_two_by_two, table, with_range
from lapdelta.seasons.sentences import CAUTION, track_sentences

if TYPE_CHECKING:
    from lapdelta.effect.season_finding import SeasonFinding

_FACTORS: Final = ("axle_teeth", "pressure_rear", "pressure_front", "total_weight_kg")
#: A sector of any number.
_ANY_SECTOR: Final = 99
_MEASURES: Final = ("lap_time", "top_speed", "peak_rpm")


def show() -> None:
    """The page."""
    st.title(mark("page.season"), anchor=False)
    if not asking.anything_kept():
        st.write(mark("season.empty"))
        state.page_link("bring", say("help.empty.go"))
        return
    with st.container(horizontal=True, key="season_choice"):
        factor = st.selectbox(
            mark("season.factor"),
            _FACTORS,
            key="season_factor",
            format_func=lambda name: say(f"factor.{name}"),
        )
        measure = st.selectbox(
            mark("ask.measure"), _MEASURES, key="season_measure", format_func=measure_label
        )
    with st.spinner(say("season.thinking"), show_time=True):
        found = _found(factor, measure, state.version())
    _show(found)
    show_cautions()


@st.cache_resource(show_spinner=False, max_entries=16)
def _found(factor: str, measure: str, version: tuple[str, int]) -> "SeasonFinding":
    """The last argument only says when it is out of date."""
    from lapdelta.seasons import season

    del version
    kept = state.archive()
    return season(kept.laps(), setups=kept.setups, events=kept.events, factor=factor, measure=measure)


def _show(found: "SeasonFinding") -> None:
    """The answer of each circuit, its pictures, what else was found; days and details to open."""
    circuits, everywhere = by_circuit(found)
    st.markdown("  \n".join(f"**{mark_told(answer)}**" for answer, *_ in circuits))
    _pictures(found)
    for answer, *more in circuits:
        bullets(_place(answer), [for_page(sentence) for sentence in more])
    bullets(say("season.told"), [for_page(sentence) for sentence in everywhere])
    with st.expander(mark("season.days")):
        table(say("season.days"), _days(found), heading=False)
    with st.expander(mark("season.details")):
        _details(found)


def by_circuit(found: "SeasonFinding") -> tuple[list[list[str]], list[str]]:
    """What was found: a list of sentences a circuit, its answer first; and of all days together."""
    from lapdelta.effect.measures import find_measure
    from lapdelta.seasons.factor import find_factor

    measure, factor = find_measure(found.measure, sectors=_ANY_SECTOR), find_factor(found.factor, [])
    if measure is None:
        return [], list(found.sentences)
    alone = len(found.tracks) == 1
    circuits = [track_sentences(track, measure, factor, alone=alone) for track in found.tracks]
    said = {sentence for circuit in circuits for sentence in circuit} | {CAUTION}
    # What was left out stands in the table below, row by row.
    rest = [one for one in found.sentences if one not in said and not one.startswith("Left out")]
    return circuits, rest


def _place(answer: str) -> str:
    """The circuit's name, as it stands before its answer."""
    return for_page(answer).partition(": ")[0]


def _days(found: "SeasonFinding") -> list[dict[str, Any]]:
    from lapdelta.words import unit_text, verdict_text

    language, units = state.language(), state.archive().units
    unit = unit_text(own_units.about(found.measure), language)
    rows: list[dict[str, Any]] = []
    for row in found.days:
        ends = [cell(units.shown(row[end], found.factor_unit)) for end in ("from", "to")]
        change = {
            name: None if row[name] is None else units.shown_change(row[name], found.unit)
            for name in ("estimate", "low", "high")
        }
        rows.append(
            {
                say("ask.event"): ", ".join(part for part in (row["event"], for_page(row["track"])) if part),
                say("season.step"): " → ".join(ends),
                say("why.change", unit=unit): with_range(change),
                say("why.verdict"): verdict_text(row["verdict"], language),
            }
        )
    return rows


def _details(found: "SeasonFinding") -> None:
    """How well our kart repeats itself, what was left out, what was counted."""
    from lapdelta.pictures.repeatability import repeatability

    if any(row["ours"] is not None or row["others"] is not None for row in found.repeatability["events"]):
        look: dict[str, Any] = {"dark": state.dark(), "language": state.language()}
        picture("repeating", partial(repeatability, found, **look), found)
    left = [
        {
            say("ask.event"): row["event"],
            say("why.session"): row["session"],
            say("bring.reason"): for_page(row["reason"]),
        }
        for row in found.left_out
    ]
    table(say("season.left_out"), left)
    counts = found.counts
    st.caption(
        mark(
            "season.counts",
            events=counts["events_used"],
            sessions=counts["sessions_used"],
            laps=counts["our_laps_used"],
        )
    )


def _pictures(found: "SeasonFinding") -> None:
    """The curve of each circuit and each day's change: what can be drawn."""
    wait_until_ready("pictures")
    from lapdelta.pictures.response import response
    from lapdelta.pictures.season_days import season_days

    look: dict[str, Any] = {"dark": state.dark(), "language": state.language()}
    curves = [row["track"] for row in found.tracks if row["curve"]]
    makers: list[tuple[str, Any]] = [
        (f"curve-{place}", partial(response, found, track, **look))
        for place, track in enumerate(curves, start=1)
    ]
    if any(day["estimate"] is not None for day in found.days):
        makers.append(("day-by-day", partial(season_days, found, **look)))
    pictures_two_by_two(makers, found)
