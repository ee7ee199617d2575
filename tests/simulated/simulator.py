"""Practice days with a known truth: laps of karts over sessions, made from stated causes only.

A lap is kart + track + session deviation (tau) + own progress + warm-up + AR(1) noise (sigma) + now and
then a delay (traffic, mistake: exponential). Not a line of it comes from ``lapdelta``.
"""

from dataclasses import dataclass

import numpy as np

from lapdelta.effect.arrays import OUT_LAP, LapCube
from lapdelta.effect.day import Day
from lapdelta.effect.design import Design

ORDERS = ("AB", "AABB", "ABA", "ABAB", "ABBA", "AAABBB", "ABBABAAB")


@dataclass(frozen=True)
class Scenario:
    """What a simulated day is made of; seconds."""

    order: str
    others: int = 12
    effect: float = 0.0
    tau: float = 0.10
    sigma: tuple[float, float] = (0.15, 0.40)  # lap noise, drawn evenly by kart
    rho: float = 0.2  # lap-to-lap correlation
    traffic: tuple[float, float] = (0.10, 0.30)  # share of delayed laps, drawn by kart and session
    delay: float = 0.8  # mean delay
    warm_up: tuple[float, ...] = (1.5, 0.7, 0.3, 0.1)  # laps 1..4; lap 1 is the out lap besides
    laps: tuple[int, int] = (8, 14)
    track: str = "rubber"  # none, rubber, step, wave: common to all karts
    learning: float = 0.0  # own improvement of our driver over the day, more than the others'
    missing: float = 0.0  # share of other karts' sessions that are not there
    rounding: float = 0.001


def _track(kind: str, sessions: int, rng: np.random.Generator) -> np.ndarray:
    x = np.linspace(0, 1, sessions) if sessions > 1 else np.zeros(1)
    shapes = {
        "none": np.zeros(sessions),
        "rubber": -0.8 * (1 - np.exp(-2 * x)),
        "step": np.where(x > 0.4, -0.4, 0.0),
        "wave": 0.3 * np.sin(6 * x),
    }
    return shapes[kind] + rng.normal(0, 0.15, sessions)


def simulate(scenario: Scenario, rng: np.random.Generator) -> Day:
    """One day; row 0 is our kart, whose laps carry the effect in the sessions B."""
    karts, sessions = scenario.others + 1, len(scenario.order)
    after = np.array([letter == "B" for letter in scenario.order])
    counts = rng.integers(scenario.laps[0], scenario.laps[1] + 1, (karts, sessions))
    longest = scenario.laps[1]
    sigma = rng.uniform(*scenario.sigma, karts)
    noise = np.empty((karts, sessions, longest))
    noise[..., 0] = rng.normal(size=(karts, sessions))
    for i in range(1, longest):
        fresh = np.sqrt(1 - scenario.rho**2) * rng.normal(size=(karts, sessions))
        noise[..., i] = scenario.rho * noise[..., i - 1] + fresh
    level = 50 + rng.normal(0, 0.6, karts)[:, None] + _track(scenario.track, sessions, rng)
    level = level + rng.normal(0, scenario.tau, (karts, sessions))
    level[0] += scenario.effect * after - scenario.learning * np.linspace(0, 1, sessions)
    time = level[..., None] + sigma[:, None, None] * noise
    time[..., : len(scenario.warm_up)] += scenario.warm_up
    time[..., 0] += 5
    share = rng.uniform(*scenario.traffic, (karts, sessions))[..., None]
    time += (rng.random(time.shape) < share) * rng.exponential(scenario.delay, time.shape)
    time = np.round(time / scenario.rounding) * scenario.rounding
    exists = np.arange(longest) < counts[..., None]
    gone = rng.random((karts, sessions)) < scenario.missing
    gone[0] = False
    exists &= ~gone[..., None]
    return _as_day(np.where(exists, time, np.nan), exists, after)


def _as_day(time: np.ndarray, exists: np.ndarray, after: np.ndarray) -> Day:
    position = np.where(exists, np.arange(1, time.shape[2] + 1), 0)
    reason = np.where(position == 1, OUT_LAP, 0)
    nothing = np.full(time.shape, np.nan)
    cube = LapCube(time, exists, reason, position, np.empty((*time.shape, 0)), nothing, nothing)
    sessions = len(after)
    start = np.arange(sessions, dtype=float)
    design = Design(after.astype(np.int64), start, np.arange(sessions))
    names = tuple(f"P{s + 1}" for s in range(sessions))
    return Day(("ours", *(f"k{k}" for k in range(1, len(time)))), names, cube, design, by_clock=False)
