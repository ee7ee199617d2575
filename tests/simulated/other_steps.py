"""Days of several sessions with few other karts, of which one step is asked about: with the other steps and without.

Run from the checkout: ``python tests/simulated/other_steps.py [days]`` (1,500 days a row: some two minutes).
"""

import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
sys.path.insert(0, str(Path(__file__).resolve().parent.parent.parent))

from simulated.ladder import power
from simulated.simulator import Scenario, simulate
from simulated.trials import LAP_TIME

from lapdelta.effect.day import Day, prepare
from lapdelta.effect.design import Design
from lapdelta.effect.history import NO_HISTORY
from lapdelta.effect.routes import Batch, shifts
from lapdelta.effect.shift import Shift
from lapdelta.effect.steps import other_steps


@dataclass(frozen=True)
class Row:
    """Shares over the days that could be told; widths in s; ``used``: share of days whose other steps count."""

    false: float
    width: float
    used: float
    power: tuple[float, ...]


def both_ways(
    others: int,
    sessions: int,
    at: int,
    days: int,
    seed: int,
    wander: Sequence[float] | None = None,
    **more: float,
) -> tuple[Row, Row]:
    """(without, with the other steps) for the step from session ``at`` (from 0) to the next.

    ``wander``: standard deviation of a kart in each session, s; None for ``tau`` throughout.
    """
    rng = np.random.default_rng(seed)
    scenario = Scenario("A" * sessions, others, **more)
    if wander is not None:
        scenario = replace(scenario, tau=0.0)
    found = [_asked(_day(scenario, rng, wander), at) for _ in range(days)]
    told = [pair for pair in found if all(shift.told for shift in pair)]
    return _row([without for without, _ in told]), _row([with_them for _, with_them in told])


def _day(scenario: Scenario, rng: np.random.Generator, wander: Sequence[float] | None) -> Day:
    day = simulate(scenario, rng)
    if wander is not None:
        moved = rng.normal(0, 1, day.cube.time_s.shape[:2]) * np.asarray(wander)
        day = replace(day, cube=replace(day.cube, time_s=day.cube.time_s + moved[..., None]))
    return day


def _asked(day: Day, at: int) -> tuple[Shift, Shift]:
    ready = prepare(day, LAP_TIME)
    pace = np.where(ready.used & ~ready.state.doubtful, ready.cells.pace, np.nan)
    noise = ready.cells.variance
    two = slice(at, at + 2)
    design = Design(np.array([0, 1]), np.array([0.0, 1.0]), np.array([at, at + 1]))
    batch = Batch(pace[None, :, two], noise[None, :, two], design)
    steps = other_steps(pace[1:], noise[1:], at, at + 1)
    with_them = replace(batch, history=replace(NO_HISTORY, steps=steps))
    return shifts(batch)[0], shifts(with_them)[0]


def _row(found: list[Shift]) -> Row:
    low, high = np.array([shift.interval(0.95) for shift in found]).T
    used = float(np.mean([shift.steps_used for shift in found]))
    return Row(float(((low > 0) | (high < 0)).mean()), float((high - low).mean()), used, power(low, high))


#: A driver who learns the track wanders more in the first sessions.
LEARNING = (0.3, 0.2, 0.1, 0.1, 0.1, 0.1)


def main(days: int) -> None:
    print("| day | without: false / width / power -.3 | with | used |")
    print("| --- | --- | --- | --- |")
    for seed, (title, args, more) in enumerate(
        (
            ("3 other karts, 6 sessions, third to fourth", (3, 6, 2), {}),
            ("3, 4 sessions, second to third", (3, 4, 1), {}),
            ("5, 6 sessions", (5, 6, 2), {}),
            ("3, 6 sessions, tau .02 s", (3, 6, 2), {"tau": 0.02}),
            ("3, 6 sessions, tau .3 s", (3, 6, 2), {"tau": 0.3}),
            ("3, wander .3 .2 .1 .1 .1 .1, second to third", (3, 6, 1), {"wander": LEARNING}),
            ("3, the same, third to fourth", (3, 6, 2), {"wander": LEARNING}),
            ("6, the same, second to third", (6, 6, 1), {"wander": LEARNING}),
        )
    ):
        told = both_ways(*args, days, 70 + seed, **more)
        cells = [f"{row.false:.3f} / {row.width:.2f} / {row.power[-1]:.2f}" for row in told]
        print(f"| {title} | {' | '.join(cells)} | {told[1].used:.2f} |", flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1500)
