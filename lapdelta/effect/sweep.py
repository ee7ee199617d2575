"""Every kart of a day as if it were ours, each against the karts comparable to it, in one batch."""

from dataclasses import dataclass

import numpy as np

from lapdelta.effect.day import Day, Prepared
from lapdelta.effect.fairness import COMPARABLE, comparable_karts
from lapdelta.effect.routes import Batch, shifts
from lapdelta.effect.scale import FINE, Search
from lapdelta.effect.shift import Shift


@dataclass(frozen=True)
class Swept:
    """One kart's shift, as if the question had been about it."""

    kart: str
    shift: Shift


def sweep(day: Day, prepared: Prepared, search: Search = FINE, tolerance: float = COMPARABLE) -> list[Swept]:
    """Shifts of all karts; sessions are left out as the prepared day leaves them out.

    The session times are our kart's for everybody: its own would differ by minutes.
    """
    karts = len(day.karts)
    kept = ~prepared.state.left_out
    order = np.stack([np.roll(np.arange(karts), -k) for k in range(karts)])
    pace, variance = prepared.cells.pace[order], prepared.cells.variance[order]
    alike = np.stack([comparable_karts(prepared.lap.pace[turn], tolerance) for turn in order])
    used = alike[..., None] & kept
    found = shifts(Batch(np.where(used, pace, np.nan), variance, day.design, search=search))
    return [Swept(kart, shift) for kart, shift in zip(day.karts, found, strict=True)]
