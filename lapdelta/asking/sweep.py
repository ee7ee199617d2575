"""Every setup change of every kart of every event, answered: for a club or a federation.

One task an event, on any ``concurrent.futures.Executor``: processes of this machine, or a cluster's
(``distributed.Client.get_executor()``). A task opens the archive by its folder and reads its event only, so its
cost does not grow with the archive. Neighbour differences of other days are left out for the same reason.
"""

from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import Executor
from functools import lru_cache, partial
from typing import Any

import polars as pl

from lapdelta.archive import Archive
from lapdelta.effect.finding import Finding
from lapdelta.effect.measures import measure_names
from lapdelta.errors import QuestionError
from lapdelta.question import compare
from lapdelta.setups import proposed_questions

#: One row a change. ``driver`` as printed for the kart in the sessions; null where names are left out.
SWEPT = pl.Schema(
    {
        "event": pl.String(),
        "kart": pl.String(),
        "driver": pl.String(),
        "change": pl.String(),
        "before": pl.List(pl.String()),
        "after": pl.List(pl.String()),
        "measure": pl.String(),
        "unit": pl.String(),
        "verdict": pl.String(),
        "estimate": pl.Float64(),
        "standard_error": pl.Float64(),
        "low": pl.Float64(),
        "high": pl.Float64(),
        "dof": pl.Float64(),
        "p_value": pl.Float64(),
        "reason": pl.String(),
    }
)

_ANSWERED = ("unit", "verdict", "estimate", "standard_error", "low", "high", "dof", "p_value")

#: Sectors a lap may have.
_MOST_SECTORS = 99


def sweep(
    archive: Archive,
    *,
    measure: str = "lap_time",
    margin: float | None = None,
    confidence: float = 0.95,
    events: Sequence[str] | None = None,
    names: bool = True,
    executor: Executor | None = None,
) -> pl.DataFrame:
    """Table of SWEPT by event, kart and change.

    Args:
        archive: with laps and setup sheets; workers open its folder by the same name.
        measure, margin, confidence: as for ``compare``.
        events: only these; None for all.
        names: whether drivers' names are in the table; kart numbers are.
        executor: runs a task an event; None for this process.

    Raises:
        QuestionError: the measure is none.
    """
    done = [
        row
        for rows in sweep_events(archive, events, measure, margin, confidence, names, executor)
        for row in rows
    ]
    return pl.DataFrame(done, schema=SWEPT)


def sweep_events(
    archive: Archive,
    events: Sequence[str] | None,
    measure: str,
    margin: float | None,
    confidence: float,
    names: bool,
    executor: Executor | None,
) -> Iterator[list[dict[str, Any]]]:
    """The rows of one event after the other, as they are done (for progress)."""
    if measure not in measure_names(_MOST_SECTORS):
        raise QuestionError(
            f"There is no measure {measure!r}.", f"Measures are {', '.join(measure_names(1))}, ..", "measure"
        )
    chosen = list(archive.events["event"]) if events is None else list(events)
    task = partial(
        event_rows, archive.location, measure=measure, margin=margin, confidence=confidence, names=names
    )
    results: Iterable[list[dict[str, Any]]] = executor.map(task, chosen) if executor else map(task, chosen)
    yield from results


def event_rows(
    location: str, event: str, *, measure: str, margin: float | None, confidence: float, names: bool
) -> list[dict[str, Any]]:
    """The rows of one event; what a worker runs."""
    archive = _opened(location)
    setups = archive.setups.filter(pl.col("event") == event)
    if setups.is_empty():
        return []
    laps = archive.laps(event)
    rows: list[dict[str, Any]] = []
    for kart in setups["kart"].unique(maintain_order=True):
        mine = laps.filter(pl.col("kart") == kart)
        sessions: list[str] = mine["session"].unique(maintain_order=True).to_list()
        for change in proposed_questions(setups, sessions, event, kart):
            known = {"event": event, "kart": kart, "measure": measure, "change": change["text"]}
            known |= {"before": change["before"], "after": change["after"]}
            known["driver"] = _driver(mine) if names else None
            asked: dict[str, Any] = {name: known[name] for name in ("kart", "before", "after", "measure")}
            try:
                found = compare(laps, **asked, margin=margin, confidence=confidence, setups=setups)
            except QuestionError as error:  # laps without that measure, say: this event's row says so
                rows.append({**known, "verdict": "cannot be told", "reason": str(error)})
            else:
                rows.append({**known, **_answer(found)})
    return rows


@lru_cache(maxsize=2)
def _opened(location: str) -> Archive:
    """The archive, open once a process."""
    return Archive(location)


def _driver(laps: pl.DataFrame) -> str | None:
    return "; ".join(laps["driver"].drop_nulls().unique(maintain_order=True)) or None


def _answer(finding: Finding) -> dict[str, Any]:
    values = {name: getattr(finding, name) for name in _ANSWERED}
    return {**values, "reason": finding.reasons[0] if finding.reasons else None}
