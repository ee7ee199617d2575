"""How far each part of the box has run by the archive's laps, and what that cost."""

from dataclasses import asdict, dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Any

import polars as pl

from lapdelta.archive.parts_table import lap_lengths
from lapdelta.gearing.box import KINDS, Kind, PartWear, Run, box_wear
from lapdelta.parts.box import SAME_PITCH_MM, SHEET, BoxPart, box_parts

if TYPE_CHECKING:
    from lapdelta.archive import Archive


@dataclass(frozen=True)
class UnclearLaps:
    """Laps that no part of the box could be charged with.

    Attributes:
        event, kart: where they were run, and on which of our karts.
        sessions: labels, in the order of the setup sheet.
        kind: the kind of part.
        laps: how many, all these sessions together.
        reason: why, with what would settle it.
    """

    event: str
    kart: str
    sessions: tuple[str, ...]
    kind: str
    laps: int
    reason: str


@dataclass(frozen=True)
class Box:
    """The sprocket box with its wear.

    Attributes:
        parts: in the order in which they were written down.
        wear: one for each part.
        worn_together: (name, name, laps), most first: what is worn together is changed together.
        unclear: laps that could not be charged to a part.
        without_length: events whose lap length is not known; their kilometres are left out.
    """

    parts: tuple[BoxPart, ...]
    wear: tuple[PartWear, ...]
    worn_together: tuple[tuple[str, str, int], ...]
    unclear: tuple[UnclearLaps, ...]
    without_length: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        """Plain values for ``--json``; dates stay dates."""
        rows: list[dict[str, Any]] = []
        for one, wear in zip(self.parts, self.wear, strict=True):
            facts = wear.to_dict()
            rows.append(
                facts.pop("part") | facts | {"bought": one.bought, "retired": one.retired, "notes": one.notes}
            )
        return {
            "parts": rows,
            "worn_together": [list(pair) for pair in self.worn_together],
            "unclear": [asdict(one) for one in self.unclear],
            "without_length": list(self.without_length),
        }


def box(archive: "Archive") -> Box:
    """The box with laps, kilometres and cost of every part.

    Laps are our karts' laps in the archive (out and in laps and those set aside included: they wear as
    well). The setup sheet says what was fitted: by ``engine_part``, ``axle_part`` and ``chain_part``, else
    by teeth, links and pitch where just one part in use on that day has them.
    """
    parts = box_parts(archive)
    lengths, missing = _lengths_by_event(archive)
    runs: list[Run] = []
    unclear: dict[tuple[str, str, str, str], UnclearLaps] = {}
    rows = _sessions_run(archive)
    for row in rows:
        names: list[str] = []
        for kind in KINDS:
            found = _fitted(parts, kind, row)
            if isinstance(found, str):
                _add_unclear(unclear, row, kind, found)
            elif found is not None:
                names.append(found.part.name)
        if names:
            runs.append(Run(tuple(names), row["laps"], lengths.get(row["event"])))
    wear = box_wear([one.part for one in parts], runs)
    together = sorted(
        ((one.part.name, name, laps) for one in wear for name, laps in one.ran_with if one.part.name < name),
        key=lambda pair: (-pair[2], pair[0], pair[1]),
    )
    used = {row["event"] for row in rows}
    return Box(parts, wear, tuple(together), tuple(unclear.values()), tuple(e for e in missing if e in used))


def _add_unclear(
    unclear: dict[tuple[str, str, str, str], UnclearLaps], row: dict[str, Any], kind: Kind, reason: str
) -> None:
    """One line for all sessions of a kart and day with the same reason."""
    key = (row["event"], row["kart"], kind, reason)
    before = unclear.get(key, UnclearLaps(row["event"], row["kart"], (), kind, 0, reason))
    unclear[key] = replace(
        before, sessions=(*before.sessions, row["session"]), laps=before.laps + row["laps"]
    )


def _lengths_by_event(archive: "Archive") -> tuple[dict[str, float], list[str]]:
    """Lap length of every event that has one (its own before its track's), and the events without."""
    written: list[dict[str, Any]] = lap_lengths(archive.folder).to_dicts()
    known = {(row["about"], row["name"]): row["lap_length_m"] for row in written if row["lap_length_m"]}
    lengths: dict[str, float] = {}
    missing: list[str] = []
    for event, track in archive.events.select("event", "track").iter_rows():
        length = known.get(("event", event)) or known.get(("track", track))
        if length is None:
            missing.append(event)
        else:
            lengths[event] = length
    return lengths, missing


def _sessions_run(archive: "Archive") -> list[dict[str, Any]]:
    """Rows of the setup sheet of our karts with the laps run and the day of the event."""
    events = archive.events.select("event", pl.col("date").alias("event_date"), "our_kart")
    sheet = archive.setups.join(events, on="event", how="inner", maintain_order="left")
    named = pl.col("other").list.eval(
        pl.element().struct.field("key").is_in([key for _, key in SHEET.values()])
    )
    ours = (pl.col("kart") == pl.col("our_kart")) | named.list.any().fill_null(False)
    sheet = sheet.filter(ours.fill_null(False))
    if sheet.is_empty():
        return []
    laps = archive.laps(with_set_aside=True).group_by("event", "session", "kart").agg(pl.len().alias("laps"))
    return sheet.join(laps, on=["event", "session", "kart"], how="inner", maintain_order="left").to_dicts()


def _fitted(parts: tuple[BoxPart, ...], kind: Kind, row: dict[str, Any]) -> BoxPart | str | None:
    """The part of that kind that ran; a reason if it cannot be told; None if the sheet says nothing of it."""
    column, key = SHEET[kind]
    here = [one for one in parts if one.part.kind == kind and _in_use(one, row["event_date"])]
    said = {pair["key"]: pair["value"] for pair in row["other"] or ()}.get(key)
    if said is not None:
        named = next((one for one in parts if one.part.kind == kind and one.part.name == said), None)
        return named or f"The sheet names {said!r}, which is not in the box."
    if row[column] is None:
        return None
    pitch = row["chain_pitch_mm"]
    fitting = [
        one
        for one in here
        if one.part.size == row[column] and (pitch is None or abs(one.part.pitch_mm - pitch) <= SAME_PITCH_MM)
    ]
    if len(fitting) == 1:
        return fitting[0]
    if not fitting:
        return f"No {kind} of {row[column]} in the box in use on that day."
    several = ", ".join(one.part.name for one in fitting)
    return f"Several fit ({several}): say which on the setup sheet with {key}=NAME."


def _in_use(one: BoxPart, day: date | None) -> bool:
    """Whether a part was owned and not put away on a day; without a day it counts."""
    if day is None:
        return True
    return (one.bought is None or one.bought <= day) and (one.retired is None or day <= one.retired)
