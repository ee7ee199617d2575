"""What a setting was worth, all days of a season together."""

import hashlib
from collections.abc import Sequence
from concurrent.futures import Executor
from typing import Any

import polars as pl

import lapdelta
from lapdelta.asking.renumber import renumbered
from lapdelta.effect.measures import find_measure, measure_names
from lapdelta.effect.season_finding import SeasonFinding
from lapdelta.errors import QuestionError
from lapdelta.question.arrays import fingerprint, sector_count
from lapdelta.question.asked import with_all_columns
from lapdelta.question.sheet import entries_of
from lapdelta.seasons.changes import day_shifts, pooled_changes
from lapdelta.seasons.days import EventDay, event_days
from lapdelta.seasons.design import design_table
from lapdelta.seasons.factor import Factor, find_factor
from lapdelta.seasons.pooling import across_tracks
from lapdelta.seasons.repeat import learned
from lapdelta.seasons.response import Asked, track_response
from lapdelta.seasons.sentences import season_sentences
from lapdelta.seasons.tracks import Circuit, circuits, track_keys, without_copies

__all__ = ["SeasonFinding", "season"]


def season(
    laps: pl.DataFrame,
    *,
    kart: str | None = None,
    setups: pl.DataFrame,
    events: pl.DataFrame | None = None,
    measure: str = "lap_time",
    margin: float | None = None,
    confidence: float = 0.95,
    factor: str = "axle_teeth",
    track: str | None = None,
    also: Sequence[str] = (),
    executor: Executor | None = None,
) -> SeasonFinding:
    """What a setting was worth over all days: response by circuit, the same change on several days, repeatability.

    Args:
        laps: ``tables.EVENT_LAPS``; without ``event`` every date is an event.
        kart: our kart's number; None takes it from ``events``.
        setups: the setup sheet (``tables.SETUPS``).
        events: ``tables.EVENTS``: circuits, dates, and our number where it differs from event to event.
        measure: as for ``compare``.
        margin: worthwhile margin in the measure's unit; None takes the measure's default.
        confidence: of all intervals, between 0.5 and 1.
        factor: axle_teeth (as ratio to the engine sprocket), pressure_rear, pressure_front, a single
            pressure, total_weight_kg, ballast_kg, tyre_laps, air_temperature_c or track_temperature_c.
        track: only this circuit.
        also: further factors, as ``factor``: what each is worth with the others held, where they varied apart.
        executor: screens the events in parallel; any executor whose workers can import lapdelta.

    Raises:
        QuestionError: no laps, an unknown kart, measure, factor or circuit, numbers that cannot be.
    """
    table = _with_events(laps)
    _no_entry_twice(setups)
    table, sheet, kart = _ours(table, setups, events, kart)
    asked = _asked(table, sheet, kart, measure, margin, confidence, factor, also)
    keys = track_keys(events, table)
    if track is not None:
        keys = {event: key for event, key in keys.items() if _is_track(key[0], track)}
        if not keys:
            raise QuestionError(
                f"There is no event at {track}.", "See the circuits with: lapdelta events", "track"
            )
        table = table.filter(pl.col("event").is_in(list(keys)))
    days = event_days(table, kart, sheet, keys, asked.measure, asked.factor, executor, asked.also)
    single, aside = without_copies(days)
    if events is not None and kart in events["our_kart"]:
        aside += _without_our_kart(events, table, [day.event for day in days])
    return _finding(circuits(single), days, sheet, kart, asked, aside)


def _without_our_kart(events: pl.DataFrame, laps: pl.DataFrame, found: list[str]) -> list[dict[str, Any]]:
    """Rows as ``left_out`` for events of which a kart is written down as ours, but none of our laps was found."""
    there = pl.col("event").is_in(laps["event"].unique().to_list()) & ~pl.col("event").is_in(found)
    rows = events.filter(there, pl.col("our_kart").is_not_null()).select("event", "our_kart")
    return [
        {
            "event": event,
            "session": None,
            "reason": f"no lap is of kart {ours}, written down as ours",
            "laps": 0,
        }
        for event, ours in rows.iter_rows()
    ]


def _finding(
    places: list[Circuit], days: list[EventDay], sheet: pl.DataFrame, kart: str, asked: Asked,
    aside: list[dict[str, Any]],
) -> SeasonFinding:  # fmt: skip
    answers = [track_response(place, asked) for place in places]
    tracks = [row for row, _ in answers]
    kept = [day for place in places for day in place.days]
    shifts = day_shifts(kept, asked)
    changes = pooled_changes(shifts, asked)
    repeat = learned(kept, sheet, kart, asked.confidence)
    design = design_table(kept)
    also = [one.name for one in asked.also]
    left_out = [*aside, *(row for place in places for row in place.left_out)]
    said = season_sentences(tracks, changes, repeat, design, left_out, asked.measure, asked.factor)
    assumed = asked.factor.assumed
    if assumed:
        said.append(f"Assumed: {assumed}.")
    digest = hashlib.sha256("".join(fingerprint(day.day) for day in days).encode())
    return SeasonFinding(
        kart=kart,
        measure=asked.measure.name,
        unit=asked.measure.unit,
        factor=asked.factor.name,
        factor_unit=asked.factor.unit,
        margin=asked.margin,
        confidence=asked.confidence,
        tracks=tuple(tracks),
        across_tracks=across_tracks([(row["track"], fit) for row, fit in answers], asked.confidence),
        changes=tuple(changes),
        days=tuple(shifts),
        repeatability=repeat,
        design=design,
        left_out=tuple(left_out),
        counts=_counts(places, days),
        sentences=tuple(said),
        fingerprint=digest.hexdigest(),
        settings={"engine_teeth": asked.factor.engine or None, "assumed": assumed or None, "also": also},
        version=lapdelta.__version__,
    )


def _counts(places: list[Circuit], days: list[EventDay]) -> dict[str, int]:
    kept = [day for place in places for day in place.days]
    used = sum(int(day.used.sum()) for day in kept)
    everything = sum(len(day.day.sessions) for day in days)
    return {
        "events": len(days),
        "events_used": sum(bool(day.used.any()) for day in kept),
        "sessions": everything,
        "sessions_used": used,
        "sessions_left_out": everything - used,
        "laps": sum(int(day.day.cube.exists.sum()) for day in days),
        "our_laps_used": sum(int(day.prepared.cells.laps[0][day.used].sum()) for day in kept),
    }


def _with_events(laps: pl.DataFrame) -> pl.DataFrame:
    table = with_all_columns(laps)
    if table.is_empty():
        raise QuestionError("There are no laps.", "Bring some in with: lapdelta import FILE...")
    if "event" in table.columns:
        return table
    return table.with_columns(event=pl.col("date").cast(pl.String).fill_null("all laps"))


def _no_entry_twice(setups: pl.DataFrame) -> None:
    """Two entries for one session would count as whichever comes last: refused."""
    key = [name for name in ("event", "session", "kart") if name in setups.columns]
    twice = setups.filter(setups.select(key).is_duplicated())
    if twice.is_empty():
        return
    first = " ".join(str(value) for value in twice.select(key).row(0))
    raise QuestionError(f"The setup sheet has two entries for {first}.", "Leave one of them.", "setups")


def _ours(
    laps: pl.DataFrame, setups: pl.DataFrame, events: pl.DataFrame | None, kart: str | None
) -> tuple[pl.DataFrame, pl.DataFrame, str]:
    """Laps and sheet with our kart under one number."""
    numbers = pl.DataFrame(schema={"event": pl.String, "ours": pl.String})
    if events is not None:
        numbers = events.select("event", pl.col("our_kart").alias("ours"))
    known: list[str] = numbers["ours"].drop_nulls().to_list()
    label = kart or (max(known, key=known.count) if known else None)
    if label is None:
        raise QuestionError(
            "Nobody has written down which kart is ours.",
            "Say it with --kart, or for an event with: lapdelta events EVENT --our-kart NUMBER",
            "--kart",
        )
    if label in known:
        laps, setups = renumbered(laps, numbers, label), renumbered(setups, numbers, label)
    if label not in laps["kart"].unique():
        raise QuestionError(f"There is no kart {label} in these laps.", "See: lapdelta sessions", "--kart")
    return laps, setups, label


def _entries(sheet: pl.DataFrame, kart: str) -> list[dict[str, Any]]:
    events: Sequence[str] = sheet["event"].unique(maintain_order=True).to_list()
    return [entry for event in events for entry in entries_of(sheet, event).get(kart, {}).values()]


def _asked(
    laps: pl.DataFrame, sheet: pl.DataFrame, kart: str, measure: str, margin: float | None,
    confidence: float, factor: str, also: Sequence[str],
) -> Asked:  # fmt: skip
    found = find_measure(measure, sector_count(laps))
    if found is None:
        names = ", ".join(measure_names(sector_count(laps)))
        raise QuestionError(f"There is no measure {measure} in these laps.", f"Possible: {names}.", "measure")
    if margin is not None and not 0 < margin < float("inf"):
        raise QuestionError(
            f"A worthwhile margin of {margin} is not possible.", "Give a number above 0.", "margin"
        )
    if not 0.5 < confidence < 1:
        raise QuestionError(
            f"A confidence of {confidence} is not possible.",
            "Give a number between 0.5 and 1, as 0.95.",
            "confidence",
        )
    entries = _entries(sheet, kart)
    setting = find_factor(factor, entries)
    further = tuple(_further(name, setting, entries) for name in dict.fromkeys(also))
    return Asked(found, setting, found.margin if margin is None else float(margin), confidence, further)


def _further(name: str, setting: Factor, entries: list[dict[str, Any]]) -> Factor:
    """A further factor, another one than the one asked about."""
    found = find_factor(name, entries)
    if set(found.items) & {*setting.items, *setting.kin}:
        raise QuestionError(
            f"{name} is part of {setting.name} itself.", "Name another factor beside it.", "also"
        )
    return found


def _is_track(key: str, wanted: str) -> bool:
    name, asked = key.casefold(), wanted.strip().casefold()
    return name == asked or name.split(",")[0] == asked
