"""Many simulated days through the method and through what an ordinary user would do instead."""

from dataclasses import dataclass

import numpy as np
from scipy.special import stdtr, stdtrit
from simulated.ladder import power
from simulated.simulator import Scenario, simulate

from lapdelta.effect.day import prepare
from lapdelta.effect.history import NO_HISTORY, History
from lapdelta.effect.measures import Measure, find_measure
from lapdelta.effect.routes import Batch, shifts

LAP_TIME: Measure = find_measure("lap_time", 0)  # type: ignore[assignment]
BEST_LAP_S = 0.05  # an ordinary user calls a difference of best laps this large


@dataclass(frozen=True)
class Tally:
    """Shares over the days that could be told; width and bias in s."""

    days: int
    refused: float
    called: float  # interval excludes zero: false calls without an effect, power with one
    coverage: float
    width: float
    bias: float
    sd: float
    power: tuple[float, ...]  # called with 0.1, 0.2 and 0.3 s taken off every own lap after


def run(scenario: Scenario, days: int, seed: int, history: History = NO_HISTORY) -> Tally:
    """The method on that many days."""
    rng = np.random.default_rng(seed)
    pace, variance, design = [], [], None
    for _ in range(days):
        day = simulate(scenario, rng)
        prepared = prepare(day, LAP_TIME)
        pace.append(np.where(prepared.used, prepared.cells.pace, np.nan))
        variance.append(prepared.cells.variance)
        design = day.design
    found = shifts(Batch(np.stack(pace), np.stack(variance), design, history))
    told = [shift for shift in found if shift.told]
    if not told:
        return Tally(days, 1.0, *[float("nan")] * 5, ())
    low, high = np.array([shift.interval(0.95) for shift in told]).T
    estimate = np.array([shift.estimate for shift in told])
    return Tally(
        days,
        1 - len(told) / days,
        float(((low > 0) | (high < 0)).mean()),
        float(((low <= scenario.effect) & (scenario.effect <= high)).mean()),
        float((high - low).mean()),
        float((estimate - scenario.effect).mean()),
        float(estimate.std()),
        power(low, high),
    )


def run_ordinary(scenario: Scenario, days: int, seed: int) -> dict[str, float]:
    """Share of days on which an ordinary comparison of our own laps calls a difference."""
    rng = np.random.default_rng(seed)
    called = {"best laps": 0, "Welch on laps": 0, "Welch on clean laps": 0}
    for _ in range(days):
        day = simulate(scenario, rng)
        after = day.design.level == 1
        usable, screened = day.cube.usable[0], prepare(day, LAP_TIME).screened
        laps = [day.cube.time_s[0][side][usable[side]] for side in (~after, after)]
        clean = [screened.time_s[0][side][screened.kept[0][side]] for side in (~after, after)]
        called["best laps"] += abs(laps[0].min() - laps[1].min()) >= BEST_LAP_S
        called["Welch on laps"] += welch_p(*laps) < 0.05
        called["Welch on clean laps"] += welch_p(*clean) < 0.05
    return {name: count / days for name, count in called.items()}


def welch_p(one: np.ndarray, other: np.ndarray) -> float:
    """Two-sided p of Welch's t."""
    parts = [sample.var(ddof=1) / len(sample) for sample in (one, other)]
    total = sum(parts)
    dof = total**2 / sum(part**2 / (len(s) - 1) for part, s in zip(parts, (one, other), strict=True))
    return float(2 * stdtr(dof, -abs(one.mean() - other.mean()) / np.sqrt(total)))


def binomial_limits(share: float, days: int, sides: float = 0.001) -> tuple[float, float]:
    """Limits that a share true to that value stays in but for that chance (normal approximation)."""
    z = float(stdtrit(1e6, 1 - sides / 2))
    half = z * np.sqrt(share * (1 - share) / days) + 0.5 / days
    return share - half, share + half
