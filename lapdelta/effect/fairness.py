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

    The first and the last session have one neighbour: among those not left out.

    ``pace`` karts by sessions, row 0 ours. Without two comparable other karts nothing stands out.
    """
    others = pace[1:][comparable[1:]]
    sessions = pace.shape[1]
    nothing = np.zeros(sessions, np.bool_)
    if len(others) < 2:
        return TrackState(_unknown(sessions), nothing, nothing)
    terms = session_terms(others[None])[0]
    limit = TRACK_STATE * float(_row_mean(pace[:1])[0])
    left_out, doubtful = nothing.copy(), nothing.copy()
    known = np.flatnonzero(np.isfinite(terms))
    far = np.abs(np.diff(terms[known])) > limit
    left_out[known[1:-1][far[:-1] & far[1:]]] = True
    rest = known[~left_out[known]]
    if len(rest) > 1:
        for end, neighbour in ((rest[0], rest[1]), (rest[-1], rest[-2])):
            doubtful[end] = abs(terms[end] - terms[neighbour]) > limit
    return TrackState(terms, left_out, doubtful)


def track_state_alone_explains(state: TrackState, design: Design, present: Bools) -> bool:
    """Whether every session of one setting, and none of the other, was left out for its track state."""
    sides = [present & (design.level == level) for level in (BEFORE, AFTER)]
    if not all(side.any() for side in sides):
        return False
    whole = [bool(state.left_out[side].all()) for side in sides]
    none = [not bool(state.left_out[side].any()) for side in sides]
    return (whole[1] and none[0]) or (whole[0] and none[1])
