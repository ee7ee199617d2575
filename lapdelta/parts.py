"""The sprocket box: what is owned, how far each part has run by the archive's laps, and what that cost."""

from dataclasses import asdict, dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Any

import polars as pl

from lapdelta.archive.parts_table import lap_lengths, parts_table, put_lap_length, put_part
from lapdelta.errors import ArchiveError, SetupError
from lapdelta.gearing.box import KINDS, Kind, Part, PartWear, Run, box_wear
from lapdelta.gearing.checks import whole_links, whole_teeth, within

if TYPE_CHECKING:
    from lapdelta.archive import Archive

#: kind -> (column of the setup sheet that holds its size, key on the sheet that names the very part)
SHEET: dict[str, tuple[str, str]] = {
    "engine sprocket": ("engine_teeth", "engine_part"),
    "axle sprocket": ("axle_teeth", "axle_part"),
    "chain": ("chain_links", "chain_part"),
}
#: Chain pitches, mm: what is outside is a slip of the keyboard (the setup sheet's own range).
SMALLEST_PITCH_MM, LARGEST_PITCH_MM = 4.0, 20.0
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
        "pitch_mm": within(pitch_mm, "pitch_mm", SMALLEST_PITCH_MM, LARGEST_PITCH_MM, "mm"),
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
