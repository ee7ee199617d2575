"""The box of sprockets and chains: what it holds, which pairs it makes, how far each part has run, what it cost."""

from datetime import date
from functools import partial
from typing import TYPE_CHECKING, Any

import streamlit as st

from dashboard import own_units, state
from dashboard.card import show_error
from dashboard.just_written import keep_entries, written_just_now
from dashboard.launch import wait_until_ready
from dashboard.on_the_page import for_page
from dashboard.plain import plain
from dashboard.says import mark, say, told
from dashboard.shown import picture, table
from lapdelta.errors import LapdeltaError
from lapdelta.words import in_digits
from lapdelta.words.printing import capital

if TYPE_CHECKING:
    from lapdelta.parts.charged import Box


def show_box() -> None:
    """The box, its pairs, and a form for one more part."""
    from lapdelta.parts.charged import box

    found = box(state.archive())
    if not found.parts:
        st.write(mark("box.empty"))
    else:
        _parts(found)
        _pairs(found)
    _add()


def _parts(found: "Box") -> None:
    """Laps, kilometres and cost of each part."""
    units = state.archive().units
    way = say("box.km") if units.way == "km" else told(units.way)
    rows: list[dict[str, Any]] = [
        {
            say("box.part"): wear.part.name,
            say("box.kind"): for_page(wear.part.kind),
            say("box.size"): wear.part.size,
            say("why.laps"): wear.laps,
            way: None if wear.distance_km is None else units.shown_way(wear.distance_km),
            say("box.cost"): wear.cost_per_100_laps,
            say("box.state"): say("box.retired") if one.retired else say("box.in_use"),
        }
        for one, wear in zip(found.parts, found.wear, strict=True)
    ]
    table(say("box.title"), rows)
    _pictures(found)
    if found.unclear:
        with st.expander(mark("box.unclear")):
            for one in found.unclear:
                st.caption(plain(f"{one.event} {', '.join(one.sessions)}: {for_page(one.reason)}"))
    if found.without_length:
        st.caption(mark("box.no_length", events=", ".join(found.without_length)))
        state.page_link("fitted", say("box.say_length"))
    in_use = [one.part.name for one in found.parts if one.retired is None]
    if in_use:
        with st.expander(mark("box.retire")):
            name = st.selectbox(mark("box.part"), in_use, key="box_retire")
            if st.button(mark("box.retire.go"), key="box_retire_go"):
                from lapdelta.parts.box import retire_part

                _say(retire_part(state.archive(), name))


def _pictures(found: "Box") -> None:
    """Laps of each part and what they cost, where there are any."""
    wait_until_ready("pictures")
    from lapdelta.pictures.parts import part_cost, part_laps

    look: dict[str, Any] = {"dark": state.dark(), "language": state.language()}
    left, right = st.columns(2, gap="large")
    if any(one.laps for one in found.wear):
        with left:
            picture("parts-laps", partial(part_laps, found, **look))
    if any(one.cost_per_100_laps is not None for one in found.wear):
        with right:
            picture("parts-cost", partial(part_cost, found, **look))


def _pairs(found: "Box") -> None:
    """All pairs of the sprockets in use, tallest gear first."""
    from lapdelta.gearing import pairs

    teeth = {
        kind: sorted({one.part.size for one in found.parts if one.part.kind == kind and one.retired is None})
        for kind in ("engine sprocket", "axle sprocket")
    }
    if not all(teeth.values()):
        st.info(mark("box.one_of_each"), icon=":material/help:")
        return
    found_pairs = pairs(teeth["engine sprocket"], teeth["axle sprocket"])
    some_alike = any(one.same_as for one in found_pairs)
    rows = [
        {
            say("gearing.pair"): f"{one.engine_teeth}/{one.axle_teeth}",
            say("gearing.ratio"): in_digits(f"{one.ratio:.4f}", state.language()),
        }
        | ({say("box.same"): ", ".join(f"{a}/{b}" for a, b in one.same_as) or "–"} if some_alike else {})
        for one in found_pairs
    ]
    table(say("box.pairs"), rows)


def _add() -> None:
    """One more part, in plain widgets."""
    from lapdelta.parts.box import KINDS, add_part

    written_just_now("box")
    with st.form("box_add", border=True):
        st.header(mark("box.add"), anchor=False)
        name = st.text_input(mark("box.name"), max_chars=60, placeholder="A81")
        kind = st.pills(
            _label("box.kind"),
            KINDS,
            default=KINDS[1],
            format_func=lambda one: say(f"box.{one.replace(' ', '_')}"),
        )
        size = st.number_input(_label("box.size"), min_value=6, max_value=400, value=None, step=1)
        pitch = own_units.pitch_input("box_pitch")
        price = st.number_input(mark("box.price"), min_value=0.0, value=None, format="%.2f")
        bought = st.date_input(mark("box.bought"), value=None, format="YYYY-MM-DD")
        if not st.form_submit_button(mark("box.add.go"), type="primary"):
            return
    if not name.strip() or kind is None or size is None or pitch is None:
        st.error(mark("box.incomplete"), icon=":material/error:")
        return
    try:
        day = bought if isinstance(bought, date) else None
        entry = add_part(state.archive(), name.strip(), kind, int(size), pitch, price=price, bought=day)
    except LapdeltaError as error:
        show_error(error)
        return
    _say(entry)


def _label(key: str) -> str:
    """The name of a column as that of a field."""
    return capital(mark(key))


def _say(entry: str) -> None:
    keep_entries("box", [entry], say("box.done"))
    st.rerun()
