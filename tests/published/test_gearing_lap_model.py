"""The small lap model is right to an order of magnitude.

Expected numbers come from a prototype of the same kind of model made separately (invented inputs, not
compared with real laps, not published), so they are held to a factor of three only.
"""

from dataclasses import replace

import numpy as np
import pytest

from lapdelta import gearing
from lapdelta.gearing.expectation import gearing_curve, scenarios

MODEL = gearing.LapModel()
NOW = np.array([82 / 11])


def lap_time(**changes):
    return float(gearing.model_laps(replace(MODEL, **changes), NOW).lap_time_s[0])


@pytest.mark.parametrize(
    ("changes", "expected_s"),
    [
        ({"mass_kg": MODEL.mass_kg + 1}, 0.064),
        ({"power_kw": MODEL.power_kw * 1.01}, -0.098),
        ({"grip": MODEL.grip * 1.01}, -0.202),
        ({"drag_area_m2": MODEL.drag_area_m2 * 1.05}, 0.131),
    ],
)
def test_other_inputs(changes, expected_s):
    shift = lap_time(**changes) - lap_time()
    assert np.sign(shift) == np.sign(expected_s)
    assert 1 / 3.2 < shift / expected_s < 3.2


def test_a_tooth_near_the_best_gearing():
    curves = [gearing_curve(case) for case in scenarios(MODEL)]
    for teeth, low, high in ((1, 0.001, 0.010), (2, 0.005, 0.026), (3, 0.008, 0.050), (5, 0.014, 0.103)):
        lost = [np.mean([np.interp(side * teeth, *curve) for side in (-1, 1)]) for curve in curves]
        assert low / 3 < np.median(lost) < high * 3


def test_one_tooth_is_nothing_near_the_best_and_something_far_from_it():
    expectation = gearing.expected_shift((11, 81))
    assert expectation.near_best_s[0] == 0
    assert 0.02 < expectation.near_best_s[1] < 0.15  # prototype: up to .05
    assert 0.15 < expectation.surprising_beyond_s < 1.5  # prototype: up to .5
    assert expectation.top_speed_percent_if_pulled == pytest.approx(100 / 81)
    assert "cannot say which sprocket" in expectation.sentence


def test_top_speed_of_the_model_is_where_power_meets_resistance():
    """On an endless straight the model must end at P(v) = v (drag + rolling), solved here by bisection."""
    straight = replace(MODEL, track=((6_000.0, 0.0), (60.0, 12.0)), limiter_rpm=29_000.0)
    top = float(gearing.model_laps(straight, NOW).top_speed_kmh[0]) / 3.6

    def surplus_w(speed):
        x = speed * 60 / MODEL.circumference_m * NOW[0] / MODEL.power_rpm
        power = 1000 * MODEL.power_kw * (x + x**2 - x**3)
        drag = 0.5 * MODEL.air_density * MODEL.drag_area_m2 * speed**2
        return power - speed * (drag + MODEL.rolling * MODEL.mass_kg * 9.81)

    low, high = 20.0, 45.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if surplus_w(middle) > 0 else (low, middle)
    assert top == pytest.approx(low, rel=1e-3)


def test_inputs_that_cannot_be():
    with pytest.raises(gearing.GearingError, match="40 to 500"):
        replace(MODEL, mass_kg=5)
    with pytest.raises(gearing.GearingError, match="corner"):
        replace(MODEL, track=((100.0, 0.0),))
    with pytest.raises(gearing.GearingError, match="beyond"):
        gearing.expected_shift((30, 31))
