"""Did the engine pull it: worked examples (computed by hand from the definition of kappa, not published)."""

import math

import pytest

from lapdelta import gearing
from lapdelta.gearing import Levels, pull_verdict, pulled


def test_one_tooth_needs_top_speed_known_to_a_tenth():
    wide = pulled((11, 82), (11, 81), top_speed=Levels(96.0, 96.9, 0.25, 0.25))
    assert wide.log_ratio_change == pytest.approx(0.012270, abs=5e-7)
    assert (wide.speed.kappa, wide.speed.standard_error) == pytest.approx((0.76, 0.30), abs=0.005)
    none = pulled((11, 82), (11, 81), top_speed=Levels(96.0, 96.1, 0.25, 0.25))
    assert (none.speed.kappa, none.speed.standard_error) == pytest.approx((0.08, 0.30), abs=0.006)


def test_three_teeth_are_pulled_partly():
    answer = pulled((11, 82), (11, 79), top_speed=Levels(96.0, 98.0, 0.15, 0.15))
    assert (answer.speed.kappa, answer.speed.standard_error) == pytest.approx((0.55, 0.06), abs=0.005)
    assert answer.verdict == "partly"
    assert answer.rests_on == "top_speed"


def test_half_a_percent_of_circumference():
    answer = pulled((11, 82), (11, 81), top_speed=Levels(96.0, 96.9, 0.25, 0.25))
    assert answer.circumference_kappa == pytest.approx(0.41, abs=0.005)


@pytest.mark.parametrize(
    ("low", "high", "verdict"),
    [
        (0.2, 1.3, "fully"),
        (-0.3, 0.8, "not"),
        (0.2, 0.8, "partly"),
        (-0.3, 1.2, "cannot be told"),
        (1.1, 1.5, "cannot be told"),
        (-0.9, -0.1, "cannot be told"),
    ],
)
def test_rule_of_the_verdict(low, high, verdict):
    assert pull_verdict(low, high) == verdict


def test_rpm_kept_is_fully_and_rpm_fallen_by_the_ratio_is_not():
    kept = pulled((11, 82), (11, 79), peak_rpm=Levels(14_000, 14_000, 60, 60))
    assert kept.rpm.kappa == pytest.approx(1)
    assert kept.verdict == "fully"
    fallen = pulled((11, 82), (11, 79), peak_rpm=Levels(14_000, 14_000 * 79 / 82, 60, 60))
    assert fallen.rpm.kappa == pytest.approx(0, abs=1e-12)
    assert fallen.verdict == "not"


def test_speed_and_rpm_of_one_circumference_agree_and_another_does_not():
    gear = 82 / 79
    agree = pulled(
        (11, 82),
        (11, 79),
        top_speed=Levels(96, 96 * gear, 0.15, 0.15),
        peak_rpm=Levels(14_000, 14_000, 30, 30),
    )
    assert agree.consistent
    assert agree.difference == pytest.approx(0, abs=1e-9)
    tyres = pulled(
        (11, 82),
        (11, 79),
        top_speed=Levels(96, 96 * gear * 1.02, 0.15, 0.15),
        peak_rpm=Levels(14_000, 14_000, 30, 30),
    )
    assert tyres.consistent is False
    assert tyres.verdict == "cannot be told"
    # kappa_v - kappa_r is the change of ln(circumference) over g
    assert tyres.difference == pytest.approx(math.log(1.02) / math.log(gear))
    assert "+2.0 %" in tyres.reasons[0]


def test_change_of_a_finding_and_few_degrees_of_freedom():
    levels = Levels.from_change(96.0, 2.0, 0.2121, dof=4)
    answer = pulled((11, 82), (11, 79), top_speed=levels)
    # t table: 2.776 at 4 degrees of freedom, 95 %
    half = 2.776 * 0.2121 / 98.0 / math.log(82 / 79)
    assert answer.speed.high - answer.speed.kappa == pytest.approx(half, rel=1e-3)


def test_neither_measure_cannot_be_told():
    answer = pulled((11, 82), (11, 81))
    assert answer.verdict == "cannot be told"
    assert answer.reasons
    assert answer.to_dict()["speed"] is None


def test_systematic_part_widens_the_interval():
    levels = Levels(96.0, 98.0, 0.15, 0.15, dof=6)
    plain = pulled((11, 82), (11, 79), top_speed=levels).speed
    wider = pulled((11, 82), (11, 79), top_speed=levels, systematic=0.002).speed
    assert wider.standard_error > plain.standard_error
    assert wider.dof > plain.dof


@pytest.mark.parametrize(
    "call",
    [
        lambda: pulled((11, 82), (11, 82), top_speed=Levels(96, 97, 0.2, 0.2)),
        lambda: pulled((10, 80), (11, 88), top_speed=Levels(96, 97, 0.2, 0.2)),
        lambda: pulled((11, 82), (11, 81), top_speed=Levels(96, 97, 0, 0)),
        lambda: pulled((11, 82), (11, 81), top_speed=Levels(0, 97, 0.2, 0.2)),
        lambda: pulled((11, 82), (11, 81), top_speed=Levels(96, 97, 0.2, 0.2, dof=0)),
        lambda: pulled((11, 82), (11, 81), top_speed=Levels(96, 97, 0.2, 0.2), confidence=95),
    ],
)
def test_levels_that_cannot_be(call):
    with pytest.raises(gearing.GearingError):
        call()
