"""From laps over ``compare`` to the share pulled, on a day whose share is known."""

import math

import numpy as np
import polars as pl
import pytest

import lapdelta
from lapdelta.asking.gear_pull import pulled_from
from lapdelta.errors import QuestionError

BEFORE, AFTER = ["P1", "P4"], ["P2", "P3"]
GEAR = math.log(82 / 78)


def day(seed, share, rpm=True):
    """Thirteen karts, four sessions; ours is geared taller in P2 and P3 and pulls ``share`` of it."""
    rng = np.random.default_rng(seed)
    rows = []
    wind = rng.normal(0, 0.5, 4)
    for kart in range(13):
        own = rng.normal(0, 1)
        for session in range(4):
            taller = GEAR if kart == 0 and f"P{session + 1}" in AFTER else 0.0
            tow = rng.normal(0, 0.15)
            for lap in range(1, 12):
                speed = (96 + own + wind[session] + tow + rng.normal(0, 0.4)) * math.exp(share * taller)
                revs = (13_800 + 140 * (own + tow) + rng.normal(0, 40)) * math.exp((share - 1) * taller)
                rows.append(
                    (
                        f"P{session + 1}",
                        f"{kart:02d}",
                        lap,
                        55 + rng.normal(0, 0.2),
                        speed,
                        revs if rpm else None,
                    )
                )
    names = ["session", "kart", "lap", "lap_time_s", "top_speed_kmh", "peak_rpm"]
    return pl.DataFrame(rows, schema=names, orient="row")


def ask(laps, measure):
    return lapdelta.compare(laps, kart="00", before=BEFORE, after=AFTER, measure=measure)


@pytest.mark.parametrize(("share", "verdict"), [(1.0, "fully"), (0.5, "partly"), (0.0, "not")])
def test_known_share_is_found(share, verdict):
    laps = day(4, share)
    answer = pulled_from((11, 82), (11, 78), top_speed=ask(laps, "top_speed"), peak_rpm=ask(laps, "peak_rpm"))
    assert answer.speed.low < share < answer.speed.high
    assert answer.rpm.low < share < answer.rpm.high
    assert answer.verdict == verdict
    assert answer.consistent


def test_a_measure_that_is_not_in_the_file_is_named():
    laps = day(4, 1.0, rpm=False)
    answer = pulled_from((11, 82), (11, 78), top_speed=ask(laps, "top_speed"), peak_rpm=ask(laps, "peak_rpm"))
    assert answer.rpm is None
    assert answer.verdict == "fully"
    assert any(reason.startswith("peak rpm:") for reason in answer.reasons)


def test_finding_of_another_measure():
    with pytest.raises(QuestionError, match="lap_time"):
        pulled_from((11, 82), (11, 78), top_speed=ask(day(4, 1.0), "lap_time"))
