"""Every kart of an archive, for clubs: repeatability of all, the response of those with a setup sheet."""

from concurrent.futures import Executor
from dataclasses import asdict
from typing import Any

import polars as pl

from lapdelta.effect.measures import Measure, find_measure
from lapdelta.effect.season_repeat import Steps, repeatability
from lapdelta.errors import QuestionError
from lapdelta.question.arrays import sector_count
from lapdelta.question.asked import with_all_columns
from lapdelta.question.sheet import entries_of
from lapdelta.seasons import season
from lapdelta.seasons.days import event_days
from lapdelta.seasons.factor import find_factor
from lapdelta.seasons.repeat import kart_steps
from lapdelta.seasons.tracks import track_keys


def sweep(
    laps: pl.DataFrame,
    *,
    setups: pl.DataFrame,
    events: pl.DataFrame | None = None,
    measure: str = "lap_time",
    confidence: float = 0.95,
    factor: str = "axle_teeth",
    named: bool = False,
    executor: Executor | None = None,
) -> list[dict[str, Any]]:
    """One row a kart: ``kart events sessions repeatability responses``, in order of first appearance.

    Args:
        laps: ``tables.EVENT_LAPS``.
        setups: the setup sheet; karts for which it does not tell the factor get no response.
        events: circuits and dates.
        measure, confidence, factor, executor: as for ``season``.
        named: print kart numbers; False replaces them by "kart A", "kart B", ...

    Returns:
        ``repeatability`` as in ``SeasonFinding.repeatability["ours"]``; ``responses`` rows ``track state best
        best_low best_high``. A number is taken as one kart at every event.

    Raises:
        QuestionError: as ``season``.
    """
    table = with_all_columns(laps)
    found = find_measure(measure, sector_count(table))
    if found is None:
        raise QuestionError(
            f"There is no measure {measure} in these laps.", "See: lapdelta season --help", "measure"
        )
    karts: list[str] = table["kart"].drop_nulls().unique(maintain_order=True).to_list()
    scatter = _scatter(table, setups, events, found, factor, executor)
    fitted = _fitted(setups, factor)
    nameless = _unnumbered(events)
    rows: list[dict[str, Any]] = []
    for place, kart in enumerate(karts):
        mine = table.filter(pl.col("kart") == kart)
        options: dict[str, Any] = {"measure": measure, "factor": factor, "confidence": confidence}
        answer, scattered = None, repeatability(scatter.get(kart, []), confidence)
        if kart in fitted:
            answer = season(table, kart=kart, setups=setups, events=nameless, **options)
        rows.append(
            {
                "kart": kart if named else f"kart {_letters(place)}",
                "events": mine["event"].n_unique(),
                "sessions": mine.select("event", "session").n_unique(),
                "repeatability": asdict(scattered) if scattered else None,
                "responses": [
                    {key: track[key] for key in ("track", "state", "best", "best_low", "best_high")}
                    for track in (answer.tracks if answer else ())
                ],
            }
        )
    return rows


def _fitted(setups: pl.DataFrame, factor: str) -> set[str]:
    """Karts for which the sheet tells the factor of some session."""
    setting, events = find_factor(factor, []), setups["event"].unique().to_list()
    sheets = [pair for event in events for pair in entries_of(setups, event).items()]
    return {
        kart for kart, entries in sheets if any(setting.x_of(one) is not None for one in entries.values())
    }


def _unnumbered(events: pl.DataFrame | None) -> pl.DataFrame | None:
    """Events without "our" number: in a sweep every kart is taken under its own."""
    return None if events is None else events.with_columns(our_kart=pl.lit(None, dtype=pl.String))


def _letters(place: int) -> str:
    """A, B, .. Z, AA, AB, .."""
    text = ""
    place += 1
    while place:
        place, letter = divmod(place - 1, 26)
        text = chr(65 + letter) + text
    return text


def _scatter(
    table: pl.DataFrame, setups: pl.DataFrame, events: pl.DataFrame | None, measure: Measure, factor: str,
    executor: Executor | None,
) -> dict[str, list[Steps]]:  # fmt: skip
    """Neighbour differences of every kart; events go to the executor where one is given."""
    days = [here for _, here in table.group_by("event", maintain_order=True)]
    sheets = [setups.filter(pl.col("event") == day["event"][0]) for day in days]
    work = days, sheets, [events] * len(days), [measure] * len(days), [factor] * len(days)
    done = list(executor.map(_event_steps, *work) if executor else map(_event_steps, *work))
    found: dict[str, list[Steps]] = {}
    for kart, steps in (pair for event in done for pair in event):
        found.setdefault(kart, []).append(steps)
    return found


def _event_steps(
    here: pl.DataFrame, setups: pl.DataFrame, events: pl.DataFrame | None, measure: Measure, factor: str
) -> list[tuple[str, Steps]]:
    """Neighbour differences of the karts of one event, screened once from the view of its busiest kart."""
    busiest = here.group_by("kart", maintain_order=True).agg(pl.col("session").n_unique())
    kart: str = busiest.sort("session", descending=True, maintain_order=True)["kart"][0]
    setting = find_factor(factor, [])
    day = event_days(here, kart, setups, track_keys(events, here), measure, setting, None)[0]
    entries = entries_of(setups, day.event)
    return [
        (name, kart_steps(day, row, entries.get(name), name in entries))
        for row, name in enumerate(day.day.karts)
    ]
