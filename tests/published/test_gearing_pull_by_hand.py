"""Ratios and the share of a gear that shows, written out: logarithms by hand, scipy's t, Satterthwaite's df.

kappa_v = ln(v2/v1)/g and kappa_r = 1 + ln(r2/r1)/g with g = ln(ratio before / ratio after), by definition.
"""

import math

import pytest
from scipy import stats

from lapdelta import gearing
from lapdelta.gearing import GearingError, Levels, pulled

G = math.log(82 / 79)
SPEED, RPM = Levels(96.0, 98.0, 0.3, 0.4, dof=7), Levels(14_000, 13_900, 60, 80, dof=5)


def both(**more):
    return pulled((11, 82), (11, 79), top_speed=SPEED, peak_rpm=RPM, **more)


@pytest.mark.parametrize("confidence", [0.9, 0.95])
def test_shares_with_their_t_intervals(confidence):
    found = both(confidence=confidence)
    for share, kappa, relative, dof in (
        (found.speed, math.log(98 / 96) / G, math.hypot(0.3 / 96, 0.4 / 98), 7),
        (found.rpm, 1 + math.log(13_900 / 14_000) / G, math.hypot(60 / 14_000, 80 / 13_900), 5),
    ):
        assert (share.kappa, share.standard_error, share.dof) == pytest.approx((kappa, relative / G, dof))
        half = stats.t.ppf(0.5 + confidence / 2, dof) * relative / G
        assert (share.low, share.high) == pytest.approx((kappa - half, kappa + half))


def test_their_difference_has_welchs_degrees_of_freedom():
    found = both()
    a, b = found.speed.standard_error**2, found.rpm.standard_error**2
    half = stats.t.ppf(0.975, (a + b) ** 2 / (a**2 / 7 + b**2 / 5)) * math.sqrt(a + b)
    middle = found.speed.kappa - found.rpm.kappa
    assert found.difference == pytest.approx(middle)
    assert (found.difference_low, found.difference_high) == pytest.approx((middle - half, middle + half))
    many = pulled(
        (11, 82), (11, 79), top_speed=Levels(96, 98, 0.3, 0.4), peak_rpm=Levels(14_000, 13_900, 60, 80)
    )
    assert many.difference_high - many.difference == pytest.approx(stats.norm.ppf(0.975) * math.sqrt(a + b))
    assert many.speed.dof is None


def test_what_is_stated_beside_the_sessions_counts_for_speed_only():
    found, plain = both(systematic=0.003), both()
    sampled = (0.3 / 96) ** 2 + (0.4 / 98) ** 2
    total = sampled + 0.003**2
    assert found.speed.standard_error == pytest.approx(math.sqrt(total) / G)
    assert found.speed.dof == pytest.approx(7 * (total / sampled) ** 2)
    assert found.rpm == plain.rpm
    only = pulled((11, 82), (11, 79), top_speed=Levels(96, 98, 0, 0, dof=7), systematic=0.003).speed
    assert (only.dof, only.standard_error) == (None, pytest.approx(0.003 / G))


@pytest.mark.parametrize(("lead", "rests_on"), [("top_speed", "top_speed"), ("peak_rpm", "peak_rpm")])
def test_the_measure_that_leads_is_fixed_beforehand(lead, rests_on):
    found = both(lead=lead)
    assert found.rests_on == rests_on
    assert found.verdict == (found.speed if lead == "top_speed" else found.rpm).verdict
    alone = pulled((11, 82), (11, 79), top_speed=SPEED, lead=lead)
    assert alone.rests_on == "top_speed"
    assert (alone.consistent, alone.difference, alone.difference_low) == (None, None, None)
    with pytest.raises(GearingError, match="'laps' cannot lead"):
        both(lead="laps")


def test_a_shorter_gear_counts_the_same_way():
    """Teeth back on: the same shares from the same sessions read backwards."""
    there = pulled((11, 82), (11, 79), top_speed=Levels(96, 98, 0.3, 0.4)).speed
    back = pulled((11, 79), (11, 82), top_speed=Levels(98, 96, 0.4, 0.3))
    assert (back.speed.kappa, back.speed.standard_error) == pytest.approx((there.kappa, there.standard_error))
    assert back.log_ratio_change == pytest.approx(-G)
    assert back.circumference_kappa == pytest.approx(0.005 / G)
    assert "shorter gear (3.8 %)" in back.sentence  # 82/79 = 1.038


@pytest.mark.parametrize(
    ("after", "error", "reason"),
    [
        (96.0, 3.0, "The interval reaches from not at all to fully"),
        (95.0, 0.05, "Speed moved against the gear"),
        (101.0, 0.05, "More than the gear can give"),
    ],
)
def test_why_it_cannot_be_told(after, error, reason):
    found = pulled((11, 82), (11, 79), top_speed=Levels(96.0, after, error, error))
    assert found.verdict == "cannot be told"
    assert found.reasons[0].startswith(reason)
    assert found.sentence.startswith("Whether the engine pulled the taller gear (3.8 %) cannot be told; ")


def test_the_sentence_says_what_was_computed():
    found = pulled((11, 82), (11, 79), top_speed=Levels(96.0, 98.0, 0.15, 0.15))
    share = found.speed
    assert found.reasons == ()
    assert found.sentence == (
        f"The engine pulled the taller gear (3.8 %) partly; {100 * share.kappa:.0f} % of it shows in top speed, the "
        f"95 % range is {100 * share.low:.0f} to {100 * share.high:.0f} %."
    )
    assert found.could_fake[0].endswith(f"acts on speed like {0.005 / G:.2f} of this change of gear (3.8 %).")
    kept = pulled((11, 82), (11, 79), peak_rpm=Levels(14_000, 14_000, 60, 60))
    assert "as fully as can be seen; 100 % of it shows in peak rpm" in kept.sentence


def test_speed_and_engine_speed_are_each_others_inverse():
    for slip in (0.0, 0.03):
        speed = gearing.speed_kmh(13_500, 11, 82, 0.86, slip)
        assert speed == pytest.approx(13_500 * 60 / (82 / 11) * 0.86 / 1000 * (1 - slip))
        assert gearing.rpm_at(speed, 11, 82, 0.86, slip) == pytest.approx(13_500)
    assert gearing.speed_kmh(0, 11, 82, 0.86) == 0


def test_every_pair_of_the_box_stands_once_tallest_first():
    table = gearing.pairs([11, 10, 11], [88, 80, 82, 80], fitted=(11, 80))
    shown = [(pair.engine_teeth, pair.axle_teeth) for pair in table]
    assert shown == [(11, 80), (11, 82), (10, 80), (11, 88), (10, 82), (10, 88)]
    for pair in table:
        assert pair.ratio == pair.axle_teeth / pair.engine_teeth
        assert pair.taller_percent == pytest.approx(100 * ((80 / 11) / pair.ratio - 1))
    assert [pair.taller_percent for pair in gearing.pairs([10], [80])] == [None]
    assert table[2].to_dict()["same_as"] == [[11, 88]]
    for box, where in ((([], [82]), "engine_sprockets"), (([11], []), "axle_sprockets")):
        with pytest.raises(GearingError) as error:
            gearing.pairs(*box)
        assert error.value.where == where


def test_the_nearest_pair_is_nearest_in_percent():
    """Between ratios 6 and 8 the middle in percent is their geometric mean, sqrt(48) = 6.928, not 7."""
    assert gearing.nearest_pair([10], [60, 80], wanted_ratio=6.9).axle_teeth == 60
    assert gearing.nearest_pair([10], [60, 80], wanted_ratio=6.95).axle_teeth == 80
    shorter = gearing.nearest_pair([11], range(70, 100), fitted=(11, 82), taller_percent=-5)
    assert shorter.axle_teeth == 86  # 82/.95 = 86.3
    with pytest.raises(GearingError, match="One wish is needed"):
        gearing.nearest_pair([11], [82], wanted_ratio=7, taller_percent=2, fitted=(11, 82))
    with pytest.raises(GearingError, match="taller_percent"):
        gearing.nearest_pair([11], [82], taller_percent=-91, fitted=(11, 82))


def test_teeth_before_and_after_a_change_are_checked():
    assert gearing.percent_per_tooth(10, 2) == pytest.approx(20)
    assert gearing.percent_per_tooth(82) == pytest.approx(-100 / 82)
    with pytest.raises(GearingError, match="teeth after the change"):
        gearing.percent_per_tooth(6, -1)
