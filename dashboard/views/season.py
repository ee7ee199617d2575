"""Season: what a setting was worth, all days together, circuit by circuit."""

from functools import partial
from typing import TYPE_CHECKING, Any, Final

import streamlit as st

from dashboard import asking, state
from dashboard.cautions import show_cautions
from dashboard.first_look import measure_label
from dashboard.says import mark, say, told
from dashboard.shown import bullets, pictures_two_by_two, table

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
    factor = st.pills(
        mark("season.factor"), _FACTORS, default=_FACTORS[0], key="season_factor",
        format_func=lambda name: say(f"factor.{name}"),
    )  # fmt: skip
    measure = st.pills(
        mark("ask.measure"), _MEASURES, default=_MEASURES[0], key="season_measure", format_func=measure_label
    )
    with st.spinner(say("season.thinking"), show_time=True):
        found = _found(factor or _FACTORS[0], measure or _MEASURES[0], state.version())
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
    bullets(say("season.told"), found.sentences)
    _pictures(found)
    from lapdelta.words import verdict_text

    unit = found.unit
    rows: list[dict[str, Any]] = [
        {
            say("ask.event"): row["event"],
            say("season.track"): row["track"] or "–",
            say("season.step"): f"{row['from']:g} → {row['to']:g}",
            say("why.change", unit=unit): row["estimate"],
            say("why.from"): row["low"],
            say("why.to"): row["high"],
            say("why.verdict"): verdict_text(row["verdict"], state.language()),
        }
        for row in found.days
    ]
    table(say("season.days"), rows)
    left = [
        {
            say("ask.event"): row["event"],
            say("why.session"): row["session"],
            say("bring.reason"): told(row["reason"]),
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
    """The curve of each circuit, each day's change, and how well our kart repeats itself: what can be drawn."""
    from lapdelta.pictures.repeatability import repeatability
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
    if any(row["ours"] is not None or row["others"] is not None for row in found.repeatability["events"]):
        makers.append(("repeating", partial(repeatability, found, **look)))
    pictures_two_by_two(makers, found)
