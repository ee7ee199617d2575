"""Which days belong to one circuit, and which do not although their name says so."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

import polars as pl

from lapdelta.question.arrays import fingerprint
from lapdelta.seasons.days import EventDay

#: Clean pace further apart than this within a name: two circuits or layouts under one name.
TWO_TRACKS = 0.10
#: Clean pace further apart than this: another state of the track, a wet day among dry ones say.
ANOTHER_STATE = 0.05


@dataclass(frozen=True)
class Circuit:
    """Days of one circuit that may be put together, by date, and days that may not (rows as ``left_out``)."""

    track: str
    days: tuple[EventDay, ...]
    left_out: tuple[dict[str, Any], ...] = field(default=())


def track_keys(events: pl.DataFrame | None, laps: pl.DataFrame) -> dict[str, tuple[str, date | None]]:
    """Circuit and date by event: name, layout and direction joined; what is not written down is left out."""
    dates: dict[str, date | None] = dict(
        laps.group_by("event", maintain_order=True).agg(pl.col("date").drop_nulls().first()).iter_rows()
    )
    found: dict[str, tuple[str, date | None]] = {event: ("", when) for event, when in dates.items()}
    if events is None:
        return found
    for row in events.iter_rows(named=True):
        if row["event"] in found:
            parts = [row.get(name) for name in ("track", "layout", "direction")]
            key = ", ".join(str(part).strip() for part in parts if part)
            found[row["event"]] = (key, dates[row["event"]] or row.get("date"))
    return found


def without_copies(days: Sequence[EventDay]) -> tuple[list[EventDay], list[dict[str, Any]]]:
    """Days, and those left out (rows as ``left_out``) because their laps stand under another event too."""
    first: dict[str, str] = {}
    kept: list[EventDay] = []
    copies: list[dict[str, Any]] = []
    for day in days:
        name = first.setdefault(fingerprint(day.day), day.event)
        if name == day.event:
            kept.append(day)
            continue
        laps = int(day.day.cube.usable[0].sum())
        copies.append(
            {"event": day.event, "session": None, "reason": f"the same laps as {name}", "laps": laps}
        )
    return kept, copies


def circuits(days: Sequence[EventDay]) -> list[Circuit]:
    """Days by circuit in order of their first day, odd days set apart."""
    names = dict.fromkeys(day.track for day in days)
    return [_circuit(name, [day for day in days if day.track == name]) for name in names]


def _circuit(name: str, days: list[EventDay]) -> Circuit:
    paced = sorted((day for day in days if day.our_pace_s == day.our_pace_s), key=lambda day: day.our_pace_s)
    groups: list[list[EventDay]] = []
    for day in paced:
        if groups and day.our_pace_s <= groups[-1][-1].our_pace_s * (1 + ANOTHER_STATE):
            groups[-1].append(day)
        else:
            groups.append([day])
    if not groups:
        return Circuit(name, (), tuple(row for day in days for row in day.left_out()))
    main = max(groups, key=lambda group: (sum(int(day.used.sum()) for day in group), group[0].event))
    level = sum(day.our_pace_s for day in main) / len(main)
    names = {day.event for day in main}
    odd = [_row(day, level) for day in paced if day.event not in names]
    known = names | {row["event"] for row in odd}
    rest = [row for day in days if day.event in names or day.event not in known for row in day.left_out()]
    return Circuit(name, tuple(day for day in days if day.event in names), (*odd, *rest))


def _row(day: EventDay, level: float) -> dict[str, Any]:
    apart = day.our_pace_s / level - 1
    way = "slower" if apart > 0 else "faster"
    what = "another track or layout under the same name" if abs(apart) > TWO_TRACKS else "another track state"
    return {
        "event": day.event,
        "session": None,
        "reason": f"clean pace {abs(apart):.0%} {way} than on the other days: {what}",
        "laps": int(day.day.cube.usable[0].sum()),
    }
