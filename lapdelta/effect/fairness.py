"""Which other karts and which sessions make a fair comparison."""

from dataclasses import dataclass

import numpy as np

from lapdelta.effect.arrays import Bools, Floats
from lapdelta.effect.contrast import session_terms
from lapdelta.effect.design import AFTER, BEFORE, Design

#: Other karts within 5 % of our clean pace are comparable: same kind of kart, same kind of lap.
COMPARABLE = 0.05
#: A session more than 2 % away from its neighbours is another track state: rain and the like.
TRACK_STATE = 0.02


@dataclass(frozen=True)
class TrackState:
    """Session terms (s, NaN where no kart tells) and the sessions that stand out from their neighbours."""

    terms: Floats
    left_out: Bools
    doubtful: Bools


def comparable_karts(pace: Floats, tolerance: float = COMPARABLE) -> Bools:
    """Karts whose clean pace is within the tolerance of row 0's, over common sessions; row 0 counts."""
    common = np.isfinite(pace) & np.isfinite(pace[:1])
    ratio = np.where(common, pace / np.where(common, pace[:1], 1.0), 0.0).sum(axis=1)
    count = common.sum(axis=1)
    apart = _row_mean(pace) / _row_mean(pace[:1])
    relative = np.where(count > 0, ratio / np.maximum(count, 1), apart)
    return np.isfinite(relative) & (np.abs(relative - 1) <= tolerance)


def _unknown(sessions: int) -> Floats:
    return np.full(sessions, np.nan)


def _row_mean(pace: Floats) -> Floats:
    present = np.isfinite(pace)
    count = present.sum(axis=1)
    total = np.where(present, pace, 0.0).sum(axis=1)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def track_state(pace: Floats, comparable: Bools) -> TrackState:
    """Sessions whose term is more than 2 % of our pace from both neighbours (left out), or from the only one.

    ``pace`` karts by sessions, row 0 ours. Without two comparable other karts nothing stands out.
    """
    others = pace[1:][comparable[1:]]
    sessions = pace.shape[1]
    nothing = np.zeros(sessions, np.bool_)
    if len(others) < 2:
        return TrackState(_unknown(sessions), nothing, nothing)
    terms = session_terms(others[None])[0]
    level = float(_row_mean(pace[:1])[0])
    known = np.flatnonzero(np.isfinite(terms))
    far = np.abs(np.diff(terms[known])) > TRACK_STATE * level
    left_out, doubtful = nothing.copy(), nothing.copy()
    for i, session in enumerate(known):
        sides = [bool(far[j]) for j in (i - 1, i) if 0 <= j < len(far)]
        if sides and all(sides):
            (left_out if len(sides) == 2 else doubtful)[session] = True
    return TrackState(terms, left_out, doubtful)


def track_state_alone_explains(state: TrackState, design: Design, present: Bools) -> bool:
    """Whether every session after, and none before, stood out: then the track changed with the setup."""
    odd = state.left_out | state.doubtful
    after, before = present & (design.level == AFTER), present & (design.level == BEFORE)
    return bool(odd[after].all() and after.any() and not odd[before].any() and before.any())
