"""What is fixed before the first look at an answer: the smallest change worth having, and which way it should go."""

from typing import TYPE_CHECKING, Any

import polars as pl
import streamlit as st

from dashboard import own_units, state
from dashboard.plain import plain
from dashboard.question import usual_margin, with_margin, written
from dashboard.says import mark, say
from lapdelta.archive.question_schema import EXPECTED
from lapdelta.words import PARTS_OF_A_SESSION, amount, measure_name, phrase, unit_text
from lapdelta.words.printing import capital

if TYPE_CHECKING:
    from lapdelta import Finding


def fixed(asked: state.Question) -> state.Question | None:
    """The question with its worthwhile margin; None while that is still to be fixed, with the form drawn."""
    found = with_margin(state.archive(), asked)
    if found is None:
        _form(asked)
    return found


def _noted(asked: state.Question) -> dict[str, Any]:
    """What was written down before one of the new sessions, to start the form with."""
    rows = state.archive().questions.filter(pl.col("event") == asked.event).reverse()
    for row in rows.iter_rows(named=True):
        about = set(row["after"] or ())
        if row["kart"] in (None, asked.kart) and about and about <= set(asked.after):
            return row
    return {}


def _form(asked: state.Question) -> None:
    noted, usual = _noted(asked), own_units.margin_shown(asked.measure, usual_margin(asked.measure))
    with st.form("first_look", border=True):
        st.header(mark("look.title"), anchor=False)
        st.write(mark("look.why"))
        same = noted.get("measure") in (None, asked.measure) and noted.get("margin")
        margin = st.number_input(
            mark("look.margin", unit=unit_text(own_units.about(asked.measure), state.language())),
            min_value=usual / 10, step=usual / 2,
            value=own_units.margin_shown(asked.measure, noted["margin"]) if same else usual,
            format="%.2f" if usual < 1 else "%.1f", key=f"look_margin_{own_units.about(asked.measure)}",
        )  # fmt: skip
        expected = st.pills(
            mark("look.expected"), _ways(asked.measure), default=noted.get("expected"), key="look_expected",
            format_func=lambda way: say(f"expected.{way.replace(' ', '_')}"),
        )  # fmt: skip
        wish = st.text_input(mark("look.wish"), value=noted.get("wish") or "", max_chars=200, key="look_wish")
        if st.form_submit_button(mark("look.go"), type="primary"):
            state.archive().put_question(
                asked.event, kart=asked.kart, before=list(asked.before), after=list(asked.after),
                measure=asked.measure, margin=own_units.margin_kept(asked.measure, margin), expected=expected,
                wish=wish.strip() or None,
                why="fixed before the first look",
            )  # fmt: skip
            st.rerun()


def _ways(measure: str) -> list[str]:
    """Directions that can be expected of a measure."""
    more = measure in ("top_speed", "peak_rpm")
    return [way for way in EXPECTED if (way in ("higher", "lower")) == more or way == "no difference"]


def note_and_words(asked: state.Question) -> None:
    """Beside the answer: what was fixed, how many were asked this season, and the driver's words."""
    row = written(state.archive(), asked)
    language = state.language()
    shown = own_units.margin_shown(asked.measure, asked.margin or 0.0)
    margin = amount(own_units.about(asked.measure), shown, language)
    lines = [say("look.fixed" if row and row["margin"] else "look.usual", margin=margin)]
    if row and row["expected"]:
        lines.append(say("look.was_expected", way=say(f"expected.{row['expected'].replace(' ', '_')}")))
    if row and row["wish"]:
        lines.append(say("look.was_wished", wish=row["wish"]))
    st.caption("  \n".join(plain(line) for line in lines))
    key = f"words_{asked.event}_{asked.kart}_{'_'.join(asked.before)}_{'_'.join(asked.after)}"
    st.text_input(
        mark("look.words"), value=(row or {}).get("words") or "", max_chars=300, key=key,
        on_change=_keep_words, args=(asked, (row or {}).get("question"), key),
    )  # fmt: skip


def _keep_words(asked: state.Question, question: str | None, key: str) -> None:
    """The driver's words, beside the question they belong to."""
    words = st.session_state[key].strip() or None
    new: dict[str, Any] = {
        "kart": asked.kart, "before": list(asked.before), "after": list(asked.after), "measure": asked.measure,
        "margin": asked.margin,
    }  # fmt: skip
    state.archive().put_question(asked.event, question, words=words, **({} if question else new))


def season_count(finding: "Finding") -> tuple[int, int] | None:
    """The question's number in its season, and the season; None for one that could not be recorded."""
    from lapdelta.asking.beside import beside

    known = beside(state.archive(), finding)
    return None if known.number is None or known.season is None else (known.number, known.season)


def count_of_season(finding: "Finding") -> None:
    """Beside an answer: which question of the season it is, and what follows from asking many."""
    asked = season_count(finding)
    if asked is not None:
        st.caption(plain(phrase("say.season", state.language(), n=asked[0], season=asked[1])))


def measure_label(measure: str) -> str:
    """The measure as the picker shows it."""
    parts = measure in PARTS_OF_A_SESSION
    name = say(f"measure.{measure}") if parts else measure_name(measure, state.language())
    return capital(name)
