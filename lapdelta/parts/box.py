"""The sprocket box: what is owned, what is put away, and how long a lap is."""

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from lapdelta.archive.parts_table import parts_table, put_lap_length, put_part
from lapdelta.errors import ArchiveError, SetupError
from lapdelta.gearing.box import KINDS, Kind, Part
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
