"""Laps on the tyres, sprockets and chain beside what was fitted, a line a session."""

from typing import TYPE_CHECKING, Any

import polars as pl

from lapdelta.gearing.box import KINDS
from lapdelta.parts.laps_counted import TYRES, totals, worn

if TYPE_CHECKING:
    from lapdelta.archive import Archive

#: Kinds in the order of the setup sheet.
SHOWN = (*KINDS, TYRES)


def laps_run(archive: "Archive", event: str, kart: str | None = None) -> list[dict[str, Any]]:
    """What each tyre set, sprocket and chain had run before and after the sessions of an event.

    Args:
        archive: holds the laps and the setup sheet.
        event: its name.
        kart: only this kart; None for all on the sheet.

    Returns:
        One dict a session, kart and kind that the sheet tells: ``session``, ``kart``, ``kind`` (of SHOWN),
        ``fitted`` (the tyre set, the part's name, or teeth or links), ``laps`` (of the session),
        ``laps_before``, ``laps_after``; by session in the order driven, kinds in the order of SHOWN.
    """
    rows = worn(archive, event).filter(pl.col("event") == event, pl.col("value").is_not_null())
    if kart is not None:
        rows = rows.filter(pl.col("kart") == kart)
    order = {name: place for place, name in enumerate(rows["session"].unique(maintain_order=True))}
    found = rows.select(
        "session", "kart", "kind", pl.col("value").alias("fitted"), "laps", "laps_before", "laps_after"
    )
    return sorted(
        found.to_dicts(), key=lambda row: (order[row["session"]], row["kart"], SHOWN.index(row["kind"]))
    )


def tyre_sets(archive: "Archive") -> list[dict[str, Any]]:
    """Laps on every tyre set on the sheet, by first use: owner, value, laps, sessions, first_event, last_event."""
    sets = worn(archive).filter(pl.col("kind") == TYRES, pl.col("value").is_not_null())
    return totals(sets).drop("kind").to_dicts()


def by_session(run: list[dict[str, Any]]) -> dict[tuple[str, str], dict[str, str]]:
    """Of ``laps_run``: (session, kart) -> kind -> ``10 -> 20``, the laps at the start and at the end.

    Of a session still to come only the laps so far: ``20``.
    """
    cells: dict[tuple[str, str], dict[str, str]] = {}
    for row in run:
        said = f"{row['laps_before']} -> {row['laps_after']}" if row["laps"] else f"{row['laps_after']}"
        cells.setdefault((row["session"], row["kart"]), {})[row["kind"]] = said
    return cells
