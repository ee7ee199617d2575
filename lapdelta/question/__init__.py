"""Ask one question of a table of laps: tables in, a finding out."""

from collections.abc import Sequence
from dataclasses import replace

import polars as pl

import lapdelta
from lapdelta.effect.answer import Question, answer
from lapdelta.effect.design import AFTER, BEFORE
from lapdelta.effect.fairness import COMPARABLE, TRACK_STATE
from lapdelta.effect.finding import Finding
from lapdelta.effect.history import NO_HISTORY
from lapdelta.effect.pace import PACE_FRACTION
from lapdelta.effect.screening import SCREEN_CONSTANT
from lapdelta.question.arrays import day_of, fingerprint, order_sessions, split_karts
from lapdelta.question.asked import Session, ask
from lapdelta.question.other_steps import steps_of
from lapdelta.question.past import history_of
from lapdelta.question.sheet import read_sheet

__all__ = ["compare"]

#: The method's own choices, kept in a finding so that it can be repeated.
_CONSTANTS = {
    "screen_constant": SCREEN_CONSTANT,
    "pace_fraction": PACE_FRACTION,
    "comparable_karts": COMPARABLE,
    "track_state": TRACK_STATE,
}


def compare(
    laps: pl.DataFrame,
    *,
    kart: str,
    before: Sequence[Session],
    after: Sequence[Session],
    measure: str = "lap_time",
    margin: float | None = None,
    confidence: float = 0.95,
    setups: pl.DataFrame | None = None,
    history: pl.DataFrame | Sequence[float] | None = None,
) -> Finding:
    """Did the change shift this kart's laps?

    Args:
        laps: a table of ``tables.LAPS`` or, with ``event`` first, ``tables.EVENT_LAPS``; with few other karts the
            sessions of the event that are not asked about say how far chance goes.
        kart: our kart's number as text.
        before: all sessions on the old setting; labels, or (event, session) pairs.
        after: all sessions on the new setting.
        measure: lap_time, early_laps, late_laps, sector_1.., top_speed or peak_rpm.
        margin: worthwhile margin in the measure's unit; None takes the measure's default.
        confidence: of the interval, between 0.5 and 1.
        setups: the setup sheet (``tables.SETUPS``): what else differed, other setups of the day.
        history: laps of other days, or neighbour differences in the measure's unit.

    Raises:
        QuestionError: unknown kart, session or measure, an empty list, a margin that is not positive.
    """
    asked = ask(laps, kart, before, after, measure, margin, confidence)
    everything = asked.laps.filter(pl.col("kart") == kart)["session"].unique(maintain_order=True).to_list()
    whole = order_sessions(asked.laps, kart, [*dict.fromkeys([*everything, *asked.before, *asked.after])])
    sheet = read_sheet(setups, asked, whole.sessions)
    levels = dict.fromkeys(asked.before, BEFORE) | dict.fromkeys(asked.after, AFTER) | sheet.other_levels
    same = set(levels) == set(whole.sessions)
    order = whole if same else order_sessions(asked.laps, kart, list(levels))
    split = split_karts(asked.laps, sheet.splits)
    day = day_of(split, kart, order, levels)
    past = history_of(history, asked, asked.measure, setups) if history is not None else NO_HISTORY
    if not past.weight:
        past = replace(past, steps=steps_of(split, whole, day, asked.measure))
    question = Question(
        measure=asked.measure,
        margin=asked.measure.margin if margin is None else float(margin),
        confidence=confidence,
        before=asked.before,
        after=asked.after,
        both=tuple(label for label in asked.before if label in asked.after),
        history=past,
        setup_differences=sheet.differences,
        bundle=sheet.bundle,
        changed_karts=sheet.changed_karts,
        fingerprint=fingerprint(day, past.steps),
        settings=_CONSTANTS
        | {"event": asked.event, "margin_given": margin is not None, "setups_given": setups is not None}
        | {"history_differences": list(past.raw), "order_of_sessions": order.basis},
        version=lapdelta.__version__,
    )
    return answer(day, question)
