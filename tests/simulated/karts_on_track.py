"""Practice days of karts that share one track: they catch each other, queue, and now and then pass.

A lap is twelve pieces of road (three sectors of four). A kart enters a piece when it left the one before, and
leaves it after its own time, but not closer than a headway behind the kart that left it last, unless it gets
past, which costs both. All laps, sectors and clocks come out of that; not a line of it comes from ``lapdelta``.
Days and sessions run side by side: one step moves, in each of them, the kart that is furthest behind in time.
"""

from dataclasses import dataclass

import numpy as np

from lapdelta.effect.arrays import OUT_LAP, LapCube
from lapdelta.effect.day import Day
from lapdelta.effect.design import Design

PIECES, SECTORS = 12, 3
LAP_S = 50.0
OUT_LAP_S = 5.0
START_S = 9 * 3600.0
BETWEEN_SESSIONS_S = 2400.0


@dataclass(frozen=True)
class Practice:
    """What a day is made of; seconds."""

    order: str
    others: int = 12
    effect: float = 0.0
    more_scatter: float = 0.0  # our laps scatter more after the change, share
    tau: float = 0.10  # deviation of a kart in a session
    sigma: tuple[float, float] = (0.15, 0.40)  # clean lap noise, drawn by kart
    together: float = 0.3  # share of the lap noise that all pieces of a lap have in common
    kart_sd: float = 0.6
    mistakes: float = 0.012  # a piece
    mistake_s: float = 0.5
    warm_up: tuple[float, ...] = (1.5, 0.7, 0.3, 0.1)
    laps: tuple[int, int] = (8, 14)
    headway: float = 0.3
    dirty_air_s: float = 0.03  # lost in a piece behind another kart beyond the waiting
    pass_base: float = 0.25
    pass_gain: float = 1.5  # chance of passing, a second that the kart behind could have gained
    pass_cost: float = 0.1
    passed_cost: float = 0.2
    queue: bool = False  # our kart runs clear before and in a queue after the change
    clock_step: float = 0.001
    sectors: bool = True
    clocks: bool = True


def simulate_days(practice: Practice, days: int, rng: np.random.Generator) -> list[Day]:
    """That many days; row 0 is our kart."""
    sessions, karts = len(practice.order), practice.others + 1
    after = np.array([letter == "B" for letter in practice.order])
    base, sigma, counts = _paces(practice, days, after, rng)
    release = rng.uniform(0, 45, (days, sessions, karts))
    if practice.queue:
        release[..., 1:] *= 0.6
        release[:, ~after, 0] = 45
        release[:, after, 0] = release[:, after, 1] + 0.8
        base[:, :, 1] = base[:, :, 0] + 0.25
    rows = days * sessions
    lines = _run(
        practice,
        base.reshape(rows, karts),
        sigma.reshape(rows, karts),
        counts.reshape(rows, karts),
        release.reshape(rows, karts),
        rng,
    )
    shape = (days, sessions, *lines.shape[1:])
    return [_day(practice, lines.reshape(shape)[d], counts[d], after) for d in range(days)]


def _paces(practice: Practice, days: int, after: np.ndarray, rng: np.random.Generator):
    """Lap time and lap noise of each kart in each session, s, and its number of laps; days by sessions by karts."""
    sessions, karts = len(after), practice.others + 1
    x = np.linspace(0, 1, sessions) if sessions > 1 else np.zeros(1)
    track = -0.8 * (1 - np.exp(-2 * x)) + rng.normal(0, 0.15, (days, sessions))
    base = LAP_S + rng.normal(0, practice.kart_sd, (days, 1, karts)) + track[..., None]
    base = base + rng.normal(0, practice.tau, (days, sessions, karts))
    base[..., 0] += practice.effect * after
    sigma = np.repeat(rng.uniform(*practice.sigma, (days, 1, karts)), sessions, axis=1)
    sigma[..., 0] *= 1 + practice.more_scatter * after
    return base, sigma, rng.integers(practice.laps[0], practice.laps[1] + 1, (days, sessions, karts))


def _run(practice, base, sigma, counts, release, rng) -> np.ndarray:
    """Times at the end of every sector, s after the session's start: rows by karts by laps by (0..3)."""
    rows, karts = base.shape
    longest = practice.laps[1]
    total = longest * PIECES
    own = np.sqrt((1 - practice.together) / PIECES) * rng.normal(size=(rows, karts, longest, PIECES))
    own += np.sqrt(practice.together) / PIECES * rng.normal(size=(rows, karts, longest, 1))
    need = base[..., None, None] / PIECES + sigma[..., None, None] * own
    lost = rng.random(need.shape) < practice.mistakes
    need += lost * rng.exponential(practice.mistake_s, need.shape)
    need[:, :, : len(practice.warm_up)] += (np.array(practice.warm_up) / PIECES)[:, None]
    need[:, :, 0] += OUT_LAP_S / PIECES
    need = need.reshape(rows, karts, total)
    ends = np.full((rows, karts, total + 1), np.nan)
    ends[..., 0] = release
    at, done, owed = release.copy(), np.zeros((rows, karts), int), np.zeros((rows, karts))
    last_end, last_kart = np.full((rows, PIECES), -np.inf), np.zeros((rows, PIECES), int)
    goal, r = counts * PIECES, np.arange(rows)
    for _ in range(int(goal.sum(axis=1).max())):
        k = np.where(done < goal, at, np.inf).argmin(axis=1)
        step = np.minimum(done[r, k], total - 1)
        moving = done[r, k] < goal[r, k]
        piece = step % PIECES
        want = at[r, k] + need[r, k, step] + owed[r, k]
        wait = last_end[r, piece] + practice.headway - want
        behind = wait > 0
        chance = practice.pass_base + practice.pass_gain * np.clip(wait, 0, 1)
        passes = behind & (rng.random(rows) < chance)
        end = np.where(behind & ~passes, want + wait + practice.dirty_air_s * rng.random(rows), want)
        end = end + practice.pass_cost * passes
        owed[r, k] = 0.0
        owed[r[passes & moving], last_kart[r, piece][passes & moving]] += practice.passed_cost
        m, km, pm = r[moving], k[moving], piece[moving]
        at[m, km] = end[moving]
        done[m, km] += 1
        ends[m, km, done[m, km]] = end[moving]
        newest = end[moving] > last_end[m, pm]
        last_end[m[newest], pm[newest]] = end[moving][newest]
        last_kart[m[newest], pm[newest]] = km[newest]
    places = np.arange(longest)[:, None] * PIECES + np.arange(SECTORS + 1) * (PIECES // SECTORS)
    return ends[:, :, places]


def _day(practice: Practice, lines: np.ndarray, counts: np.ndarray, after: np.ndarray) -> Day:
    """``lines`` sessions by karts by laps by (0..3), printed to thousandths."""
    lines = np.moveaxis(lines, 0, 1)
    exists = np.arange(lines.shape[2]) < counts.T[..., None]
    sector = np.round(np.diff(lines, axis=-1), 3)
    time = np.round(lines[..., -1] - lines[..., 0], 3)
    start = START_S + BETWEEN_SESSIONS_S * np.arange(len(after))
    clock = np.floor((lines[..., -1] + start[:, None]) / practice.clock_step + 1e-6) * practice.clock_step
    position = np.where(exists, np.arange(1, lines.shape[2] + 1), 0)
    nothing = np.full(time.shape, np.nan)
    cube = LapCube(
        np.where(exists, time, np.nan),
        exists,
        np.where(position == 1, OUT_LAP, 0),
        position,
        np.where(exists[..., None], sector, np.nan) if practice.sectors else np.empty((*time.shape, 0)),
        nothing,
        nothing,
        np.where(exists, clock, np.nan) if practice.clocks else nothing,
    )
    design = Design(after.astype(np.int64), start / 3600, np.arange(len(after)))
    names = tuple(f"P{s + 1}" for s in range(len(after)))
    return Day(("ours", *(f"k{k}" for k in range(1, len(time)))), names, cube, design, by_clock=True)
