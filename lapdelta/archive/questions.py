"""Questions written down before the session, the driver's words after it, and how many were asked this season."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

import polars as pl

from lapdelta.archive.latest import latest
from lapdelta.archive.lock import PATIENCE_S, in_turn
from lapdelta.archive.look import sessions_ever
from lapdelta.archive.question_schema import ASKED, EXPECTED, QUESTION_ROWS, QUESTIONS
from lapdelta.archive.store import Store
from lapdelta.errors import QuestionError

FIELDS = ("kart", "changed", "before", "after", "measure", "margin", "expected", "wish", "words")

#: Fields that fix the question; what the driver wished and said may come at any time.
_FIXED = FIELDS[:-2]

#: Sectors a lap may have; how many these laps will have is not known yet.
_MOST_SECTORS = 99

_KEPT = pl.Schema({name: kind for name, kind in QUESTIONS.items() if name != "at"})


def questions_of(store: Store) -> pl.DataFrame:
    """Table of QUESTIONS, oldest first."""
    found = latest(store.rows("questions"), ("question",), _KEPT)
    times = store.history().rows.select(pl.col("entry").alias("question"), "at")
    return found.join(times, on="question", how="left", maintain_order="left").select(list(QUESTIONS))


@in_turn
def write_question(
    store: Store, event: str, question: str | None, fields: Mapping[str, Any], why: str | None
) -> str:
    """Write a new question (None), or change the fields given of one; the entry's id.

    Raises:
        QuestionError: an unknown field or question, a margin or direction that cannot be, nothing to write.
        ArchiveError: it cannot be written.
    """
    values = _checked(event, fields)
    with store.changing() as change:
        known = questions_of(store).filter(pl.col("event") == event)
        if question is None and values.get("margin") is not None:
            values.setdefault("measure", "lap_time")  # a margin is in the unit of one measure
        if question is not None and question not in known["question"].to_list():
            listed = ", ".join(known["question"]) or "none yet"
            raise QuestionError(f"There is no question {question!r}.", f"Questions there: {listed}.", event)
        row: dict[str, Any] = {name: value for name, value in values.items() if value is not None}
        row |= {"question": question or change.entry, "event": event}
        row["cleared"] = [name for name, value in values.items() if value is None]
        if question is None or any(name in values for name in _FIXED):
            old = dict(known.select("question", "after").iter_rows())
            after = values["after"] if "after" in values else old.get(question)
            row["in_advance"] = not _driven(store, event, after)
        schema = {name: kind for name, kind in QUESTION_ROWS.items() if name != "entry"}
        change.append("questions", pl.DataFrame([{name: row.get(name) for name in schema}], schema=schema))
        new = "asked in advance" if row.get("in_advance") else "question written when its laps were there"
        verb = new if question is None else "question changed"
        return change.commit("question", f"{verb}, {event}: {', '.join(values)}", why, 1)


def question_for(
    questions: pl.DataFrame, event: str, kart: str, measure: str, before: Sequence[str], after: Sequence[str]
) -> dict[str, Any] | None:
    """The question written down that is the one asked, as a row of QUESTIONS; None if there is none.

    What was left open fits any: kart, measure, sessions. Of several the one with most said counts, then the
    latest.
    """
    fitting: list[tuple[int, dict[str, Any]]] = []
    for row in questions.filter(pl.col("event") == event).iter_rows(named=True):
        said = [
            (row["kart"], row["kart"] == kart),
            (row["measure"], row["measure"] == measure),
            (row["before"], set(row["before"] or ()) == set(before)),
            (row["after"], set(row["after"] or ()) == set(after)),
        ]
        if all(fits or not value for value, fits in said):
            fitting.append((sum(fits for _, fits in said), row))
    if not fitting:
        return None
    most = max(count for count, _ in fitting)
    return [row for count, row in fitting if count == most][-1]


@in_turn
def note_asked(
    store: Store,
    event: str,
    kart: str,
    measure: str,
    before: Sequence[str],
    after: Sequence[str],
    patience_s: float = PATIENCE_S,
) -> str:
    """Record that this was asked, if it was not before; the id of its entry.

    The same sessions the other way round, or with another margin, are the same question.

    Raises:
        ArchiveBusy: another program was writing for longer than ``patience_s``.
        ArchiveError: it cannot be written.
    """
    found = _asked_before(store, event, kart, measure, before, after)
    if found is not None:
        return found
    with store.changing(patience_s) as change:
        found = _asked_before(store, event, kart, measure, before, after)
        if found is not None:
            return found
        row = {"event": event, "kart": kart, "measure": measure}
        row |= {"before": sorted(set(before)), "after": sorted(set(after))}
        schema = {name: kind for name, kind in ASKED.items() if name != "entry"}
        change.append("asked", pl.DataFrame([row], schema=schema))
        said = f"{event}, kart {kart}: {' '.join(row['before'])} against {' '.join(row['after'])}, {measure}"
        return change.commit("ask", f"asked: {said}", None, 1)


def asked_of(store: Store, events: pl.DataFrame) -> pl.DataFrame:
    """DataFrame(season, number, event, kart, measure, before, after, at, entry), in the order asked.

    ``season``: calendar year of the event, of the asking where the event has no date. ``number`` counts from 1
    in each season.
    """
    times = store.history().rows.select("entry", "at")
    return (
        store.rows("asked")
        .join(times, on="entry", how="left", maintain_order="left")
        .join(events.select("event", "date"), on="event", how="left", maintain_order="left")
        .unique(["event", "kart", "measure", "before", "after"], keep="first", maintain_order=True)
        .with_columns(pl.coalesce(pl.col("date").dt.year(), pl.col("at").dt.year()).alias("season"))
        .with_columns(pl.int_range(1, pl.len() + 1).over("season").alias("number"))
        .select("season", "number", "event", "kart", "measure", "before", "after", "at", "entry")
    )


def _asked_before(
    store: Store, event: str, kart: str, measure: str, before: Sequence[str], after: Sequence[str]
) -> str | None:
    sides = [sorted(set(before)), sorted(set(after))]
    for row in store.rows("asked").filter(
        pl.col("event") == event, pl.col("kart") == kart, pl.col("measure") == measure
    ).iter_rows(named=True):  # fmt: skip
        if [row["before"], row["after"]] in (sides, sides[::-1]):
            return str(row["entry"])
    return None


def _driven(store: Store, event: str, after: Sequence[str] | None) -> bool:
    """Whether laps of those sessions of the event ever came in, taken back since or not; of any for None."""
    sessions = sessions_ever(store, event)
    return bool(sessions & set(after)) if after else bool(sessions)


def _checked(event: str, fields: Mapping[str, Any]) -> dict[str, Any]:
    strange = [name for name in fields if name not in FIELDS]
    if strange or not fields or not event.strip():
        what = f"A question has no field {strange[0]!r}." if strange else "Nothing was said of the question."
        raise QuestionError(what, "Give one or more of " + ", ".join(FIELDS) + ".", event)
    margin, expected = fields.get("margin"), fields.get("expected")
    if margin is not None and not (math.isfinite(margin) and margin > 0):
        raise QuestionError(
            f"A worthwhile margin of {margin} is not possible.",
            "Give a number above 0, in the measure's unit.",
            "margin",
        )
    if expected is not None and expected not in EXPECTED:
        raise QuestionError(
            f"{expected!r} is no direction.", "Say one of: " + ", ".join(EXPECTED) + ".", "expected"
        )
    _check_measure(fields.get("measure"))
    values = dict(fields)
    for name in ("before", "after"):
        given = values.get(name)
        if isinstance(given, str):
            raise QuestionError("One label stands where a list is needed.", f"Give {name} as a list.", name)
        if given is not None:
            values[name] = list(dict.fromkeys(given)) or None
    return values


def _check_measure(measure: str | None) -> None:
    from lapdelta.effect.measures import measure_names

    if measure is not None and measure not in measure_names(_MOST_SECTORS):
        listed = ", ".join(measure_names(1))
        raise QuestionError(f"There is no measure {measure!r}.", f"Measures are {listed}, ..", "measure")
