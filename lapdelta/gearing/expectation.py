"""What a change of gear can do to a lap: a range over made-up cases of the lap model, no sprocket."""

import itertools
import math
from dataclasses import asdict, dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np

from lapdelta.gearing.checks import GearingError
from lapdelta.gearing.lap_model import Floats, LapModel, model_laps
from lapdelta.gearing.ratio import ratio

#: Scenarios: each unknown low, as stated, high. Track shape, grip and power are what a user knows least.
STRAIGHT_FACTORS, GRIP_FACTORS, POWER_FACTORS = (0.7, 1.0, 1.4), (0.85, 1.0, 1.15), (0.85, 1.0, 1.15)
#: Teeth away from each scenario's own best gearing that count as near it, and as clearly wrong.
NEAR_TEETH, WRONG_TEETH = 3, (6, 25)
#: The model was compared with no real lap: its range is widened by this factor on both sides.
DOUBT = 2.0


@dataclass(frozen=True)
class Expectation:
    """What physics allows a change of gear to do, as an order of magnitude.

    Attributes:
        pair_before, pair_after: (engine, axle).
        ratio_change_percent: ratio after against before; minus = taller.
        axle_teeth_equivalent: the change in teeth of the axle sprocket fitted now.
        top_speed_percent_if_pulled: speed at the same rpm.
        near_best_s: (low, high) size of the lap time change within about 3 teeth of the best gearing.
        clearly_wrong_s: (low, high) the same 6 to 25 teeth away from best (5-95 % of the scenarios).
        surprising_beyond_s: a measured shift larger than this physics would find surprising.
        scenarios: how many made-up cases the range is over.
        sentence: in words; never a recommendation of a sprocket.
    """

    pair_before: tuple[int, int]
    pair_after: tuple[int, int]
    ratio_change_percent: float
    axle_teeth_equivalent: float
    top_speed_percent_if_pulled: float
    near_best_s: tuple[float, float]
    clearly_wrong_s: tuple[float, float]
    surprising_beyond_s: float
    scenarios: int
    sentence: str

    def to_dict(self) -> dict[str, Any]:
        """Plain values for ``--json``."""
        return asdict(self)


def expected_shift(pair_after: tuple[int, int], model: LapModel | None = None) -> Expectation:
    """Size of the lap time change that a change of pair can make, over made-up tracks, grip and power.

    Args:
        pair_after: (engine teeth, axle teeth) after the change.
        model: inputs, with the pair fitted before; None takes the defaults.

    Raises:
        GearingError: teeth or inputs that cannot be, or a pair of the same ratio.
    """
    model = model or LapModel()
    before = ratio(model.engine_teeth, model.axle_teeth)
    after = ratio(*pair_after)
    if before == after:
        raise GearingError(
            f"{model.engine_teeth}/{model.axle_teeth} and {pair_after[0]}/{pair_after[1]} are the same ratio: "
            "there is nothing to expect.",
            "Give two pairs of different ratio.",
            "pair_after",
        )
    teeth = model.axle_teeth * (after / before - 1.0)
    near, wrong, count = _ranges(model, teeth)
    taller = 100.0 * (before / after - 1.0)
    surprising = wrong[1]
    sentence = (
        f"At the same rpm {taller:+.1f} % speed. Order of magnitude from a small lap model on made-up "
        f"tracks: up to {near[1]:.2f} s a lap either way if the gearing is within about {NEAR_TEETH} teeth "
        f"of best, {wrong[0]:.2f} to {wrong[1]:.2f} s if it is clearly wrong; more than {surprising:.2f} s "
        "would be surprising from gearing alone. The model cannot say which sprocket is best."
    )
    return Expectation(
        pair_before=(model.engine_teeth, model.axle_teeth),
        pair_after=pair_after,
        ratio_change_percent=100.0 * (after / before - 1.0),
        axle_teeth_equivalent=teeth,
        top_speed_percent_if_pulled=taller,
        near_best_s=near,
        clearly_wrong_s=wrong,
        surprising_beyond_s=surprising,
        scenarios=count,
        sentence=sentence,
    )


def scenarios(model: LapModel) -> tuple[LapModel, ...]:
    """The model with straights, grip and power each low, as stated and high: 27 cases."""
    return tuple(
        replace(
            model,
            track=tuple((length * (1.0 if radius else stretch), radius) for length, radius in model.track),
            grip=min(4.0, model.grip * grip),
            power_kw=model.power_kw * power,
        )
        for stretch, grip, power in itertools.product(STRAIGHT_FACTORS, GRIP_FACTORS, POWER_FACTORS)
    )


def gearing_curve(model: LapModel) -> tuple[Floats, Floats]:
    """(teeth away from this model's best, s lost): a smooth curve by whole axle teeth, best at 0.

    A polynomial of degree 8 smooths the step noise of the model, about .001 s.
    """
    factors = np.linspace(0.55, 1.75, 97)
    teeth = model.axle_teeth * factors
    times = model_laps(model, teeth / model.engine_teeth).lap_time_s
    first, last = float(teeth[0]), float(teeth[-1])
    middle, half = (first + last) / 2.0, (last - first) / 2.0
    powers = np.vander((teeth - middle) / half, 9)
    coefficients = np.linalg.lstsq(powers, times, rcond=None)[0]
    fine = np.linspace(first, last, 2401)
    best = float(fine[np.argmin(np.vander((fine - middle) / half, 9) @ coefficients)])
    offsets = np.arange(math.ceil(first - best), math.floor(last - best) + 1, dtype=np.float64)
    at = np.concatenate([[best], best + offsets])
    smooth = np.vander((at - middle) / half, 9) @ coefficients
    return offsets, smooth[1:] - smooth[0]


@lru_cache(maxsize=8)
def _curves(model: LapModel) -> tuple[tuple[Floats, Floats], ...]:
    """Curves of all scenarios; kept, since another pair on the same kart asks for the same ones."""
    return tuple(gearing_curve(case) for case in scenarios(model))


def _ranges(model: LapModel, teeth: float) -> tuple[tuple[float, float], tuple[float, float], int]:
    near: list[Floats] = []
    wrong: list[Floats] = []
    curves = _curves(model)
    for offsets, lost in curves:
        inside = (offsets + teeth >= offsets[0]) & (offsets + teeth <= offsets[-1])
        size = np.abs(np.interp(offsets + teeth, offsets, lost) - lost)
        away = np.abs(offsets)
        near.append(size[inside & (away <= NEAR_TEETH)])
        wrong.append(size[inside & (away >= WRONG_TEETH[0]) & (away <= WRONG_TEETH[1])])
    near_sizes, wrong_sizes = np.concatenate(near), np.concatenate(wrong)
    if not near_sizes.size or not wrong_sizes.size:
        raise GearingError(
            f"A change of {teeth:+.0f} axle teeth is beyond what this model can follow.",
            "Give a pair nearer to the one fitted.",
            "pair_after",
        )
    low, high = np.quantile(wrong_sizes, (0.05, 0.95))
    near_high = DOUBT * float(np.quantile(near_sizes, 0.95))
    return (0.0, near_high), (float(low) / DOUBT, float(high) * DOUBT), len(curves)
