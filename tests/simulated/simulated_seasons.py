"""Practice seasons with a known gearing response: laps and setup sheets made from stated causes only."""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import polars as pl

ENGINE = 11
#: Orders of two settings (0 the day's first tooth count, 1 the second) as families run them.
ORDERS = ("0110", "0101", "0011", "010101", "000111", "01101001")


@dataclass(frozen=True)
class SeasonScenario:
    """What a simulated season is made of; seconds.

    ``sharpness`` is s a lap per (ln ratio)^2 around ``best_teeth``; ``slope`` s a lap per ln ratio besides.
    """

    days: int = 6
    others: tuple[int, int] = (5, 12)
    teeth: tuple[int, int] = (78, 84)  # lowest and highest tried
    steps: tuple[int, int] = (1, 4)  # teeth between a day's two settings
    best_teeth: tuple[float, float] = (79.5, 82.5)
    sharpness: float = 280.0
    slope: float = 0.0
    tau: float = 0.10
    our_tau: float = 0.10
    sigma: tuple[float, float] = (0.15, 0.40)
    traffic: tuple[float, float] = (0.10, 0.30)
    learning: tuple[float, float] = (0.0, 0.3)  # our driver gains more than the others over a day
    differs: float = 0.0  # sd of a day's own best tooth count about the circuit's
    laps: tuple[int, int] = (8, 14)


@dataclass(frozen=True)
class SimulatedSeason:
    """Laps (EVENT_LAPS columns that matter), setup sheet, and the truth."""

    laps: pl.DataFrame
    setups: pl.DataFrame
    best_teeth: float
    sharpness: float
    slope: float

    def response(self, teeth: float) -> float:
        """True loss, s a lap, up to a constant."""
        x = np.log(teeth / ENGINE)
        return float(self.sharpness * (x - np.log(self.best_teeth / ENGINE)) ** 2 + self.slope * x)


def simulate_season(scenario: SeasonScenario, rng: np.random.Generator) -> SimulatedSeason:
    """One season of one circuit; our kart is "07"."""
    best = float(rng.uniform(*scenario.best_teeth))
    frames: list[pl.DataFrame] = []
    sheet: list[tuple[str, str, str, int, int]] = []
    for d in range(scenario.days):
        order = ORDERS[int(rng.integers(len(ORDERS)))]
        step = int(rng.integers(scenario.steps[0], scenario.steps[1] + 1))
        low = int(rng.integers(scenario.teeth[0], scenario.teeth[1] - step + 1))
        pair = (low, low + step) if rng.random() < 0.5 else (low + step, low)
        teeth = [pair[int(letter)] for letter in order]
        event = str(date(2025, 4, 6) + timedelta(days=14 * d))
        day_best = best * float(np.exp(rng.normal(0, scenario.differs / best)))
        truth = SimulatedSeason(pl.DataFrame(), pl.DataFrame(), day_best, scenario.sharpness, scenario.slope)
        effect = np.array([truth.response(n) for n in teeth])
        frames.append(_day(scenario, event, effect - effect[0], rng))
        sheet += [(event, f"P{s + 1}", "07", ENGINE, n) for s, n in enumerate(teeth)]
    columns = ["event", "session", "kart", "engine_teeth", "axle_teeth"]
    setups = pl.DataFrame(sheet, schema=columns, orient="row")
    return SimulatedSeason(pl.concat(frames), setups, best, scenario.sharpness, scenario.slope)


def _day(scenario: SeasonScenario, event: str, effect: np.ndarray, rng: np.random.Generator) -> pl.DataFrame:
    karts, sessions = 1 + int(rng.integers(scenario.others[0], scenario.others[1] + 1)), len(effect)
    tau = np.full((karts, 1), scenario.tau)
    tau[0] = scenario.our_tau
    track = -0.8 * (1 - np.exp(-2 * np.linspace(0, 1, sessions))) + rng.normal(0, 0.15, sessions)
    level = 50 + rng.normal(0, 0.6, (karts, 1)) + track + tau * rng.normal(size=(karts, sessions))
    level[0] += effect - rng.uniform(*scenario.learning) * np.linspace(0, 1, sessions)
    longest = scenario.laps[1]
    count = rng.integers(scenario.laps[0], longest + 1, (karts, sessions))
    time = level[..., None] + rng.uniform(*scenario.sigma, (karts, 1, 1)) * rng.normal(
        size=(karts, sessions, longest)
    )
    time[..., :4] += (6.5, 0.7, 0.3, 0.1)
    share = rng.uniform(*scenario.traffic, (karts, sessions, 1))
    time += (rng.random(time.shape) < share) * rng.exponential(0.8, time.shape)
    k, s, lap = np.nonzero(np.arange(longest) < count[..., None])
    names = np.array(["07", *(str(10 + i) for i in range(karts - 1))])
    return pl.DataFrame(
        {
            "event": [event] * len(k),
            "session": np.char.add("P", (s + 1).astype(str)),
            "kart": names[k],
            "lap": (lap + 1).astype(np.int32),
            "lap_time_s": np.round(time[k, s, lap], 3),
            "date": [date.fromisoformat(event)] * len(k),
        }
    )
