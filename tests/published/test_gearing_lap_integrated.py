"""The lap model against its equations of motion integrated by scipy, and its ranges against their definition.

Newton's law along the line for v^2; tyres share grip by an ellipse (Milliken & Milliken 1995, from memory). With short
steps the two agree; the model's own 3 m cost it about one percent, far less than what it claims to know.
"""

import re
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp, trapezoid
from scipy.optimize import brentq

from lapdelta import gearing
from lapdelta.gearing.expectation import gearing_curve, scenarios
from lapdelta.gearing.lap_model import LapModel

MODEL = LapModel()
G = 9.81


def drive(model: LapModel, gear: float, v: float) -> float:
    """m/s2 from power x + x^2 - x^3, taken away over 300 rpm below the limiter."""
    rpm = v * 60 / model.circumference_m * gear
    x = rpm / model.power_rpm
    share = min(1.0, max(0.0, (model.limiter_rpm - rpm) / 300))
    return max(0.0, 1000 * model.power_kw * (x + x**2 - x**3)) * share / (model.mass_kg * v)


def drag(model: LapModel, v: float) -> float:
    return model.air_density * model.drag_area_m2 * v**2 / (2 * model.mass_kg) + model.rolling * G


def left(model: LapModel, radius: float, v: float) -> float:
    """Grip that cornering leaves for driving or braking, m/s2."""
    sideways = v**2 / radius / (model.grip * G) if radius else 0.0
    return model.grip * G * model.driven_share * np.sqrt(max(0.0, 1 - sideways**2))


def integrated(model: LapModel, gear: float) -> tuple[float, float]:
    """(lap time s, top speed km/h): forwards with the engine, backwards with the brakes, the slower of the two."""
    places, speeds = {}, {}
    for way in (1, -1):
        energy, found = min(r for _, r in model.track if r) * model.grip * G, []
        for round_ in range(2):
            for length, radius in model.track[::way]:
                cap = model.grip * G * radius if radius else np.inf
                fine = np.linspace(0, length, int(length * 20) + 1)

                def law(
                    _: float, e: np.ndarray, radius: float = radius, cap: float = cap, way: int = way
                ) -> float:
                    v = np.sqrt(min(max(e[0], 9.0), cap))
                    if way > 0:
                        return 2 * (min(drive(model, gear, v), left(model, radius, v)) - drag(model, v))
                    return 2 * (left(model, radius, v) + drag(model, v)) if e[0] < cap else 0.0

                path = solve_ivp(law, (0, length), [min(energy, cap)], t_eval=fine, max_step=0.5, rtol=1e-6)
                v2 = np.minimum(path.y[0], cap)
                energy = float(v2[-1])
                if round_:
                    found.append((fine, v2))
        places[way] = [fine for fine, _ in found]
        speeds[way] = [np.sqrt(v2) for _, v2 in found]
    back = [v[::-1] for v in reversed(speeds[-1])]
    slower = [np.minimum(v, b) for v, b in zip(speeds[1], back, strict=True)]
    time = sum(float(trapezoid(1 / v, fine)) for fine, v in zip(places[1], slower, strict=True))
    return time, 3.6 * max(float(v.max()) for v in slower)


SHORT = ((90.0, 0.0), (30.0, 12.0), (120.0, 0.0), (60.0, 25.0))


@pytest.mark.parametrize(
    ("changes", "gear"),
    [
        ({}, 82 / 11),
        ({}, 5.0),
        ({"limiter_rpm": 12_000.0}, 9.0),
        ({"mass_kg": 210.0, "drag_area_m2": 0.9, "air_density": 1.0}, 7.0),
        ({"grip": 1.1, "driven_share": 0.35, "rolling": 0.05}, 8.0),
        ({"power_kw": 30.0, "power_rpm": 9_000.0, "circumference_m": 0.8}, 7.5),
    ],
)
def test_a_lap_of_two_straights_and_two_corners(
    changes: dict[str, float], gear: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    model = replace(MODEL, track=SHORT, **changes)
    time, top = integrated(model, gear)
    coarse = gearing.model_laps(model, np.array([gear]))
    assert float(coarse.lap_time_s[0]) == pytest.approx(time, rel=0.015)
    monkeypatch.setattr("lapdelta.gearing.lap_model.STEP_M", 0.1)
    found = gearing.model_laps(model, np.array([gear]))
    assert float(found.lap_time_s[0]) == pytest.approx(time, rel=1e-3)
    assert float(found.top_speed_kmh[0]) == pytest.approx(top, rel=1e-3)


def test_the_invented_circuit() -> None:
    time, top = integrated(MODEL, 82 / 11)
    found = gearing.model_laps(MODEL, np.array([82 / 11]))
    assert float(found.lap_time_s[0]) == pytest.approx(time, rel=0.015)
    assert float(found.top_speed_kmh[0]) == pytest.approx(top, rel=0.015)


def test_a_circle_is_driven_at_the_speed_whose_grip_is_just_enough(monkeypatch: pytest.MonkeyPatch) -> None:
    """Steady state: what cornering leaves of the grip drives against drag and rolling."""
    circle = replace(MODEL, track=((300.0, 15.0),))
    cap = np.sqrt(MODEL.grip * G * 15)
    v = brentq(lambda v: left(MODEL, 15.0, v) - drag(MODEL, v), 1.0, cap)
    assert drive(MODEL, 82 / 11, v) > left(MODEL, 15.0, v)
    monkeypatch.setattr("lapdelta.gearing.lap_model.STEP_M", 0.1)
    found = gearing.model_laps(circle, np.array([82 / 11]))
    assert float(found.lap_time_s[0]) == pytest.approx(300 / v, rel=1e-3)


def test_one_lap_a_ratio() -> None:
    gears = np.array([6.0, 7.5, 9.0])
    together = gearing.model_laps(MODEL, gears)
    each = [gearing.model_laps(MODEL, gears[i : i + 1]) for i in range(3)]
    assert together.lap_time_s.tolist() == pytest.approx([float(one.lap_time_s[0]) for one in each])
    assert together.top_speed_kmh.tolist() == pytest.approx([float(one.top_speed_kmh[0]) for one in each])


def test_the_cases_are_every_mix_of_low_stated_and_high() -> None:
    cases = scenarios(replace(MODEL, grip=3.8))
    assert len(cases) == len(set(cases)) == 27
    straights = {tuple(length for length, radius in case.track if not radius) for case in cases}
    stated = np.array([length for length, radius in MODEL.track if not radius])
    assert sorted(straights) == [tuple(factor * stated) for factor in (0.7, 1.0, 1.4)]
    assert {tuple(p for p in case.track if p[1]) for case in cases} == {tuple(p for p in MODEL.track if p[1])}
    assert sorted({case.power_kw for case in cases}) == pytest.approx([0.85 * 14, 14, 1.15 * 14])
    assert sorted({case.grip for case in cases}) == pytest.approx(
        [0.85 * 3.8, 3.8, 4.0]
    )  # 4 is the most there is


def test_a_curve_is_best_at_nothing_and_its_teeth_are_the_axles() -> None:
    offsets, lost = gearing_curve(MODEL)
    assert lost[offsets == 0] == 0
    assert lost.min() == 0
    assert np.diff(offsets).tolist() == [1.0] * (len(offsets) - 1)
    laps = gearing.model_laps(MODEL, np.linspace(0.55, 1.75, 400) * 82 / 11).lap_time_s
    best = 82 * np.linspace(0.55, 1.75, 400)[int(np.argmin(laps))]
    for teeth in (-20.0, -10.0, 10.0, 20.0):
        own = float(gearing.model_laps(MODEL, np.array([(best + teeth) / 11])).lap_time_s[0]) - float(
            laps.min()
        )
        assert float(lost[offsets == teeth][0]) == pytest.approx(own, rel=0.25)


def test_ranges_are_quantiles_over_cases_and_places_twice_as_wide() -> None:
    """Near: within 3 teeth of each case's best, 95 % of sizes; wrong: 6 to 25 teeth, 5 to 95 %; doubled both ways."""
    teeth = 80 / 82 * 82 - 82
    near, wrong = [], []
    for case in scenarios(MODEL):
        offsets, lost = gearing_curve(case)
        for at in offsets:
            if offsets[0] <= at + teeth <= offsets[-1]:
                size = abs(float(np.interp(at + teeth, offsets, lost)) - float(lost[offsets == at][0]))
                if abs(at) <= 3:
                    near.append(size)
                elif 6 <= abs(at) <= 25:
                    wrong.append(size)
    found = gearing.expected_shift((11, 80))
    assert found.near_best_s == pytest.approx((0, 2 * np.quantile(near, 0.95)))
    low, high = np.quantile(wrong, (0.05, 0.95))
    assert found.clearly_wrong_s == pytest.approx((low / 2, 2 * high))
    assert (found.surprising_beyond_s, found.scenarios) == (found.clearly_wrong_s[1], 27)
    assert (found.pair_before, found.pair_after) == ((11, 82), (11, 80))
    assert found.ratio_change_percent == pytest.approx(-200 / 82)
    assert found.axle_teeth_equivalent == pytest.approx(-2)
    assert found.top_speed_percent_if_pulled == pytest.approx(100 * 2 / 80)
    said = (
        f"+2.5 % speed. .* up to {found.near_best_s[1]:.2f} s .* more than {found.surprising_beyond_s:.2f} s"
    )
    assert re.search(said.replace("+", r"\+"), found.sentence)
