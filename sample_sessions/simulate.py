"""Karts on one track: free laps, and who holds up whom. No physics: times at three lines a lap.

Times inside are whole milliseconds after midnight, so that sectors add up to laps and laps to clocks.
"""

import heapq
from dataclasses import dataclass, field
from itertools import pairwise

from sample_sessions.draws import Draws
from sample_sessions.response import peak_rpm, setup_by_sector_s, top_speed_kmh
from sample_sessions.scenario import OTHERS, OURS, SEED, Event, Kart, Session, Track

WARM_UP_S = {2: 0.90, 3: 0.45, 4: 0.20, 5: 0.07}  # lap: s slower than a warm kart
SESSION_MS = 560_000  # green to chequered flag
FOLLOW_MS = 500  # a kart that cannot pass crosses a line so long after the one ahead
PASS_CHANCE, PASS_CHANCE_PER_S = 0.35, 0.9  # in a sector: at no gain, and more a second of time gained by it
PASS_LOSS_S = 0.20  # mean
MISTAKE_CHANCE, MISTAKE_S = 0.06, 0.60  # a lap; mean loss
MISS_CHANCE, STOP_CHANCE = 0.06, 0.04  # another kart misses a session, or stops in the middle of it
IN_LAP_CHANCE = 0.4  # the lap back to the pits is timed
TOW_MS, TOW_KMH = 900, 1.3  # a tow from closer than this; mean gain
SPEED_NOISE_KMH, SPEED_TAU_KMH, WIND_KMH = 0.5, 0.25, 0.8
WET_SCATTER = 2.0
OTHERS_AXLE = (79, 84)  # what the other karts run all season: unknown to the reader, never changed


@dataclass(frozen=True)
class Lap:
    """One timed lap as the timing saw it. ``kind``: "out", "in" or ""."""

    session: str
    kart: str
    driver: str
    number: int
    sectors_ms: tuple[int, ...]
    end_ms: int
    top_speed_kmh: float
    peak_rpm: int
    kind: str

    @property
    def time_ms(self) -> int:
        """Lap time."""
        return sum(self.sectors_ms)


@dataclass
class Runner:
    """A kart during one session: what it would do alone, and how far it is."""

    kart: Kart
    draws: Draws
    base_s: list[float]
    scatter_s: float
    speed_kmh: float
    axle_teeth: int
    last_lap: int
    lap: int = 1
    sector: int = 0
    lap_losses_s: list[float] = field(default_factory=list)
    done_ms: list[int] = field(default_factory=list)
    in_lap: bool = False
    tow_kmh: float = 0.0


def clock_ms(text: str) -> int:
    """Milliseconds after midnight of HH:MM:SS."""
    hours, minutes, seconds = (int(part) for part in text.split(":"))
    return ((hours * 60 + minutes) * 60 + seconds) * 1000


def run_event(event: Event) -> list[Lap]:
    """All laps of a day, session by session, each in the order in which the laps ended."""
    laps: list[Lap] = []
    for index, session in enumerate(event.sessions):
        green = clock_ms(event.start) + index * event.every_min * 60_000
        laps += _run_session(_runners(event, session, index), event.track, session, green)
    return laps


def _runners(event: Event, session: Session, index: int) -> list[Runner]:
    wind = Draws(SEED, event.name, session.label, "wind").normal(WIND_KMH)
    ours = OURS[event.track.name]
    progress = event.progress_s * index / (len(event.sessions) - 1)
    own = [part + progress / 3.0 for part in setup_by_sector_s(event.track, session)]
    runners = [_runner(event, session, ours, own, session.axle_teeth, wind)]
    for kart in OTHERS[event.track.name]:
        missing = Draws(SEED, event.name, session.label, kart.number, "missing").chance(MISS_CHANCE)
        if kart.number in event.absent or missing:
            continue
        teeth = round(Draws(SEED, "others", kart.number).uniform(*OTHERS_AXLE))
        runners.append(_runner(event, session, kart, [0.0, 0.0, 0.0], teeth, wind))
    return runners


def _runner(
    event: Event, session: Session, kart: Kart, extra: list[float], teeth: int, wind: float
) -> Runner:
    """A kart's free pace for this session: track, kart, its own deviation, its settings."""
    track = event.track
    draws = Draws(SEED, event.name, session.label, kart.number)
    whole = track.lap_s + kart.offset_s + session.track_s + draws.normal(kart.tau_s)
    base = [whole * share + part for share, part in zip(track.sector_shares, extra, strict=True)]
    scatter = kart.sigma_s * (WET_SCATTER if session.wet else 1.0)
    wet_speed = -7.0 if session.wet else 0.0
    speed = top_speed_kmh(track, teeth) - kart.offset_s + wind + wet_speed + draws.normal(SPEED_TAU_KMH)
    last = round(draws.uniform(4, 8)) if draws.chance(STOP_CHANCE) else 99
    if kart is OURS[track.name]:
        last = session.our_laps or 99
    return Runner(kart, draws, base, scatter, speed, teeth, last)


def _run_session(runners: list[Runner], track: Track, session: Session, green: int) -> list[Lap]:
    """Advance the kart that started its sector first, until all are in."""
    queue: list[tuple[int, int]] = []
    for place, runner in enumerate(runners):
        start = green + round(1000 * runner.draws.uniform(2.0, 75.0))
        runner.done_ms = [start]
        heapq.heappush(queue, (start, place))
    recent: list[list[tuple[int, int, int]]] = [[] for _ in track.sector_shares]
    laps: list[Lap] = []
    while queue:
        start, place = heapq.heappop(queue)
        runner = runners[place]
        end = _cross(runner, track, recent[runner.sector], start, place)
        runner.done_ms.append(end)
        runner.sector += 1
        if runner.sector == len(track.sector_shares) and not _finish_lap(runner, session, laps, green):
            continue
        heapq.heappush(queue, (end, place))
    return sorted(laps, key=lambda lap: (lap.end_ms, lap.kart))


def _cross(runner: Runner, track: Track, recent: list[tuple[int, int, int]], start: int, place: int) -> int:
    """When the kart crosses the end of the sector it starts now, in ms; held up by karts ahead or not."""
    if runner.sector == 0:
        runner.lap_losses_s, runner.tow_kmh = _losses(runner, track), 0.0
    draws, share = runner.draws, track.sector_shares[runner.sector]
    alone = runner.base_s[runner.sector] + runner.lap_losses_s[runner.sector]
    free = start + round(1000 * (alone + draws.normal(runner.scatter_s * share**0.5)))
    ahead = [item for item in recent if item[0] != place and item[2] > start]
    if runner.sector == track.straight_sector and any(start - item[1] < TOW_MS for item in ahead):
        runner.tow_kmh = draws.exponential(TOW_KMH)
    blocking = [item[2] for item in ahead if item[2] + FOLLOW_MS > free]
    end = free
    gain_s = (max(blocking, default=free) + FOLLOW_MS - free) / 1000
    if blocking and draws.chance(PASS_CHANCE + PASS_CHANCE_PER_S * gain_s):
        end = free + round(1000 * draws.exponential(PASS_LOSS_S))
    elif blocking:
        end = max(blocking) + FOLLOW_MS + round(draws.uniform(0.0, 150.0))
    recent[:] = [*(item for item in recent if item[2] > start and item[0] != place), (place, start, end)]
    return end


def _losses(runner: Runner, track: Track) -> list[float]:
    """What this lap costs beyond the free pace, by sector: cold tyres, the way out or in, a mistake."""
    draws = runner.draws
    whole = WARM_UP_S.get(runner.lap, 0.0)
    if runner.lap == 1:
        whole = draws.uniform(4.5, 8.5)
    if runner.in_lap:
        whole = draws.uniform(5.0, 9.0)
    losses = [whole * share for share in track.sector_shares]
    if draws.chance(MISTAKE_CHANCE):
        losses[int(draws.uniform(0.0, 2.999))] += draws.exponential(MISTAKE_S)
    return losses


def _finish_lap(runner: Runner, session: Session, laps: list[Lap], green: int) -> bool:
    """Write the lap down; True if another one follows."""
    times = runner.done_ms
    sectors = tuple(later - sooner for sooner, later in pairwise(times))
    kind = "in" if runner.in_lap else "out" if runner.lap == 1 else ""
    slow = 6.0 if kind else 0.0
    speed = round(runner.speed_kmh - slow + runner.tow_kmh + runner.draws.normal(SPEED_NOISE_KMH), 1)
    rpm = round(peak_rpm(speed, runner.axle_teeth) + runner.draws.normal(30.0), -1)
    kart = runner.kart
    laps.append(
        Lap(session.label, kart.number, kart.driver, runner.lap, sectors, times[-1], speed, int(rpm), kind)
    )
    flag = times[-1] >= green + SESSION_MS
    stop = runner.in_lap or runner.lap >= runner.last_lap
    runner.in_lap = flag and not stop and runner.draws.chance(IN_LAP_CHANCE)
    runner.done_ms, runner.sector, runner.lap = [times[-1]], 0, runner.lap + 1
    return not stop and (not flag or runner.in_lap)
