"""A small lap model: an order of magnitude for what a change of gear can do, nothing finer.

Quasi-steady point mass on a closed string of straights and corners. Corners cap the speed at
sqrt(mu g R); one pass forward accelerates with the engine, one pass backward brakes, tyres share grip
between cornering and driving by an ellipse, and the lap is what is slower of the two at every place
(Milliken & Milliken 1995; Siegler, Deakin & Crolla 2000, SAE 2000-01-3563; both from memory).

Every number in ``LapModel`` is assumed and can be replaced. Not in it: clutch slip, the driver's line,
tyre state, chassis lift, scrub in corners, wind. It has not been compared with real laps of a kart. The
best gearing moves by tens of teeth across made-up tracks, so the model gives no sprocket, only a range.
"""

import itertools
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lapdelta.gearing.checks import GearingError, circumference, positive, whole_teeth, within

Floats = NDArray[np.float64]

GRAVITY = 9.81
STEP_M = 3.0
#: rpm over which the limiter takes the power away; a hard edge would make the lap time jump.
LIMITER_WIDTH_RPM = 300.0
#: Below this the kart does not fall in the model: a start from rest is not a lap.
SLOWEST_M_S = 3.0
#: Invented circuit: (length m, radius m; 0 = straight).
DEFAULT_TRACK: tuple[tuple[float, float], ...] = (
    (170, 0), (40, 14), (60, 0), (30, 10), (45, 0), (55, 28), (110, 0), (35, 11), (50, 0), (60, 22),
    (95, 0), (30, 9), (40, 0), (65, 30), (45, 0), (50, 18),
)  # fmt: skip


@dataclass(frozen=True)
class LapModel:
    """Inputs of the model, all assumed (from memory of what such karts are like), all editable.

    Attributes:
        engine_teeth, axle_teeth: the pair fitted now.
        circumference_m: rolling circumference of the driven tyres.
        mass_kg: kart with driver.
        power_kw: greatest power at the axle.
        power_rpm: rpm of greatest power.
        limiter_rpm: rpm at which the ignition cuts.
        grip: friction coefficient of the tyres, sideways and lengthways.
        driven_share: share of the grip that the rear tyres can use for driving and braking.
        drag_area_m2: drag coefficient x frontal area.
        rolling: rolling resistance coefficient.
        air_density: kg/m3.
        track: (length m, radius m) of each piece, radius 0 for a straight; closed.
    """

    engine_teeth: int = 11
    axle_teeth: int = 82
    circumference_m: float = 0.860
    mass_kg: float = 150.0
    power_kw: float = 14.0
    power_rpm: float = 11_000.0
    limiter_rpm: float = 15_000.0
    grip: float = 1.7
    driven_share: float = 0.6
    drag_area_m2: float = 0.50
    rolling: float = 0.02
    air_density: float = 1.2
    track: tuple[tuple[float, float], ...] = DEFAULT_TRACK

    def __post_init__(self) -> None:
        """Raise GearingError for an input that cannot be."""
        whole_teeth(self.engine_teeth, "engine_teeth")
        whole_teeth(self.axle_teeth, "axle_teeth")
        circumference(self.circumference_m)
        within(self.mass_kg, "mass_kg", 40.0, 500.0, "kg")
        within(self.power_kw, "power_kw", 0.5, 100.0, "kW")
        within(self.power_rpm, "power_rpm", 1_000.0, 30_000.0, "1/min")
        within(self.limiter_rpm, "limiter_rpm", 1_000.0, 30_000.0, "1/min")
        within(self.grip, "grip", 0.2, 4.0, "")
        within(self.driven_share, "driven_share", 0.1, 1.0, "")
        within(self.drag_area_m2, "drag_area_m2", 0.1, 2.0, "m2")
        within(self.rolling, "rolling", 0.0, 0.2, "")
        within(self.air_density, "air_density", 0.5, 2.0, "kg/m3")
        if not any(radius > 0 for _, radius in self.track):
            raise GearingError("A track without a corner cannot be.", "Give a piece with a radius.", "track")
        for length, radius in self.track:
            positive(length, "track", "m")
            within(radius, "track", 0.0, 10_000.0, "m")

    def to_dict(self) -> dict[str, Any]:
        """Plain values for ``--json`` and for an editable form."""
        return asdict(self) | {"track": [list(piece) for piece in self.track]}


@dataclass(frozen=True)
class ModelLaps:
    """Laps of the model.

    Attributes:
        lap_time_s: one for each ratio.
        top_speed_kmh: one for each ratio.
    """

    lap_time_s: Floats
    top_speed_kmh: Floats


def model_laps(model: LapModel, ratios: Floats) -> ModelLaps:
    """Lap time and top speed for each of ``ratios`` (axle / engine turns), n ratios -> n laps."""
    radius = _radius_by_step(model)
    corner = np.where(radius > 0.0, np.sqrt(model.grip * GRAVITY * np.maximum(radius, 1e-9)), np.inf)
    forward = _pass(model, ratios, radius, corner, driving=True)
    backward = _pass(model, ratios, radius[::-1], corner[::-1], driving=False)[::-1]
    speed = np.minimum(forward, backward)
    following = np.roll(speed, -1, axis=0)
    return ModelLaps(np.sum(2.0 * STEP_M / (speed + following), axis=0), 3.6 * np.max(speed, axis=0))


def _radius_by_step(model: LapModel) -> Floats:
    pieces = [np.full(max(1, round(length / STEP_M)), radius) for length, radius in model.track]
    return np.concatenate(pieces).astype(np.float64)


def _pass(model: LapModel, ratios: Floats, radius: Floats, corner: Floats, *, driving: bool) -> Floats:
    """Speeds (steps by ratios) that one direction of travel allows; twice round, so that the lap closes."""
    speeds = np.empty((len(radius), len(ratios)))
    speed = np.full(len(ratios), float(np.min(corner)))
    for step in itertools.chain(range(len(radius)), range(len(radius))):
        speed = np.minimum(speed, corner[step])
        speeds[step] = speed
        sideways = (
            speed**2 / (radius[step] * model.grip * GRAVITY) if radius[step] > 0 else np.zeros_like(speed)
        )
        left = model.grip * GRAVITY * model.driven_share * np.sqrt(np.maximum(0.0, 1.0 - sideways**2))
        resistance = _resistance(model, speed)
        gain = np.minimum(_drive(model, ratios, speed), left) - resistance if driving else left + resistance
        speed = np.sqrt(np.maximum(speed**2 + 2.0 * STEP_M * gain, SLOWEST_M_S**2))
    return speeds


def _resistance(model: LapModel, speed: Floats) -> Floats:
    """Drag and rolling, as deceleration in m/s2."""
    return 0.5 * model.air_density * model.drag_area_m2 * speed**2 / model.mass_kg + model.rolling * GRAVITY


def _drive(model: LapModel, ratios: Floats, speed: Floats) -> Floats:
    """Engine, as acceleration in m/s2; power follows x + x^2 - x^3 with x = rpm / power_rpm."""
    rpm = speed * 60.0 / model.circumference_m * ratios
    x = rpm / model.power_rpm
    power = 1000.0 * model.power_kw * np.maximum(0.0, x + x**2 - x**3)
    cut = np.clip((model.limiter_rpm - rpm) / LIMITER_WIDTH_RPM, 0.0, 1.0)
    return power * cut / (model.mass_kg * speed)
