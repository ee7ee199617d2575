"""What a question costs, as a ratio to a reference in the same run; the figures stand in DEVELOPERS.md."""

import time
import warnings

import numpy as np
import pandas as pd
import statsmodels.formula.api as smf
from simulated.simulator import Scenario, simulate

from lapdelta.effect.day import batch_of, prepare
from lapdelta.effect.measures import find_measure
from lapdelta.effect.routes import shifts
from lapdelta.effect.sideviews import placebo_table

DAY = simulate(Scenario("ABBABAAB", 29, effect=-0.3, laps=(12, 12)), np.random.default_rng(4))
LAP_TIME = find_measure("lap_time", 0)


def best_of(work, rounds=7):
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def answer():
    prepared = prepare(DAY, LAP_TIME)
    return shifts(batch_of(DAY, prepared.cells, prepared.used))[0]


def test_answer_is_twenty_times_quicker_than_a_mixed_model_of_the_laps():
    """8 sessions x 30 karts x 12 laps: screening, pace, estimate; against statsmodels MixedLM, same laps."""
    cube = DAY.cube
    kart, session, _ = np.nonzero(cube.usable)
    frame = pd.DataFrame({"time": cube.time_s[cube.usable], "kart": kart, "session": session})
    frame["cell"] = frame["kart"] * 100 + frame["session"]
    frame["changed"] = ((kart == 0) & (DAY.design.level[session] == 1)).astype(float)

    def mixed_model():
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # its warnings about convergence are not ours
            return smf.mixedlm("time ~ changed + C(kart) + C(session)", frame, groups="cell").fit()

    ours, theirs = best_of(answer), best_of(mixed_model, rounds=1)
    print(f"\none question: {1000 * ours:.1f} ms, MixedLM {1000 * theirs:.0f} ms, {theirs / ours:.0f} x")
    assert theirs > 20 * ours


def all_as_ours():
    prepared = prepare(DAY, LAP_TIME)
    ours = shifts(batch_of(DAY, prepared.cells, prepared.used))[0]
    return placebo_table(DAY, prepared, ours)


def test_every_kart_as_if_it_were_ours_costs_a_few_questions():
    found = all_as_ours()
    assert len(found) == 30
    assert found[0] == {"kart": DAY.karts[0], "ours": True, "shift": answer().estimate}
    all_karts, one = best_of(all_as_ours), best_of(answer)
    print(f"\nall 30 karts: {1000 * all_karts:.1f} ms, one: {1000 * one:.1f} ms")
    assert all_karts < 8 * one  # one by one it would be 30 x
