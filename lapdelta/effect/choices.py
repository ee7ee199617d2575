"""Does the answer hang on a choice we made? The same question with one choice changed at a time."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from lapdelta.effect.arrays import Floats
from lapdelta.effect.day import USUAL, Day, Prepared, prepare
from lapdelta.effect.design import AFTER
from lapdelta.effect.history import History
from lapdelta.effect.measures import Measure
from lapdelta.effect.pace import Cells, huber_pace
from lapdelta.effect.routes import Batch, shifts
from lapdelta.effect.scale import QUICK
from lapdelta.effect.sectors import part_shifts
from lapdelta.effect.sharp import LAPS
from lapdelta.effect.shift import Shift
from lapdelta.effect.verdict import judge

ALL_KARTS = 1e9  # a tolerance that leaves nobody out
PLAIN = ("pace", "from laps")
HUBER = ("pace", "all kept laps, far ones count less")
_FROM_LAPS = replace(USUAL, source=LAPS)
_RECIPES = (
    (*PLAIN, _FROM_LAPS),
    ("slow laps", "set aside sooner (2.5)", replace(_FROM_LAPS, constant=2.5)),
    ("slow laps", "set aside later (4)", replace(_FROM_LAPS, constant=4.0)),
    ("warm-up laps", "as they were driven", replace(_FROM_LAPS, warm_up=False)),
    ("other karts", "within 3 % of our pace", replace(_FROM_LAPS, tolerance=0.03)),
    ("other karts", "all, however fast", replace(_FROM_LAPS, tolerance=ALL_KARTS)),
    ("pace", "quickest half of the laps", replace(_FROM_LAPS, fraction=0.5)),
    ("pace", "all kept laps", replace(_FROM_LAPS, fraction=1.0)),
)
#: Choices that only the pace from laps has.
_OF_LAPS = ("slow laps", "warm-up laps")


@dataclass(frozen=True)
class Variant:
    """One changed choice: name, setting, pace and variance karts by sessions (and the part of a lap)."""

    choice: str
    setting: str
    pace: Floats
    variance: Floats
    part: Floats | None = None


def choices_table(
    day: Day, prepared: Prepared, measure: Measure, margin: float, confidence: float, history: History
) -> list[dict[str, Any]]:
    """Rows ``choice, setting, estimate, low, high, verdict``; the first row is the answer itself.

    Estimate and interval None where that choice leaves nothing to tell.
    """
    variants = [_variant("as asked", "", prepared, measure)]
    variants += _other_recipes(day, prepared, measure)
    if measure.name == "lap_time":
        huber = huber_pace(prepared.screened)
        variants.append(_masked(*HUBER, huber, prepared))
    variants += _left_out(day, variants[0])
    rows: list[dict[str, Any]] = []
    for variant, shift in zip(variants, _shifts(day, variants, history), strict=True):
        judged = judge(shift, measure, margin, confidence)
        rows.append(
            {
                "choice": variant.choice,
                "setting": variant.setting,
                "estimate": shift.estimate if shift.told else None,
                "low": judged.low,
                "high": judged.high,
                "verdict": judged.verdict,
            }
        )
    return rows


def _shifts(day: Day, variants: list[Variant], history: History) -> list[Shift]:
    batch = Batch(
        np.stack([v.pace for v in variants]),
        np.stack([v.variance for v in variants]),
        day.design,
        history,
        QUICK,
    )
    found = shifts(batch)
    for b, variant in enumerate(variants):
        if variant.part is not None:
            found[b] = part_shifts(batch.take(np.array([b])), found[b], variant.part[None])[0]
    return found


def _masked(
    choice: str, setting: str, cells: Cells, prepared: Prepared, part: Floats | None = None
) -> Variant:
    pace = np.where(prepared.used, cells.pace, np.nan)
    return Variant(choice, setting, pace, cells.variance, part)


def _variant(choice: str, setting: str, prepared: Prepared, measure: Measure) -> Variant:
    if measure.sector and prepared.sector is not None:
        part = prepared.sector.sectors[..., measure.sector - 1]
        return _masked(choice, setting, prepared.sector.lap, prepared, part)
    return _masked(choice, setting, prepared.cells, prepared)


def _other_recipes(day: Day, prepared: Prepared, measure: Measure) -> list[Variant]:
    """Another pace, other screens, other shares of the laps, other reference karts.

    Where the pace is a sharper one, other screens and shares are of the pace from laps, and say so; nothing is
    fitted anew.
    """
    variants: list[Variant] = []
    for choice, setting, recipe in _RECIPES:
        if (measure.unit != "s" and choice == "pace") or ((choice, setting) == PLAIN and not prepared.sharp):
            continue
        other = prepare(day, measure, recipe, prepared, with_sectors=measure.sector > 0)
        if prepared.sharp and choice == "other karts":
            other = replace(other, cells=prepared.cells, sector=prepared.sector)
        said = f"{setting}, pace from laps" if prepared.sharp and choice in _OF_LAPS else setting
        variants.append(_variant(choice, said, other, measure))
    return variants


def _left_out(day: Day, base: Variant) -> list[Variant]:
    """Each other kart, and each of our compared sessions, left out in turn."""
    out: list[Variant] = []
    for k in np.flatnonzero(np.isfinite(base.pace[1:]).any(axis=1)) + 1:
        pace = base.pace.copy()
        pace[k] = np.nan
        out.append(replace(base, choice="kart left out", setting=day.karts[k], pace=pace))
    for s in np.flatnonzero(np.isfinite(base.pace[0]) & (day.design.level <= AFTER)):
        pace = base.pace.copy()
        pace[:, s] = np.nan
        out.append(replace(base, choice="session left out", setting=day.sessions[s], pace=pace))
    return out
