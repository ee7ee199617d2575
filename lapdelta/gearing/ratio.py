"""Ratio, speed and engine speed, and the pairs that a box of sprockets can make."""

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from lapdelta.gearing.checks import (
    HIGHEST_RPM,
    HIGHEST_SPEED_KMH,
    GearingError,
    circumference,
    positive,
    slip_share,
    whole_teeth,
    within,
)

#: m/min to km/h.
_KMH_PER_M_PER_MIN = 60.0 / 1000.0


def ratio(engine_teeth: int, axle_teeth: int) -> float:
    """Turns of the engine sprocket for one turn of the axle: axle teeth / engine teeth.

    Raises:
        GearingError: teeth that are not whole numbers >= 6.
    """
    return whole_teeth(axle_teeth, "axle_teeth") / whole_teeth(engine_teeth, "engine_teeth")


def speed_kmh(
    rpm: float, engine_teeth: int, axle_teeth: int, circumference_m: float, slip: float = 0.0
) -> float:
    """Road speed in km/h: rpm x engine / axle x rolling circumference x (1 - slip).

    Args:
        rpm: speed of the engine sprocket, 1/min (after a gearbox, if there is one).
        engine_teeth: teeth of the engine sprocket.
        axle_teeth: teeth of the axle sprocket.
        circumference_m: rolling circumference of the driven tyres, m.
        slip: share of the speed that the driven tyres lose, 0.02 = 2 %.

    Raises:
        GearingError: a value outside its range.
    """
    rpm = within(rpm, "rpm", 0.0, HIGHEST_RPM, "1/min", "Give the engine speed in turns a minute.")
    gear = ratio(engine_teeth, axle_teeth)
    return rpm / gear * circumference(circumference_m) * (1.0 - slip_share(slip)) * _KMH_PER_M_PER_MIN


def rpm_at(
    speed_kmh: float, engine_teeth: int, axle_teeth: int, circumference_m: float, slip: float = 0.0
) -> float:
    """Speed of the engine sprocket in 1/min at a road speed; the inverse of ``speed_kmh``.

    Raises:
        GearingError: a value outside its range.
    """
    speed = within(speed_kmh, "speed_kmh", 0.0, HIGHEST_SPEED_KMH, "km/h", "Give the speed in km/h.")
    gear = ratio(engine_teeth, axle_teeth)
    return speed * gear / (circumference(circumference_m) * (1.0 - slip_share(slip)) * _KMH_PER_M_PER_MIN)


def percent_per_tooth(teeth: int, change: int = -1) -> float:
    """How far a sprocket's own number moves with ``change`` teeth, in percent of now.

    82 teeth, one fewer: -1.220. On the axle that is the change of the ratio itself.

    Raises:
        GearingError: teeth before or after that are not whole numbers >= 6.
    """
    now = whole_teeth(teeth, "teeth")
    then = whole_teeth(now + change, "teeth after the change")
    return 100.0 * (then - now) / now


@dataclass(frozen=True)
class Pair:
    """One engine sprocket with one axle sprocket.

    Attributes:
        engine_teeth: teeth of the engine sprocket.
        axle_teeth: teeth of the axle sprocket.
        ratio: axle / engine.
        same_as: other pairs of the table with exactly this ratio, as (engine, axle).
        taller_percent: speed at the same rpm against the reference pair, percent; None without one.
    """

    engine_teeth: int
    axle_teeth: int
    ratio: float
    same_as: tuple[tuple[int, int], ...] = ()
    taller_percent: float | None = None

    def to_dict(self) -> dict[str, Any]:
        """Plain values for ``--json``."""
        return asdict(self) | {"same_as": [list(pair) for pair in self.same_as]}


def pairs(
    engine_sprockets: Sequence[int],
    axle_sprockets: Sequence[int],
    fitted: tuple[int, int] | None = None,
) -> tuple[Pair, ...]:
    """All pairs of the user's sprockets, lowest ratio (tallest gear) first; equal ratios marked.

    Args:
        engine_sprockets: teeth of each engine sprocket; a number named twice counts once.
        axle_sprockets: teeth of each axle sprocket.
        fitted: (engine, axle) now on the kart, the reference of ``taller_percent``.

    Raises:
        GearingError: teeth that are not whole numbers >= 6, or an empty box.
    """
    engines = sorted({whole_teeth(teeth, "engine_sprockets") for teeth in engine_sprockets})
    axles = sorted({whole_teeth(teeth, "axle_sprockets") for teeth in axle_sprockets})
    if not engines or not axles:
        raise GearingError(
            "There is no pair without an engine and an axle sprocket.",
            "Name at least one of each.",
            "axle_sprockets" if engines else "engine_sprockets",
        )
    same: dict[tuple[int, int], list[tuple[int, int]]] = {}
    for engine in engines:
        for axle in axles:
            same.setdefault(_lowest_terms(engine, axle), []).append((engine, axle))
    reference = ratio(*fitted) if fitted else None
    table = [
        Pair(
            engine,
            axle,
            axle / engine,
            tuple(other for other in group if other != (engine, axle)),
            None if reference is None else 100.0 * (reference * engine / axle - 1.0),
        )
        for group in same.values()
        for engine, axle in group
    ]
    return tuple(sorted(table, key=lambda pair: (pair.ratio, pair.engine_teeth)))


def _lowest_terms(engine: int, axle: int) -> tuple[int, int]:
    """The ratio as an exact fraction, so that 10/80 and 11/88 are the same."""
    shared = math.gcd(engine, axle)
    return engine // shared, axle // shared


def nearest_pair(
    engine_sprockets: Sequence[int],
    axle_sprockets: Sequence[int],
    *,
    wanted_ratio: float | None = None,
    fitted: tuple[int, int] | None = None,
    taller_percent: float | None = None,
) -> Pair:
    """The pair nearest (in percent) to a wanted ratio, or to "x % taller than what is fitted".

    Taller by x % means x % more speed at the same rpm, that is ratio / (1 + x/100); minus is shorter.

    Raises:
        GearingError: neither or both wishes given, or a wish that cannot be.
    """
    if wanted_ratio is not None and taller_percent is None:
        target = positive(wanted_ratio, "wanted_ratio", "engine turns for one axle turn")
    elif wanted_ratio is not None or taller_percent is None or fitted is None:
        raise GearingError(
            "One wish is needed: a ratio, or a percentage together with the pair that is fitted.",
            "Give wanted_ratio alone, or fitted and taller_percent.",
            "wanted_ratio",
        )
    else:
        percent = within(taller_percent, "taller_percent", -90.0, 900.0, "%")
        target = ratio(*fitted) / (1.0 + percent / 100.0)
    table = pairs(engine_sprockets, axle_sprockets, fitted)
    return min(table, key=lambda pair: abs(math.log(pair.ratio / target)))
