"""Every cell (kart by session) of a finding as a plain row: pace, noise, laps set aside and why."""

from typing import Any

import numpy as np

from lapdelta.effect.arrays import REASONS
from lapdelta.effect.contrast import session_terms
from lapdelta.effect.day import Day, Prepared
from lapdelta.effect.design import AFTER, BEFORE
from lapdelta.effect.measures import Measure

_SETTING = {BEFORE: "before", AFTER: "after"}


def cell_rows(day: Day, prepared: Prepared, measure: Measure) -> list[dict[str, Any]]:
    """Rows for all karts and sessions with laps, our kart first, in the measure's unit.

    Keys: kart, ours, session, setting (before, after, other setup; None for other karts), position,
    time_h (hours after the first session, None without clock), laps, kept, pace, variance, session_term,
    adjusted (pace minus session term), set_aside {reason: count}, compared (whether the cell was used).
    """
    cells, used = prepared.cells, prepared.used
    others = np.where(used, cells.pace, np.nan)[1:]
    terms = session_terms(others[None])[0] if len(others) else np.full(len(day.sessions), np.nan)
    laps = day.cube.exists.sum(axis=-1)
    counts = [(day.cube.exists & (prepared.reason == i)).sum(axis=-1) for i in range(len(REASONS))]
    first = float(day.design.time.min())
    rows: list[dict[str, Any]] = []
    for k, s in zip(*np.nonzero(laps), strict=True):
        pace, term = _number(cells.pace[k, s]), _number(terms[s])
        level = int(day.design.level[s])
        rows.append(
            {
                "kart": day.karts[k],
                "ours": bool(k == 0),
                "session": day.sessions[s],
                "setting": _SETTING.get(level, "other setup") if k == 0 else None,
                "position": int(day.design.position[s]),
                "time_h": float(day.design.time[s]) - first if day.by_clock else None,
                "laps": int(laps[k, s]),
                "kept": int(cells.laps[k, s]),
                "pace": pace,
                "variance": _number(cells.variance[k, s]),
                "session_term": term,
                "adjusted": pace - term if pace is not None and term is not None else None,
                "set_aside": {REASONS[i]: int(n[k, s]) for i, n in enumerate(counts) if i and n[k, s]},
                "compared": bool(used[k, s] and pace is not None),
            }
        )
    return rows


def _number(value: Any) -> float | None:
    return float(value) if np.isfinite(value) else None
