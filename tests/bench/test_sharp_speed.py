"""How long the sharper pace takes. Limits are wide for a busy machine; what was measured stands beside them."""

import time

import numpy as np
from simulated.karts_on_track import Practice, simulate_days

from lapdelta.effect.day import batch_of, prepare
from lapdelta.effect.measures import find_measure
from lapdelta.effect.routes import shifts
from lapdelta.effect.sharp import SECTORS_AND_CLOCKS
from lapdelta.effect.sweep import sweep

DAY = simulate_days(Practice("ABBABAAB", 29, laps=(12, 12)), 1, np.random.default_rng(3))[0]
LAP_TIME = find_measure("lap_time", 3)


def best_of(work, rounds):
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def question():
    prepared = prepare(DAY, LAP_TIME)
    assert prepared.sharp is not None
    assert prepared.sharp.source == SECTORS_AND_CLOCKS
    return shifts(batch_of(DAY, prepared.cells, prepared.used))[0]


def test_one_question_from_sectors_and_clocks():
    """8 sessions x 30 karts x 12 laps x 3 sectors."""
    assert best_of(question, 7) < 0.150  # measured 34 ms on two busy cores


def test_every_kart_as_ours_fits_the_mixture_once():
    assert best_of(lambda: sweep(DAY, prepare(DAY, LAP_TIME)), 3) < 1.0  # measured 67 ms
