"""What the setup sheet says about a question: what differs, other setups of the day, other karts' changes."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import polars as pl

from lapdelta.effect.fitted import CONDITIONS
from lapdelta.question.asked import Asked

_KEYS = frozenset({"event", "session", "kart", "other"})
#: Settings that change together when one thing is changed.
_GROUPS: Mapping[str, tuple[str, ...]] = {
    "gearing": (
        "engine_teeth",
        "axle_teeth",
        "chain_pitch_mm",
        "chain_links",
        "engine_part",
        "axle_part",
        "chain_part",
    ),
    "pressures": (
        "pressure_front_left_bar",
        "pressure_front_right_bar",
        "pressure_rear_left_bar",
        "pressure_rear_right_bar",
    ),
    "weight": ("total_weight_kg", "ballast_kg"),
}
_GROUP_OF = {item: group for group, items in _GROUPS.items() for item in items}

Entry = dict[str, Any]


@dataclass(frozen=True)
class Sheet:
    """What the sheet adds to a question.

    Attributes:
        differences: rows ``item, before, after`` (lists of values); None where no sheet was given.
        bundle: whether settings of more than one kind differ.
        other_levels: further sessions of ours with other setups, session to level (2..).
        changed_karts: labels of other karts known to have changed, each with the session it changed from.
        splits: (kart, session) to the label of the new kart that it counts as from then on.
    """

    differences: tuple[dict[str, Any], ...] | None = None
    bundle: bool = False
    other_levels: dict[str, int] = field(default_factory=dict[str, int])
    changed_karts: tuple[str, ...] = ()
    splits: dict[tuple[str, str], str] = field(default_factory=dict[tuple[str, str], str])


def entries_of(setups: pl.DataFrame, event: str | None) -> dict[str, dict[str, Entry]]:
    """Written-down values by kart and session: ``{kart: {session: {item: value}}}``."""
    here = setups
    if event is not None and "event" in setups.columns:
        here = setups.filter(pl.col("event") == event)
    found: dict[str, dict[str, Entry]] = {}
    for row in here.iter_rows(named=True):
        entry = {item: value for item, value in row.items() if item not in _KEYS and value is not None}
        entry |= {pair["key"]: pair["value"] for pair in row.get("other") or () if pair["value"] is not None}
        found.setdefault(row["kart"], {})[row["session"]] = entry
    return found


def same_settings(one: Entry, other: Entry) -> bool:
    """Whether two entries agree in every setting that both have written down."""
    return all(one[item] == other[item] for item in one.keys() & other.keys() if item not in CONDITIONS)


def differences(
    entries: Mapping[str, Entry], before: Sequence[str], after: Sequence[str]
) -> list[dict[str, Any]]:
    """Items whose values before and after are not the same, where both sides have one written down."""
    items = dict.fromkeys(item for session in (*before, *after) for item in entries.get(session, {}))
    rows: list[dict[str, Any]] = []
    for item in items:
        sides = [_values(entries, sessions, item) for sessions in (before, after)]
        if sides[0] and sides[1] and (len(sides[0]) > 1 or len(sides[1]) > 1 or sides[0] != sides[1]):
            rows.append({"item": item, "before": sides[0], "after": sides[1]})
    return rows


def _values(entries: Mapping[str, Entry], sessions: Sequence[str], item: str) -> list[Any]:
    written = [entries[session][item] for session in sessions if item in entries.get(session, {})]
    return [value for i, value in enumerate(written) if value not in written[:i]]


def is_bundle(rows: Sequence[Mapping[str, Any]]) -> bool:
    """Whether settings of more than one kind differ; conditions do not count, gearing counts once."""
    kinds = {_GROUP_OF.get(row["item"], row["item"]) for row in rows if row["item"] not in CONDITIONS}
    return len(kinds) > 1


def read_sheet(setups: pl.DataFrame | None, asked: Asked, order: Sequence[str]) -> Sheet:
    """The sheet's part in a question; ``order`` is all sessions of our kart in the event, in their order."""
    if setups is None:
        return Sheet()
    entries = entries_of(setups, asked.event)
    mine = entries.get(asked.kart, {})
    rows = differences(mine, asked.before, asked.after)
    named = {*asked.before, *asked.after}
    levels = _other_levels(mine, named, order)
    used = [session for session in order if session in named or session in levels]
    splits = {
        key: label
        for name, sessions in entries.items()
        if name != asked.kart
        for key, label in _split(name, sessions, used).items()
    }
    return Sheet(tuple(rows), is_bundle(rows), levels, tuple(dict.fromkeys(splits.values())), splits)


def _other_levels(mine: Mapping[str, Entry], asked: set[str], order: Sequence[str]) -> dict[str, int]:
    """Sessions with a setup that is neither of those asked about; equal ones share a level, from 2 on."""
    compared = [mine[session] for session in order if session in asked and session in mine]
    if not compared:
        return {}
    kinds: list[Entry] = []
    levels: dict[str, int] = {}
    for session in order:
        entry = mine.get(session)
        if session in asked or not entry or any(same_settings(entry, other) for other in compared):
            continue
        known = next((i for i, kind in enumerate(kinds) if same_settings(entry, kind)), None)
        if known is None:
            kinds.append(entry)
            known = len(kinds) - 1
        levels[session] = known + 2
    return levels


def _split(kart: str, sessions: Mapping[str, Entry], used: Sequence[str]) -> dict[tuple[str, str], str]:
    """New labels of another kart from each session on where its sheet shows a change."""
    labels: dict[tuple[str, str], str] = {}
    label, last = kart, None
    for session in used:
        entry = sessions.get(session)
        if entry is not None:
            if last is not None and not same_settings(last, entry):
                label = f"{kart} from {session}"
            last = entry
        if label != kart:
            labels[kart, session] = label
    return labels
