"""Gearing: does the chain reach, which pairs does the box make, did the engine pull it, how far did parts run."""

from typing import Any, Final

import polars as pl
import streamlit as st

from dashboard import own_units, parts_box, state
from dashboard.card import error_card
from dashboard.cautions import show_cautions
from dashboard.on_the_page import for_page, mark_told
from dashboard.says import mark, say
from dashboard.shown import bullets, table
from lapdelta.words import in_digits

#: Where the fields start before anything is written down: a pair that can be, not one that is recommended.
_PAIR: Final = (10, 80)


def show() -> None:
    """The page."""
    st.title(mark("page.gearing"), anchor=False)
    show_cautions()
    names = ("chain", "pairs", "pulled")
    chosen = st.pills(
        mark("gearing.what"),
        names,
        default="chain",
        key="gearing_part",
        format_func=lambda name: say(f"gearing.{name}"),
    )
    with error_card():
        if chosen == "chain":
            _chain()
        elif chosen == "pairs":
            parts_box.show_box()
        elif chosen == "pulled":
            _pulled()


def _chain() -> None:
    """Where the engine stands with this chain, and how far it slides for a change."""
    from lapdelta import gearing

    fitted = _fitted_last()
    left, right = st.columns(2, gap="large")
    with left:
        engine = _teeth("gearing.engine", fitted.get("engine_teeth") or _PAIR[0], "engine")
        axle = _teeth("gearing.axle", fitted.get("axle_teeth") or _PAIR[1], "axle")
        pitch = own_units.pitch_input("gear_pitch", fitted.get("chain_pitch_mm"))
        links = st.number_input(
            mark("gearing.links"),
            min_value=20,
            max_value=400,
            value=fitted.get("chain_links"),
            step=1,
            key="gear_links",
        )
    with right:
        engine_after = _teeth("gearing.engine_after", engine, "engine_after")
        axle_after = _teeth("gearing.axle_after", axle, "axle_after")
    rows = [
        {
            say("gearing.pair"): f"{one[0]}/{one[1]}",
            say("gearing.ratio"): in_digits(f"{gearing.ratio(*one):.4f}", state.language()),
        }
        for one in dict.fromkeys([(engine, axle), (engine_after, axle_after)])
    ]
    table(say("gearing.ratios"), rows)
    if pitch is None or links is None:
        st.info(mark("gearing.need_chain"), icon=":material/help:")
        return
    slide = gearing.engine_slide(links, pitch, (engine, axle), (engine_after, axle_after))
    sentences = [
        say(
            "gearing.stands",
            mm=in_digits(f"{slide.before.centre_distance_mm:.1f}", state.language()),
            hand=in_digits(f"{slide.before.centre_distance_handbook_mm:.1f}", state.language()),
        )
    ]
    if slide.before.needs_offset_link:
        sentences.append(say("gearing.odd"))
    if (engine, axle) != (engine_after, axle_after):
        sentences.append(for_page(slide.sentence))
    bullets(say("gearing.answer"), sentences)


def _fitted_last() -> dict[str, Any]:
    """The newest entry of the setup sheet of our kart that tells both sprockets; empty if there is none."""
    kept = state.archive()
    ours = kept.events.select("event", pl.col("our_kart").alias("kart"))
    rows = ours.join(kept.setups, on=["event", "kart"], how="inner", maintain_order="left_right").drop_nulls(
        ["engine_teeth", "axle_teeth"]
    )
    return rows.row(-1, named=True) if rows.height else {}


def _teeth(key: str, value: int, name: str) -> int:
    # A field that was never touched follows the one it starts from.
    return int(
        st.number_input(mark(key), min_value=6, max_value=150, value=value, step=1, key=f"gear_{name}")
    )


def _pulled() -> None:
    """Did the engine pull the changed gear? From the question asked last."""
    from lapdelta.asking.pulled import ask_pulled

    asked = state.question()
    if asked is None:
        st.write(mark("gearing.pulled.empty"))
        state.page_link("help", say("ask_first"))
        return
    answer = ask_pulled(
        state.archive(), event=asked.event, kart=asked.kart, before=asked.before, after=asked.after
    )
    before, after = answer.pair_before, answer.pair_after
    st.markdown(f"**{mark_told(answer.pulled.sentence)}**")
    st.caption(
        mark(
            "gearing.pulled.from", event=asked.event, kart=asked.kart, before=f"{before[0]}/{before[1]}",
            after=f"{after[0]}/{after[1]}",
        )
    )  # fmt: skip
    shares: list[Any] = [one for one in (answer.pulled.speed, answer.pulled.rpm) if one]
    reasons = [*answer.pulled.reasons, *(answer.pulled.could_fake if shares else ())]
    bullets(say("why.reasons"), [for_page(reason) for reason in reasons])
