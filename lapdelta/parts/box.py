"""The sprocket box: what is owned, what is put away, and how long a lap is."""

from dataclasses import dataclass
from datetime import date
from difflib import get_close_matches
from typing import TYPE_CHECKING, Any

import polars as pl

from lapdelta.archive.parts_table import parts_table, put_lap_length, put_part
from lapdelta.errors import ArchiveError, SetupError
from lapdelta.gearing.box import KINDS, Kind, Part
from lapdelta.gearing.checks import kart_pitch, whole_links, whole_teeth, within

if TYPE_CHECKING:
    from lapdelta.archive import Archive

#: kind -> (column of the setup sheet that holds its size, key on the sheet that names the very part)
SHEET: dict[str, tuple[str, str]] = {
    "engine sprocket": ("engine_teeth", "engine_part"),
    "axle sprocket": ("axle_teeth", "axle_part"),
    "chain": ("chain_links", "chain_part"),
}
#: Pitches nearer than this are the same chain (7.774 and 7.78 mm; 9.525 and 9.53 mm).
SAME_PITCH_MM = 0.02


@dataclass(frozen=True)
class BoxPart:
    """A part of the box with what the archive knows beyond its wear.

    Attributes:
        part: as ``gearing`` knows it.
        bought, retired: days; None if not written down, or still in use.
        notes: the user's own words.
    """

    part: Part
    bought: date | None
    retired: date | None
    notes: str | None


@dataclass(frozen=True)
class Sprockets:
    """Teeth of the sprockets in use, each number once, in rising order."""

    engine_teeth: tuple[int, ...]
    axle_teeth: tuple[int, ...]


def box_parts(archive: "Archive") -> tuple[BoxPart, ...]:
    """The parts written down, retired ones included."""
    rows: list[dict[str, Any]] = parts_table(archive.folder).to_dicts()
    return tuple(
        BoxPart(
            Part(row["part"], row["kind"], row["size"], row["pitch_mm"], row["price"]),
            row["bought"],
            row["retired"],
            row["notes"],
        )
        for row in rows
    )


def sprockets_in_box(archive: "Archive", pitch_mm: float | None = None) -> Sprockets:
    """Teeth of the sprockets that are not retired, of one pitch where it is given.

    Raises:
        ArchiveError: there is no engine sprocket or no axle sprocket, or they are of several pitches.
    """
    parts = [one.part for one in box_parts(archive) if one.retired is None and one.part.kind != "chain"]
    if pitch_mm is not None:
        parts = [one for one in parts if abs(one.pitch_mm - pitch_mm) <= SAME_PITCH_MM]
    pitches = sorted({one.pitch_mm for one in parts})
    if pitches and pitches[-1] - pitches[0] > SAME_PITCH_MM:
        said = ", ".join(f"{pitch:g}" for pitch in pitches)
        raise ArchiveError(
            f"The box holds sprockets of {said} mm pitch.", "Say which with --pitch-mm.", "pitch_mm"
        )
    teeth = {kind: tuple(sorted({one.size for one in parts if one.kind == kind})) for kind in KINDS}
    for kind in KINDS[:2]:
        if not teeth[kind]:
            raise ArchiveError(
                f"There is no {kind} in the box.",
                f"Add one with: lapdelta parts add NAME --kind '{kind}' --teeth N --pitch-mm P, or name the teeth.",
                "parts",
            )
    return Sprockets(teeth[KINDS[0]], teeth[KINDS[1]])


def add_part(
    archive: "Archive", name: str, kind: Kind, size: object, pitch_mm: float, *,
    price: float | None = None, bought: date | None = None, notes: str | None = None,
) -> str:  # fmt: skip
    """Write a new part down; the entry's id.

    Raises:
        GearingError: teeth, links, pitch or price that cannot be.
        SetupError: an unknown kind, or no name.
        ArchiveError: the name is taken.
    """
    if kind not in KINDS:
        raise SetupError(f"{kind!r} is not a kind of part.", f"Say one of {', '.join(KINDS)}.", "kind")
    if not name.strip():
        raise SetupError("A part needs a name.", "Say what you call it, for example 'axle 82 red'.", "name")
    fields: dict[str, Any] = {
        "kind": kind,
        "size": whole_links(size) if kind == "chain" else whole_teeth(size, "teeth"),
        "pitch_mm": kart_pitch(pitch_mm),
        "price": None if price is None else within(price, "price", 0.0, 1e9, ""),
        "bought": bought,
        "notes": notes,
        "retired": None,
    }
    return put_part(archive.folder, name.strip(), new=True, **fields)


def retire_part(archive: "Archive", name: str, day: date | None = None) -> str:
    """Put a part away from that day on (today for None); the entry's id. It keeps its laps.

    Raises:
        ArchiveError: there is no such part.
    """
    return put_part(archive.folder, name, new=False, retired=day or date.today())


def set_lap_length(archive: "Archive", about: str, name: str, lap_length_m: float) -> str:
    """Write down the length of a lap of a track or of one event; the entry's id.

    Raises:
        GearingError: a length outside 10 m to 30 km.
        ArchiveError: neither track nor event.
    """
    length = within(lap_length_m, "lap_length_m", 10.0, 30_000.0, "m", "Give the length of a lap in metres.")
    return put_lap_length(archive.folder, about, name, length)


def unsure_of_track(archive: "Archive", track: str) -> str | None:
    """A sentence if no event has that track, with the names that are like it; None if one has."""
    tracks: list[str] = archive.events["track"].drop_nulls().unique(maintain_order=True).to_list()
    if track in tracks:
        return None
    folded = {name.casefold(): name for name in tracks}
    near = [folded[name] for name in get_close_matches(track.casefold(), list(folded), n=3, cutoff=0.6)]
    has = (
        f" Did you mean {' or '.join(near)}?"
        if near
        else f" Tracks known: {', '.join(tracks)}."
        if tracks
        else ""
    )
    return f"No event has the track {track} yet; its length is kept for when one has.{has}"


def unsure_of_event(archive: "Archive", event: str) -> str | None:
    """The same for an event of which nothing is here yet."""
    events: list[str] = archive.events["event"].to_list()
    if event in events:
        return None
    near = get_close_matches(event, events, n=3, cutoff=0.6)
    has = f" Did you mean {' or '.join(near)}?" if near else ""
    return f"Nothing of the event {event} is here yet; the length is kept for when it is.{has}"


def sheet_rows(archive: "Archive") -> list[dict[str, Any]]:
    """Rows of the setup sheet with ``event_date`` and ``our_kart`` of their event."""
    events = archive.events.select("event", pl.col("date").alias("event_date"), "our_kart")
    return archive.setups.join(events, on="event", how="left", maintain_order="left").to_dicts()


def named_on_sheet(row: dict[str, Any], kind: str) -> str | None:
    """The very part that a row of the sheet names, as ``axle_part=NAME``; None if it names none."""
    return {pair["key"]: pair["value"] for pair in row["other"] or ()}.get(SHEET[kind][1])


def part_fitted(parts: tuple[BoxPart, ...], kind: str, row: dict[str, Any]) -> BoxPart | str | None:
    """The part of that kind that ran; a reason if it cannot be told; None if the sheet says nothing of it.

    A part that is not named is ours only on our kart.

    Args:
        parts: the box.
        kind: of SHEET.
        row: of ``sheet_rows``.
    """
    column, key = SHEET[kind]
    said = named_on_sheet(row, kind)
    if said is not None:
        named = next((one for one in parts if one.part.kind == kind and one.part.name == said), None)
        return named or f"The sheet names {said!r}, which is not in the box."
    if row[column] is None or row["kart"] != row["our_kart"]:
        return None
    pitch = row["chain_pitch_mm"]
    fitting = [
        one
        for one in parts
        if one.part.kind == kind
        and _in_use(one, row["event_date"])
        and one.part.size == row[column]
        and (pitch is None or abs(one.part.pitch_mm - pitch) <= SAME_PITCH_MM)
    ]
    if len(fitting) == 1:
        return fitting[0]
    if not fitting:
        counted = "links" if kind == "chain" else "teeth"
        return f"No {kind} of {row[column]} {counted} in the box in use on that day."
    several = ", ".join(one.part.name for one in fitting)
    return f"Several fit ({several}): say which on the setup sheet with {key}=NAME."


def _in_use(one: BoxPart, day: date | None) -> bool:
    """Whether a part was owned and not put away on a day; without a day it counts."""
    if day is None:
        return True
    return (one.bought is None or one.bought <= day) and (one.retired is None or day <= one.retired)
