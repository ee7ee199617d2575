"""Sealed draws: an order of sessions drawn at random is kept, with its list, before the first session is run."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import polars as pl

from lapdelta.archive.box_schema import DRAWS
from lapdelta.archive.latest import latest
from lapdelta.archive.lock import in_turn
from lapdelta.archive.remote import place_at
from lapdelta.archive.schema import KINDS
from lapdelta.archive.store import Store
from lapdelta.errors import ArchiveError

_STATE = pl.Schema({name: kind for name, kind in DRAWS.items() if name not in ("entry", "cleared")})


@dataclass(frozen=True)
class SealedDraw:
    """An order drawn at random, as the archive keeps it.

    Attributes:
        draw: its id.
        event, kart: what it was drawn for; None if not said.
        measure, margin: the question it was drawn for, fixed with it.
        order: A = the setting before, B = after, one letter a session. Not to be shown beyond ``revealed``.
        orders: the list it was drawn from; the exact test counts over exactly this list.
        revealed: sessions whose setting has been told so far.
    """

    draw: str
    event: str | None
    kart: str | None
    measure: str
    margin: float
    order: str
    orders: tuple[str, ...]
    revealed: int

    @property
    def told(self) -> str:
        """The letters told so far."""
        return self.order[: self.revealed]

    def to_dict(self) -> dict[str, Any]:
        """Plain values without what is still sealed (for ``--json``)."""
        return {
            "draw": self.draw,
            "event": self.event,
            "kart": self.kart,
            "measure": self.measure,
            "margin": self.margin,
            "sessions": len(self.order),
            "told": list(self.told),
            "orders": len(self.orders),
            "smallest_p": 2.0 / len(self.orders),
        }


@in_turn
def seal(
    folder: Path,
    *,
    order: str,
    orders: Sequence[str],
    seed: int,
    measure: str,
    margin: float,
    event: str | None = None,
    kart: str | None = None,
) -> SealedDraw:
    """Keep a draw and its list in the archive in ``folder``; its id is that of its entry.

    Raises:
        ArchiveError: it cannot be written; then nothing was.
    """
    store = Store(place_at(folder))
    with store.changing() as change:
        row = {
            "draw": change.entry, "event": event, "kart": kart, "measure": measure, "margin": margin,
            "order": order, "orders": list(orders), "seed": seed, "revealed": 0, "cleared": [],
        }  # fmt: skip
        change.append("draws", _frame(row))
        place = f" for {event}" if event else ""
        change.commit("draw", f"sealed a random order of {len(order)} sessions{place}", None, 1)
    return sealed_draw(folder, str(row["draw"]))


def sealed_draws(folder: Path) -> tuple[SealedDraw, ...]:
    """All sealed draws that count, oldest first."""
    table = latest(Store(place_at(folder)).rows("draws"), ("draw",), _STATE).drop("seed")
    rows: list[dict[str, Any]] = table.filter(pl.col("order").is_not_null()).to_dicts()
    for row in rows:
        row["orders"] = tuple(row["orders"])
    return tuple(SealedDraw(**row) for row in rows)


def told_draws(folder: Path) -> pl.DataFrame:
    """The draws as a table, without what is still sealed: of the order only the sessions told so far."""
    kinds = {"draw": pl.String(), "event": pl.String(), "kart": pl.String(), "measure": pl.String()}
    kinds |= {"margin": pl.Float64(), "sessions": pl.Int64(), "told": pl.List(pl.String())}
    kinds |= {"orders": pl.Int64(), "smallest_p": pl.Float64()}
    return pl.DataFrame([one.to_dict() for one in sealed_draws(folder)], schema=kinds)


def sealed_draw(folder: Path, name: str) -> SealedDraw:
    """The draw with that id, or with the only id that begins or ends like that; "last" is the latest.

    Raises:
        ArchiveError: there is no such draw, or more than one.
    """
    known = sealed_draws(folder)
    if name == "last" and known:
        return known[-1]
    found = [one for one in known if one.draw.startswith(name) or one.draw.endswith(name)]
    exact = [one for one in found if one.draw == name]
    if len(exact or found) == 1:
        return (exact or found)[0]
    what = f"There is no sealed draw {name}." if not found else f"{len(found)} sealed draws match {name}."
    there = f"The draws are {', '.join(one.draw for one in known)}." if known else ""
    raise ArchiveError(what, there or "Draw one with: lapdelta plan --random-order --sessions-left 8", name)


@in_turn
def reveal(folder: Path, name: str, *, all_sessions: bool = False) -> SealedDraw:
    """Tell the setting of the next session, or of all; kept in the history.

    Raises:
        ArchiveError: no such draw, or all of it has been told.
    """
    store = Store(place_at(folder))
    with store.changing() as change:
        draw = sealed_draw(folder, name)
        if draw.revealed >= len(draw.order):
            raise ArchiveError(
                "All sessions of this draw have been told.", f"They are {draw.order}.", draw.draw
            )
        count = len(draw.order) if all_sessions else draw.revealed + 1
        change.append("draws", _frame({"draw": draw.draw, "revealed": count, "cleared": []}))
        said = "the whole order" if all_sessions else f"session {count}"
        change.commit("reveal", f"told {said} of draw {draw.draw}", None, 1)
    return sealed_draw(folder, draw.draw)


def _frame(row: dict[str, Any]) -> pl.DataFrame:
    """One row of the table, null where nothing was said."""
    schema = {name: kind for name, kind in KINDS["draws"].schema.items() if name != "entry"}
    return pl.DataFrame([{name: row.get(name) for name in schema}], schema=schema)
