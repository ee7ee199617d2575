"""How long a question takes. Limits are wide for a busy machine; what was measured stands beside them."""

import time
import warnings

import numpy as np
import pandas as pd
import statsmodels.formula.api as smf
from simulated.simulator import Scenario, simulate

from lapdelta.effect.day import batch_of, prepare
from lapdelta.effect.measures import find_measure
from lapdelta.effect.routes import shifts
from lapdelta.effect.sweep import sweep

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
    assert theirs > 20 * ours
    assert ours < 0.060  # measured 12 ms on two busy cores


def test_every_kart_as_if_it_were_ours_within_a_second():
    prepared = prepare(DAY, LAP_TIME)
    found = sweep(DAY, prepared)
    assert len(found) == 30
    assert found[0].shift.estimate == answer().estimate
    assert best_of(lambda: sweep(DAY, prepare(DAY, LAP_TIME)), rounds=3) < 1.0
