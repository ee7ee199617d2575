"""What a season tells, with everything needed to repeat it."""

import json
from dataclasses import dataclass, fields
from typing import Any

from lapdelta.effect.finding import _plain as plain  # pyright: ignore[reportPrivateUsage]


@dataclass(frozen=True)
class SeasonFinding:
    """All days together. Numbers in ``unit``; differences are later minus earlier value; None = cannot be told.

    Attributes:
        factor, factor_unit: the setting, and the unit of its values.
        tracks: one dict a circuit: ``track events sessions values reference state side best best_low best_high
            any_effect_p largest_difference curve worth candidates teaches_most best_chance points fits checks
            reason``; see ``lapdelta.seasons.response``.
        across_tracks: ``curvature`` pooled where three circuits or more tell it, else ``reason``.
        changes: one dict a change that was made: its days, pooled answer, agreement, leave-one-day-out.
        days: one dict a day and change: ``event track from to before after estimate standard_error low high dof
            verdict reason route bundle``.
        repeatability: ``ours``, ``others`` (session and lap scatter), ``events``, ``history``, ``conflicts``, ..;
            see ``lapdelta.seasons.repeat``.
        design: what varied with what: ``items``, ``pairs`` with a sentence each.
        left_out: rows ``event session reason laps``; session None for a whole event.
        counts: events, sessions and laps, used and left out.
        sentences: the finding in words.
    """

    kart: str
    measure: str
    unit: str
    factor: str
    factor_unit: str
    margin: float
    confidence: float
    tracks: tuple[dict[str, Any], ...]
    across_tracks: dict[str, Any]
    changes: tuple[dict[str, Any], ...]
    days: tuple[dict[str, Any], ...]
    repeatability: dict[str, Any]
    design: dict[str, Any]
    left_out: tuple[dict[str, Any], ...]
    counts: dict[str, int]
    sentences: tuple[str, ...]
    fingerprint: str
    settings: dict[str, Any]
    version: str

    def to_dict(self) -> dict[str, Any]:
        """Plain lists, dicts, numbers, strings and None; the shape that ``to_json`` writes."""
        return {item.name: plain(getattr(self, item.name)) for item in fields(self)}

    def to_json(self) -> str:
        """One JSON object; raises ValueError should a NaN ever get in."""
        return json.dumps(self.to_dict(), ensure_ascii=False, allow_nan=False)

    @classmethod
    def from_json(cls, text: str) -> "SeasonFinding":
        """The finding that ``to_json`` wrote."""
        values: dict[str, Any] = json.loads(text)
        names = {item.name for item in fields(cls)}
        unknown, missing = set(values) - names, names - set(values)
        if unknown or missing:
            raise ValueError(f"not a season: unknown keys {sorted(unknown)}, missing keys {sorted(missing)}")
        for name in ("tracks", "changes", "days", "left_out", "sentences"):
            values[name] = tuple(values[name])
        return cls(**values)
