"""Repeatability learned from a season: ours, the other karts', and by event; what ``compare`` and ``plan_test`` take.

Keys: ``ours`` and ``others`` (dicts ``session_sd low high tau lap_sd differences dof``, None where nothing
tells), ``events`` (rows ``event date ours others differences``, standard deviations), ``history`` (our
neighbour differences, as ``compare(history=...)`` takes them), ``session_sd`` and ``lap_sd`` (as
``plan_test`` takes them), ``more_erratic_p``, ``conflicts`` (rows ``event who session_sd rest_sd p`` of days
on which ours or the others scattered unlike the other days, beyond chance).
"""

from collections.abc import Sequence
from dataclasses import asdict
from itertools import pairwise
from typing import Any

import numpy as np
import polars as pl

from lapdelta.effect.arrays import Bools, Floats
from lapdelta.effect.season_repeat import (
    Steps,
    more_erratic_p,
    odd_days,
    repeatability,
    steps_of,
)
from lapdelta.question.sheet import Entry, entries_of, same_settings
from lapdelta.seasons.days import EventDay


def learned(days: Sequence[EventDay], setups: pl.DataFrame, kart: str, confidence: float) -> dict[str, Any]:
    """Repeatability from all neighbouring sessions in which nothing was changed."""
    ours: list[Steps] = []
    others: list[list[Steps]] = []
    events: list[dict[str, Any]] = []
    for day in days:
        entries = entries_of(setups, day.event)
        found = [kart_steps(day, row, entries.get(name), row == 0) for row, name in enumerate(day.day.karts)]
        ours.append(found[0])
        others.append(found[1:])
        events.append(_event_row(day, found, confidence))
    mine = repeatability(ours, confidence)
    theirs = repeatability([step for day in others for step in day], confidence)
    known = mine or theirs
    who = (("ours", [[step] for step in ours]), ("others", others))
    names = [day.event for day in days]
    conflicts = [row for name, steps in who for row in _conflicts(name, names, steps, confidence)]
    return {
        "ours": asdict(mine) if mine else None,
        "others": asdict(theirs) if theirs else None,
        "events": events,
        "history": [value for day in ours for value in day.values],
        "session_sd": known.tau if known else None,
        "lap_sd": _lap_sd(days),
        "more_erratic_p": more_erratic_p(mine, theirs) if mine and theirs and theirs.session_sd > 0 else None,
        "conflicts": conflicts,
        "kart": kart,
    }


def _conflicts(
    who: str, events: Sequence[str], steps: Sequence[Sequence[Steps]], confidence: float
) -> list[dict[str, Any]]:
    """Days whose scatter contradicts that of the others."""
    return [
        {
            "event": events[odd.day],
            "who": who,
            "session_sd": odd.session_sd,
            "rest_sd": odd.rest_sd,
            "p": odd.p,
        }
        for odd in odd_days(steps, confidence)
    ]


def kart_steps(day: EventDay, row: int, entries: dict[str, Entry] | None, written: bool) -> Steps:
    """Neighbour differences of one kart; ours only where the sheet says that nothing was changed."""
    pairs = [_unchanged(entries, a, b, written) for a, b in pairwise(day.day.sessions)]
    dry = np.array([not reason.startswith("track state") for reason in day.reasons], np.bool_)
    pace: Floats = np.where(dry[None, :], day.pace, np.nan)
    same: Bools = np.array(pairs, np.bool_)
    return steps_of(pace, day.prepared.cells.variance, row, same)


def _unchanged(entries: dict[str, Entry] | None, one: str, other: str, written: bool) -> bool:
    """Another kart of which nothing is written down counts as unchanged: that can only widen."""
    if entries is None:
        return not written
    if one in entries and other in entries:
        return same_settings(entries[one], entries[other])
    return not written


def _event_row(day: EventDay, found: list[Steps], confidence: float) -> dict[str, Any]:
    mine, theirs = repeatability(found[:1], confidence), repeatability(found[1:], confidence)
    return {
        "event": day.event,
        "date": day.date.isoformat() if day.date else None,
        "track": day.track,
        "ours": mine.session_sd if mine else None,
        "ours_low": mine.low if mine else None,
        "ours_high": mine.high if mine else None,
        "others": theirs.session_sd if theirs else None,
        "differences": mine.differences if mine else 0,
    }


def _lap_sd(days: Sequence[EventDay]) -> float | None:
    """Scatter of our kept laps about the mean of their session, all days."""
    squares, dof = 0.0, 0
    for day in days:
        for time, kept in zip(day.prepared.screened.time_s[0], day.prepared.screened.kept[0], strict=True):
            laps = time[kept]
            if len(laps) > 1:
                squares += float(((laps - laps.mean()) ** 2).sum())
                dof += len(laps) - 1
    return float(np.sqrt(squares / dof)) if dof else None
