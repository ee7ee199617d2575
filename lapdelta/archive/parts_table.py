"""The sprocket box in the archive: what is owned, and how long a lap is where it ran."""

from datetime import date
from pathlib import Path
from typing import Any

import polars as pl

from lapdelta.archive.box_schema import LAP_LENGTHS, PARTS
from lapdelta.archive.latest import latest
from lapdelta.archive.lock import in_turn
from lapdelta.archive.remote import place_at
from lapdelta.archive.schema import KINDS
from lapdelta.archive.store import Store
from lapdelta.errors import ArchiveError

_HIDDEN = ("entry", "cleared")
_PARTS = pl.Schema({name: kind for name, kind in PARTS.items() if name not in _HIDDEN})
_LENGTHS = pl.Schema({name: kind for name, kind in LAP_LENGTHS.items() if name not in _HIDDEN})
ABOUT = ("track", "event")


def parts_table(folder: Path) -> pl.DataFrame:
    """The box as it is now: part, kind, size, pitch_mm, price, bought, retired, notes; oldest first."""
    return latest(Store(place_at(folder)).rows("parts"), ("part",), _PARTS).filter(
        pl.col("kind").is_not_null()
    )


def lap_lengths(folder: Path) -> pl.DataFrame:
    """Lap lengths written down: about ("track" or "event"), name, lap_length_m."""
    return latest(Store(place_at(folder)).rows("lap_lengths"), ("about", "name"), _LENGTHS)


@in_turn
def put_part(folder: Path, part: str, *, new: bool, why: str | None = None, **fields: Any) -> str:
    """Write a part of the box down; the entry's id. None empties a field; a field not given stays.

    Args:
        folder: the archive's.
        part: the user's own name for it.
        new: whether it must be new (else it must be known).
        why: reason, for the history.
        fields: kind, size, pitch_mm, price, bought, retired, notes. Values are checked by the caller.

    Raises:
        ArchiveError: the name is taken or unknown, or it cannot be written.
    """
    store = Store(place_at(folder))
    with store.changing() as change:
        known = latest(store.rows("parts"), ("part",), _PARTS).filter(pl.col("kind").is_not_null())["part"]
        if new and part in known:
            raise ArchiveError("There is a part of that name already.", "Give it a name of its own.", part)
        if not new and part not in known:
            there = f"The parts are {', '.join(known)}." if len(known) else "The box is empty."
            raise ArchiveError("There is no such part in the box.", there, part)
        change.append("parts", _frame("parts", {"part": part, **fields}))
        verb = "added" if new else "retired" if isinstance(fields.get("retired"), date) else "changed"
        return change.commit("part", f"{verb} part {part}", why, 1)


@in_turn
def put_lap_length(folder: Path, about: str, name: str, lap_length_m: float | None) -> str:
    """Write down how long a lap of a track, or of one event, is; the entry's id. None empties it.

    Raises:
        ArchiveError: ``about`` is neither "track" nor "event", or it cannot be written.
    """
    if about not in ABOUT:
        raise ArchiveError(f"A lap length cannot be of a {about}.", "Say track or event.", name)
    store = Store(place_at(folder))
    with store.changing() as change:
        row = {"about": about, "name": name, "lap_length_m": lap_length_m}
        change.append("lap_lengths", _frame("lap_lengths", row))
        said = "emptied" if lap_length_m is None else f"{lap_length_m:g} m"
        return change.commit("lap length", f"lap length of {about} {name}: {said}", None, 1)


def _frame(table: str, row: dict[str, Any]) -> pl.DataFrame:
    """One row of a table; what is given as None is emptied, what is not given is not touched."""
    schema = {name: kind for name, kind in KINDS[table].schema.items() if name != "entry"}
    cleared = [name for name, value in row.items() if value is None]
    return pl.DataFrame([{name: row.get(name) for name in schema} | {"cleared": cleared}], schema=schema)
