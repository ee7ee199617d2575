"""Season: what a setting was worth, all days together, circuit by circuit."""

from functools import partial
from typing import TYPE_CHECKING, Any, Final

import streamlit as st

from dashboard import asking, state
from dashboard.cautions import show_cautions
from dashboard.first_look import measure_label
from dashboard.launch import wait_until_ready
from dashboard.on_the_page import for_page, mark_told
from dashboard.says import mark, say
from dashboard.shown import bullets, cell, picture, pictures_two_by_two, table, with_range
from lapdelta.seasons.sentences import CAUTION

if TYPE_CHECKING:
    from lapdelta.effect.season_finding import SeasonFinding

_FACTORS: Final = ("axle_teeth", "pressure_rear", "pressure_front", "total_weight_kg")
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
    answers = _answers(found)
    st.markdown("  \n".join(f"**{mark_told(sentence)}**" for sentence in answers))
    _pictures(found)
    rest = [sentence for sentence in found.sentences if sentence not in (*answers, CAUTION)]
    # What was left out stands in the table below, row by row.
    rest = [for_page(sentence) for sentence in rest if not sentence.startswith("Left out")]
    bullets(say("season.told"), rest)
    with st.expander(mark("season.days")):
        table(say("season.days"), _days(found), heading=False)
    with st.expander(mark("season.details")):
        _details(found)


def _answers(found: "SeasonFinding") -> list[str]:
    """The sentences that say where the best value lies: one a circuit."""
    names = [row["track"] for row in found.tracks if row["track"]] or ["All days"]
    starts = tuple(f"{name}: " for name in names)
    return [sentence for sentence in found.sentences if sentence.startswith(starts)]


def _days(found: "SeasonFinding") -> list[dict[str, Any]]:
    from lapdelta.words import unit_text, verdict_text

    language = state.language()
    return [
        {
            say("ask.event"): ", ".join(part for part in (row["event"], for_page(row["track"])) if part),
            say("season.step"): f"{cell(row['from'])} → {cell(row['to'])}",
            say("why.change", unit=unit_text(found.measure, language)): with_range(row),
            say("why.verdict"): verdict_text(row["verdict"], language),
        }
        for row in found.days
    ]


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
