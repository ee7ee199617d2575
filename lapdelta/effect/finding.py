"""The answer to a question, with everything needed to repeat it."""

import json
import math
from dataclasses import asdict, dataclass, fields
from typing import Any, Literal, cast, get_args

import numpy as np

Verdict = Literal["faster", "slower", "no worthwhile difference", "not settled", "cannot be told"]
VERDICTS: tuple[Verdict, ...] = get_args(Verdict)

#: Closed list; a finding's ``flags`` are of these, in this order.
FLAGS = (
    "less_than_worthwhile",  # excludes zero, yet surely smaller than the worthwhile margin
    "bundle",  # something else on the setup sheet differs between before and after
    "traffic_differed",  # shares of laps set aside as slow differ by more than 20 points
    "part_is_consistency",  # the Huber companion moves more than 0.03 s away from the pace
    "few_other_karts",  # df < 6
    "rests_on_history",
    "rests_on_other_steps",
    "history_left_out",  # conflict check
    "own_progress",  # blocked order: an own improvement could explain it
    "session_left_out",  # rain and the like
    "track_state_doubtful",
    "hands_used",  # laps set aside or put back by hand
)


@dataclass(frozen=True)
class Finding:
    """What a change did, and how sure we are. Estimate is after minus before, in ``unit``.

    Whatever cannot be computed is None, never NaN. ``low`` and ``high`` bound the ``confidence``
    interval. ``p_value`` is two-sided. ``chance_better`` is P(change < 0) for times, P(change > 0)
    for speeds and None for rpm; ``chance_worthwhile`` the same beyond the margin.
    ``checks`` holds (name, passed, sentence) with passed True, False or None (not possible).
    The dicts of the other lists are described in ``docs`` of the functions that make them.
    """

    kart: str
    measure: str
    unit: str
    before: tuple[str, ...]
    after: tuple[str, ...]
    estimate: float | None
    standard_error: float | None
    low: float | None
    high: float | None
    dof: float | None
    confidence: float
    p_value: float | None
    margin: float
    verdict: Verdict
    flags: tuple[str, ...]
    chance_better: float | None
    chance_worthwhile: float | None
    half_width: float | None
    smallest_margin: float | None
    method: str
    reasons: tuple[str, ...]
    checks: tuple[tuple[str, bool | None, str], ...]
    cells: tuple[dict[str, Any], ...]
    sectors: tuple[dict[str, Any], ...]
    quantiles: tuple[dict[str, Any], ...]
    placebo: tuple[dict[str, Any], ...]
    choices: tuple[dict[str, Any], ...]
    setup_differences: tuple[dict[str, Any], ...]
    tipping_rate: float | None
    lap_noise_share: float | None
    fingerprint: str
    settings: dict[str, Any]
    version: str

    def to_dict(self) -> dict[str, Any]:
        """Plain lists, dicts, numbers, strings and None; the shape that ``to_json`` writes."""
        return _plain(asdict(self))

    def to_json(self) -> str:
        """One JSON object; raises ValueError should a NaN ever get in."""
        return json.dumps(self.to_dict(), ensure_ascii=False, allow_nan=False)

    @classmethod
    def from_json(cls, text: str) -> "Finding":
        """The finding that ``to_json`` wrote, equal to the original."""
        values: dict[str, Any] = json.loads(text)
        names = {field.name for field in fields(cls)}
        unknown, missing = set(values) - names, names - set(values)
        if unknown or missing:
            raise ValueError(f"not a finding: unknown keys {sorted(unknown)}, missing keys {sorted(missing)}")
        for name in _TUPLES:
            values[name] = tuple(values[name])
        values["checks"] = tuple((name, passed, sentence) for name, passed, sentence in values["checks"])
        return cls(**values)


_TUPLES = (
    "before", "after", "flags", "reasons", "cells", "sectors", "quantiles", "placebo", "choices",
    "setup_differences",
)  # fmt: skip


def _plain(value: Any) -> Any:
    """Lists for tuples and Python numbers for numpy ones, all the way down; NaN is a defect."""
    if isinstance(value, dict):
        return {str(key): _plain(item) for key, item in cast("dict[Any, Any]", value).items()}
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in cast("list[Any]", value)]
    if isinstance(value, np.generic):
        return _plain(cast("Any", value.item()))
    if isinstance(value, float) and not math.isfinite(value):
        raise ValueError("a finding may not hold NaN or infinity")
    return value
