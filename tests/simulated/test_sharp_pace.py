"""Karts that hold each other up: the sharper paces on the same days as the pace from laps.

A quick seeded part of ``ladder_study.py``, which prints the whole table. Limits are binomial (chance 1e-3).
"""

import numpy as np
import pytest
from simulated.karts_on_track import Practice, simulate_days
from simulated.ladder import CLOCKS, LAPS, SECTORS, SECTORS_AND_CLOCKS, ladder
from simulated.trials import LAP_TIME, binomial_limits

from lapdelta.effect.answer import Question, answer
from lapdelta.effect.day import Recipe, prepare
from lapdelta.effect.sharp import best_source, sharp_pace

DAYS = 150
QUICK = (LAPS, SECTORS_AND_CLOCKS)


@pytest.mark.parametrize("order", ["AB", "ABBA"])
def test_sharper_and_as_honest(order):
    rows = ladder(Practice(order), DAYS, seed=31, sources=QUICK)
    sharp, plain = rows[SECTORS_AND_CLOCKS], rows[LAPS]
    assert sharp.refused == 0
    assert sharp.called <= binomial_limits(0.05, DAYS)[1]
    assert sharp.width < 0.93 * plain.width
    assert abs(sharp.bias) < 3.5 * sharp.sd / np.sqrt(DAYS)


def test_queue_after_the_change():
    """Our kart runs clear before and in a queue after: clocks and sectors take the bias off, within 0.02 s.

    Against the same days (the same draws) without the queue, so that what a day scatters falls out; the chance
    scatter of the difference that is left is allowed for besides.
    """
    queue, free = (ladder(Practice("ABBA", queue=q), DAYS, seed=32, sources=QUICK) for q in (True, False))
    bias = {source: queue[source].bias - free[source].bias for source in QUICK}
    scatter = 0.09 / np.sqrt(DAYS)  # of a day's difference, measured
    assert bias[LAPS] > 0.08
    assert abs(bias[SECTORS_AND_CLOCKS]) < 0.02 + 3 * scatter


@pytest.mark.parametrize("source", [SECTORS_AND_CLOCKS, SECTORS, CLOCKS])
def test_a_shift_of_every_own_lap_comes_back_whole(source):
    """0.30 s off every own lap after the change, traffic kept as it was seen: exactly 0.30 s."""
    day = simulate_days(Practice("ABBA", others=6), 1, np.random.default_rng(33))[0]
    cube, width = day.cube, 3 if source != CLOCKS else 1
    classes = np.random.default_rng(1).integers(0, 5, (width, *cube.time_s.shape))
    off = np.zeros(cube.time_s.shape)
    off[0, day.design.level == 1] = -0.3
    moved = type(cube)(
        cube.time_s + off,
        cube.exists,
        cube.reason,
        cube.position,
        cube.sectors_s + off[..., None] / 3,
        cube.top_speed_kmh,
        cube.peak_rpm,
        cube.clock_s,
    )
    change = sharp_pace(moved, source, classes).cells.pace - sharp_pace(cube, source, classes).cells.pace
    expected = np.zeros_like(change)
    expected[0, day.design.level == 1] = -0.3
    assert change == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(
    ("holds", "expected"),
    [
        ({}, SECTORS_AND_CLOCKS),
        ({"clock_step": 1.0}, SECTORS_AND_CLOCKS),
        ({"clock_step": 60.0}, SECTORS),
        ({"clocks": False}, SECTORS),
        ({"sectors": False}, CLOCKS),
        ({"sectors": False, "clocks": False}, LAPS),
    ],
    ids=str,
)
def test_the_file_decides(holds, expected):
    day = simulate_days(Practice("ABBA", others=5, laps=(10, 12), **holds), 1, np.random.default_rng(34))[0]
    finding = answer(day, Question(LAP_TIME, 0.1, 0.95, ("P1", "P4"), ("P2", "P3")))
    assert finding.settings["pace"] == f"pace from {expected}"
    assert any(sentence.startswith(f"Pace from {expected}:") for sentence in finding.reasons)
    assert any("lap noise" in sentence for sentence in finding.reasons)
    plain = [row for row in finding.choices if (row["choice"], row["setting"]) == ("pace", "from laps")]
    assert len(plain) == (expected != LAPS)
    if expected in (SECTORS, SECTORS_AND_CLOCKS):
        assert sum(row["estimate"] for row in finding.sectors) == pytest.approx(finding.estimate, abs=1e-10)


def test_a_kart_without_clocks_or_with_false_sectors_steps_down():
    day = simulate_days(Practice("ABBA", others=5), 1, np.random.default_rng(35))[0]
    present = prepare(day, LAP_TIME, Recipe(source=LAPS)).lap.present
    day.cube.sectors_s[0, 1] += 0.1
    assert best_source(day.cube, present) == CLOCKS
    day.cube.clock_s[0] = np.nan
    assert best_source(day.cube, present) == LAPS


def test_traffic_that_differed_is_said():
    """Clear before, in a queue after: with clocks it is allowed for, without it is not."""
    said = {}
    for clocks in (True, False):
        day = simulate_days(
            Practice("ABBA", others=4, queue=True, pass_gain=0.0, pass_base=-1.0, clocks=clocks),
            1,
            np.random.default_rng(36),
        )[0]
        finding = answer(day, Question(LAP_TIME, 0.1, 0.95, ("P1", "P4"), ("P2", "P3")))
        said[clocks] = next(sentence for name, _, sentence in finding.checks if name == "traffic")
        assert clocks or ("traffic_differed" in finding.flags) == ("not allowed for" in said[clocks])
    assert "Traffic differed; allowed for" in said[True]
