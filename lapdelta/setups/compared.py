"""What differs between sessions: for a finding's reasons, and so that questions propose themselves."""

import re
from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import polars as pl

from lapdelta.errors import SetupError
from lapdelta.setups.fields import BY_COLUMN, Field, other_pairs
from lapdelta.tables import SETUPS
from lapdelta.units import IN_STORE, Units

#: Fields that are not what was fitted: they change by themselves from session to session.
_PASSING = ("tyre_laps", "track_state", "air_temperature_c", "track_temperature_c", "notes")

#: The pressure of one tyre: its axle and side.
_TYRE = re.compile(r"pressure_(front|rear)_(left|right)_bar")

#: Both tyres of an axle, where their pressures are said as one.
_AXLES = {
    f"pressure_{axle}_bar": Field(f"pressure_{axle}_bar", (), f"{axle} pressure", "bar")
    for axle in ("front", "rear")
}

#: Fields that two groups of sessions are compared on: what was fitted, and wet or dry.
_COMPARED = tuple(name for name in BY_COLUMN if name not in _PASSING or name == "track_state")


def differences(
    setups: pl.DataFrame,
    event: str,
    kart: str,
    before_sessions: Sequence[str],
    after_sessions: Sequence[str],
) -> list[dict[str, Any]]:
    """What differs between two groups of sessions, as far as it was written down.

    Returns:
        One dict an item: ``item`` (column of tables.SETUPS, or the key of a pair of ``other``), ``before``
        and ``after`` (sorted lists of the different values). An item one group does not tell is left out.
    """
    groups = [_values(setups, event, kart, names) for names in (before_sessions, after_sessions)]
    found: list[dict[str, Any]] = []
    for item in dict.fromkeys([*groups[0], *groups[1]]):
        before, after = (group.get(item, []) for group in groups)
        if before and after and before != after:
            found.append({"item": item, "before": before, "after": after})
    return found


def by_axle(changed: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """The differences, tyres of one axle whose pressures changed alike as one: ``pressure_rear_bar``."""
    by_item = {one["item"]: one for one in changed}
    found: list[dict[str, Any]] = []
    for one in changed:
        tyre = _TYRE.fullmatch(str(one["item"]))
        twins = [by_item.get(f"pressure_{tyre[1]}_{side}_bar") for side in ("left", "right")] if tyre else []
        alike = [(twin["before"], twin["after"]) for twin in twins if twin]
        if tyre is None or len(alike) < 2 or alike[0] != alike[1]:
            found.append(one)
        elif tyre[2] == "left":
            found.append(one | {"item": f"pressure_{tyre[1]}_bar"})
    return found


def say_difference(difference: dict[str, Any], units: Units = IN_STORE) -> str:
    """A difference in words, in these units: ``axle 82 -> 81``."""
    field = BY_COLUMN.get(difference["item"]) or _AXLES.get(difference["item"])
    name = field.said if field else str(difference["item"])
    stored = field.unit if field else None
    unit = f" {units.unit(stored)}" if stored else ""
    before, after = (
        " and ".join(
            f"{units.shown(value, stored):.3g}" if isinstance(value, float) else str(value)
            for value in difference[side]
        )
        for side in ("before", "after")
    )
    return f"{name} {before} -> {after}{unit}"


def say_changes(changed: Sequence[dict[str, Any]], units: Units = IN_STORE) -> list[str]:
    """Differences in words; tyres of one axle whose pressures changed alike are said once."""
    return [say_difference(one, units) for one in by_axle(changed)]


def in_units(setups: pl.DataFrame, units: Units) -> pl.DataFrame:
    """The setup sheet for the screen: numbers in these units, columns named after them."""
    for column in [name for name in setups.columns if name in BY_COLUMN]:
        stored = BY_COLUMN[column].unit
        unit = units.unit(stored)
        if stored is None or unit is None or unit == stored:
            continue
        values = [None if value is None else units.shown(value, stored) for value in setups[column].to_list()]
        name = column.removesuffix(f"_{stored.casefold()}") + f"_{unit}"
        setups = setups.with_columns(pl.Series(column, values, dtype=pl.Float64())).rename({column: name})
    return setups


def proposed_questions(
    setups: pl.DataFrame, sessions: Sequence[str], event: str, kart: str, units: Units = IN_STORE
) -> list[dict[str, Any]]:
    """Questions that the setup sheet asks by itself: neighbouring sessions of a kart that differ.

    Args:
        setups: tables.SETUPS.
        sessions: the event's session labels in order.
        event: its name.
        kart: our kart.
        units: those of ``text``.

    Returns:
        One dict a change, in order: ``kart``, ``before`` and ``after`` (all sessions on the old and all on
        the new setting), ``differences``, ``text`` such as ``axle 82 -> 81 between P2 and P3``. A change
        back to a setting compared already is not asked again.
    """
    states = {name: _values(setups, event, kart, [name]) for name in sessions}
    fitted = [name for name in sessions if states[name]]
    asked: list[tuple[Any, Any]] = []
    found: list[dict[str, Any]] = []
    for old, new in pairwise(fitted):
        changed = differences(setups, event, kart, [old], [new])
        pair = (states[old], states[new])
        if not changed or pair in asked or pair[::-1] in asked:
            continue
        asked.append(pair)
        text = ", ".join(say_changes(changed, units))
        found.append(
            {
                "kart": kart,
                "before": [name for name in fitted if states[name] == states[old]],
                "after": [name for name in fitted if states[name] == states[new]],
                "differences": changed,
                "text": f"{text} between {old} and {new}",
            }
        )
    return found


def same_as_before(
    setups: pl.DataFrame,
    sessions: Sequence[str],
    event: str,
    session: str,
    kart: str,
    changes: dict[str, Any] | None = None,
) -> dict[str, Any]:
    """What was fitted in the kart's last session before this one, with the changes on top.

    Laps on the tyres, track state, temperatures and notes belong to their session and are not carried over.

    Args:
        setups: tables.SETUPS.
        sessions: the event's session labels in order; those not driven yet may be missing.
        event: its name.
        session: the session to fill in.
        kart: the kart.
        changes: columns that differ, as from ``parse_setup``.

    Raises:
        SetupError: no earlier session of that kart has an entry.
    """
    rows = setups.filter(pl.col("event") == event, pl.col("kart") == kart)
    order = [*sessions, *sorted(set(rows["session"]) - set(sessions), key=natural)]
    earlier = order[: order.index(session)] if session in order else order
    written = [name for name in earlier if name in set(rows["session"])]
    if not written:
        raise SetupError(
            f"No session before {session} has an entry for kart {kart}.",
            "Write down one session in full first.",
            f"{event} {session}",
        )
    row = rows.row(by_predicate=pl.col("session") == written[-1], named=True)
    kept = {
        name: value
        for name, value in row.items()
        if value is not None and name not in (*_PASSING, "event", "session", "kart", "other")
    }
    given = dict(changes or {})
    pairs = {**dict(other_pairs(row["other"])), **dict(other_pairs(given.pop("other", None)))}
    if pairs:
        given["other"] = [{"key": key, "value": value} for key, value in pairs.items()]
    return {**kept, **given}


def natural(label: str) -> list[tuple[int, int, str]]:
    """Sort key that puts P2 before P10."""
    parts = re.findall(r"\d+|\D+", label)
    return [(0, int(part), "") if part.isdecimal() else (1, 0, part.casefold()) for part in parts]


def _values(setups: pl.DataFrame, event: str, kart: str, sessions: Sequence[str]) -> dict[str, list[Any]]:
    """The different values of each item in those sessions, sorted; items nobody wrote down are left out."""
    rows = setups.filter(
        pl.col("event") == event, pl.col("kart") == kart, pl.col("session").is_in(list(sessions))
    )
    values: dict[str, set[Any]] = {}
    for row in rows.select(list(SETUPS)).iter_rows(named=True):
        items = {name: row[name] for name in _COMPARED}
        items |= dict(other_pairs(row["other"]))
        for name, value in items.items():
            if value is not None and value != "":
                values.setdefault(name, set()).add(value)
    return {name: sorted(found) for name, found in values.items()}
