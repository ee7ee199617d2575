"""How far each part of the box has run by the archive's laps, and what that cost."""

from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any

from lapdelta.archive.archive import laps_by_kart
from lapdelta.archive.parts_table import lap_lengths
from lapdelta.gearing.box import KINDS, Kind, PartWear, Run, box_wear
from lapdelta.parts.box import BoxPart, box_parts, part_fitted, sheet_rows

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
    used: set[str] = set()
    for row in _sessions_run(archive):
        names: list[str] = []
        for kind in KINDS:
            found = part_fitted(parts, kind, row)
            if isinstance(found, str):
                _add_unclear(unclear, row, kind, found)
            elif found is not None:
                names.append(found.part.name)
        if names:
            used.add(row["event"])
            runs.append(Run(tuple(names), row["laps"], lengths.get(row["event"])))
    wear = box_wear([one.part for one in parts], runs)
    together = sorted(
        ((one.part.name, name, laps) for one in wear for name, laps in one.ran_with if one.part.name < name),
        key=lambda pair: (-pair[2], pair[0], pair[1]),
    )
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
    """Rows of the setup sheet with the laps run; sessions without laps are left out."""
    rows = sheet_rows(archive)
    driven = laps_by_kart(archive, sorted({row["event"] for row in rows}))
    laps = {
        tuple(key): count for *key, count in driven.select("event", "session", "kart", "laps").iter_rows()
    }
    keyed = [((row["event"], row["session"], row["kart"]), row) for row in rows]
    return [{**row, "laps": laps[key]} for key, row in keyed if key in laps]
