"""What the sharper pace costs beside the plain one; the figures stand in DEVELOPERS.md."""

import time
from dataclasses import replace

import numpy as np
from simulated.karts_on_track import Practice, simulate_days

from lapdelta.effect.day import USUAL, batch_of, prepare
from lapdelta.effect.measures import find_measure
from lapdelta.effect.routes import shifts
from lapdelta.effect.sharp import LAPS, SECTORS_AND_CLOCKS
from lapdelta.effect.sideviews import placebo_table

DAY = simulate_days(Practice("ABBABAAB", 29, laps=(12, 12)), 1, np.random.default_rng(3))[0]
LAP_TIME = find_measure("lap_time", 3)


def best_of(work, rounds):
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def question(recipe=USUAL):
    prepared = prepare(DAY, LAP_TIME, recipe)
    return prepared, shifts(batch_of(DAY, prepared.cells, prepared.used))[0]


def test_one_question_from_sectors_and_clocks_costs_a_few_plain_ones():
    """8 sessions x 30 karts x 12 laps x 3 sectors."""
    sharp, plain = best_of(question, 7), best_of(lambda: question(replace(USUAL, source=LAPS)), 7)
    print(f"\nfrom sectors and clocks: {1000 * sharp:.1f} ms, from laps: {1000 * plain:.1f} ms")
    assert question()[0].sharp.source == SECTORS_AND_CLOCKS
    assert sharp < 12 * plain  # measured 4 x


def test_every_kart_as_ours_fits_the_mixture_once():
    all_karts, one = best_of(lambda: placebo_table(DAY, *question()), 5), best_of(question, 5)
    print(f"\nall 30 karts: {1000 * all_karts:.1f} ms, one: {1000 * one:.1f} ms")
    assert all_karts < 6 * one  # measured 2 x; one fit a kart would be 30 x
