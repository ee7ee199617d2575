"""A question held against the laps it is asked of: which event, which sessions; or what is wrong with it."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from numbers import Real
from typing import Any, cast

import polars as pl

from lapdelta.effect.measures import Measure, find_measure, measure_names
from lapdelta.errors import QuestionError
from lapdelta.question.arrays import sector_count
from lapdelta.question.table import with_all_columns

#: A session: its label, or (event, label) where a label is not unique.
Session = str | tuple[str, str]


@dataclass(frozen=True)
class Asked:
    """A question that can be asked.

    Attributes:
        laps: laps of the event, all karts and sessions, in the table's order.
        event: its name; None where the table has no events.
    """

    laps: pl.DataFrame
    event: str | None
    kart: str
    before: tuple[str, ...]
    after: tuple[str, ...]
    measure: Measure


def ask(
    laps: pl.DataFrame,
    kart: str,
    before: Sequence[Session],
    after: Sequence[Session],
    measure: str,
    margin: float | None,
    confidence: float,
) -> Asked:
    """Check everything that can be checked before a number is computed.

    Raises:
        QuestionError: with what is wrong, where, and the nearest names.
    """
    _check_numbers(margin, confidence)
    if isinstance(before, str) or isinstance(after, str):
        raise QuestionError("One label stands where a list is needed.", "Give before and after as lists.")
    if not before or not after:
        side = "before" if not before else "after"
        raise QuestionError(f"The list of sessions {side} the change is empty.", "Name at least one.", side)
    _check_labels(before, "before")
    _check_labels(after, "after")
    table = with_all_columns(laps)
    event = _event_of(table, kart, [*before, *after])
    here = table if event is None else table.filter(pl.col("event") == event)
    _check_kart(here, kart, event)
    labels_before, labels_after = _labels(before), _labels(after)
    _check_sessions(here, [*labels_before, *labels_after], event)
    found = _measure(here, measure)
    return Asked(here, event, kart, labels_before, labels_after, found)


def _check_numbers(margin: float | None, confidence: float) -> None:
    if margin is not None and not (_is_number(margin) and 0 < margin < float("inf")):
        raise QuestionError(
            f"A worthwhile margin of {margin} is not possible.",
            "Give a number above 0, in the measure's unit.",
            "margin",
        )
    if not (_is_number(confidence) and 0.5 < confidence < 1):
        raise QuestionError(
            f"A confidence of {confidence} is not possible.",
            "Give a number between 0.5 and 1, as 0.95.",
            "confidence",
        )


def _is_number(value: Any) -> bool:
    return isinstance(value, Real) and value is not True and value is not False


def _check_labels(sessions: Sequence[Any], side: str) -> None:
    """Labels, or pairs of an event and a label, all of them text."""
    for item in sessions:
        parts: tuple[Any, ...] = cast("tuple[Any, ...]", item) if isinstance(item, tuple) else (item,)
        if len(parts) > 2 or not all(isinstance(part, str) for part in parts):
            raise QuestionError(
                f"A session cannot be named by {item!r}.",
                "Name it by its label as text, or as (event, label).",
                side,
            )


def _labels(sessions: Sequence[Session]) -> tuple[str, ...]:
    """Labels without their event, each once."""
    return tuple(dict.fromkeys(item if isinstance(item, str) else item[1] for item in sessions))


def _event_of(laps: pl.DataFrame, kart: str, sessions: list[Session]) -> str | None:
    """The one event of the question; None where the table has no events."""
    named = {item[0] for item in sessions if not isinstance(item, str)}
    if named and "event" not in laps.columns:
        raise QuestionError(
            "The table of laps has no column event.",
            "Name sessions by their labels alone, or give laps with their events, as Archive.laps does.",
            sorted(named)[0],
        )
    if len(named) > 1:
        raise QuestionError(
            f"The sessions are of several events: {', '.join(sorted(named))}.",
            "Ask about one event; season puts several together.",
        )
    if "event" not in laps.columns:
        return None
    known = laps["event"].unique(maintain_order=True).to_list()
    if named:
        event = named.pop()
        if event not in known:
            raise QuestionError(f"There is no event {event}.", _nearest(event, known, "events"), event)
        return event
    if len(known) == 1:
        return known[0]
    wanted = set(_labels(sessions))
    by_event = laps.group_by("event", maintain_order=True).agg(
        pl.col("session").unique(), pl.col("kart").unique()
    )
    holding = [
        row["event"]
        for row in by_event.iter_rows(named=True)
        if wanted <= set(row["session"]) and kart in row["kart"]
    ]
    if len(holding) == 1:
        return holding[0]
    if not holding:
        raise QuestionError(
            f"No event holds kart {kart} and all of the sessions {', '.join(sorted(wanted))}.",
            "Name sessions of one event, as (event, session) where a label is not unique.",
        )
    raise QuestionError(
        f"Several events hold these sessions: {', '.join(holding)}.",
        "Give the laps of one event, or name each session as (event, session).",
    )


def _check_kart(laps: pl.DataFrame, kart: str, event: str | None) -> None:
    known = laps["kart"].drop_nulls().unique(maintain_order=True).to_list()
    if kart not in known:
        raise QuestionError(f"There is no kart {kart} in these laps.", _nearest(kart, known, "karts"), event)


def _check_sessions(laps: pl.DataFrame, sessions: Iterable[str], event: str | None) -> None:
    known = laps["session"].drop_nulls().unique(maintain_order=True).to_list()
    for session in sessions:
        if session not in known:
            raise QuestionError(
                f"There is no session {session} in these laps.", _nearest(session, known, "sessions"), event
            )


def _measure(laps: pl.DataFrame, name: str) -> Measure:
    sectors = sector_count(laps)
    found = find_measure(name, sectors)
    if found is None:
        known = list(measure_names(sectors))
        raise QuestionError(f"There is no measure {name} in these laps.", _nearest(name, known, "measures"))
    return found


def _nearest(wanted: str, known: Sequence[str], what: str) -> str:
    """How to mend a name: the nearest known ones, or all of them where they are few."""
    if not known:
        return "There are no laps at all: import a timing file first."
    lower = {str(name).casefold(): str(name) for name in known}
    plain = re.sub(r"\s+", " ", str(wanted)).strip().casefold()
    alike = [str(name) for name in known if _bare(str(name)) == _bare(plain)]
    close = [lower[name] for name in get_close_matches(plain, list(lower), n=3, cutoff=0.5)]
    near = list(dict.fromkeys([*alike, *close]))[:3]
    if near:
        return f"Nearest: {', '.join(near)}."
    shown = [str(name) for name in known[:12]]
    more = f" and {len(known) - 12} more" if len(known) > 12 else ""
    return f"The {what} are {', '.join(shown)}{more}."


def _bare(name: str) -> str:
    """A name without what people leave out: leading zeros, signs, spaces, the case of letters."""
    return re.sub(r"(?<!\d)0+(?=\d)", "", re.sub(r"[\W_]+", "", name.casefold()))
