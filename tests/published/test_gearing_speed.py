"""Ratio, speed and what a tooth is worth. OWN = by hand from v = rpm N1/N2 C (1 - s)/60, not published."""

import pytest

from lapdelta import gearing


def test_worked_speeds():
    assert gearing.speed_kmh(13_500, 11, 82, 0.860) == pytest.approx(93.446, abs=5e-4)  # OWN
    assert gearing.speed_kmh(13_500, 11, 81, 0.860) == pytest.approx(94.600, abs=5e-4)  # OWN
    assert gearing.speed_kmh(13_500, 11, 82, 0.860, 0.02) == pytest.approx(0.98 * 93.446, abs=1e-3)


def test_ratio_is_axle_over_engine():
    assert gearing.ratio(11, 82) == pytest.approx(82 / 11)


def test_percent_per_tooth():
    assert gearing.percent_per_tooth(82) == pytest.approx(-1.220, abs=5e-4)  # OWN
    assert gearing.percent_per_tooth(11, 1) == pytest.approx(9.09, abs=5e-3)  # OWN
    assert gearing.percent_per_tooth(12, -1) == pytest.approx(-8.33, abs=5e-3)  # OWN


def test_pairs_are_sorted_and_equal_ratios_marked():
    table = gearing.pairs([10, 11], [80, 82, 88], fitted=(11, 82))
    assert [pair.ratio for pair in table] == sorted(pair.ratio for pair in table)
    equal = {(pair.engine_teeth, pair.axle_teeth): pair.same_as for pair in table if pair.same_as}
    assert equal == {(10, 80): ((11, 88),), (11, 88): ((10, 80),)}
    fitted = next(pair for pair in table if (pair.engine_teeth, pair.axle_teeth) == (11, 82))
    assert fitted.taller_percent == pytest.approx(0)


def test_nearest_pair():
    nearest = gearing.nearest_pair([10, 11], range(78, 90), wanted_ratio=7.36)
    assert (nearest.engine_teeth, nearest.axle_teeth) == (11, 81)
    longer = gearing.nearest_pair([11], range(70, 90), fitted=(11, 82), taller_percent=2.5)
    assert longer.axle_teeth == 80  # 82 / 1.025 = 80.0


@pytest.mark.parametrize("teeth", [5, 0, -3, 11.5, float("nan"), True, "11", None])
def test_teeth_that_cannot_be(teeth):
    with pytest.raises(ValueError, match="6 or more") as caught:
        gearing.ratio(teeth, 82)
    assert repr(teeth) in str(caught.value)
    assert caught.value.where == "engine_teeth"


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: gearing.speed_kmh(-1, 11, 82, 0.86), "0 to 30000"),
        (lambda: gearing.speed_kmh(13_500, 11, 82, 860), "metres"),
        (lambda: gearing.speed_kmh(13_500, 11, 82, 0.86, 2), "share"),
        (lambda: gearing.rpm_at(5_000, 11, 82, 0.86), "0 to 1000"),
        (lambda: gearing.pitch_diameter_mm(11, 0), "above 0"),
        (lambda: gearing.chain_length_pitches(110, 11, 82, 7.774), "115.3"),
        (lambda: gearing.centre_distance_mm(60, 11, 82, 7.774), "at least 86 links"),
        (lambda: gearing.centre_distance_mm(60, 11, 82, 7.774, handbook=True), "too short"),
        (lambda: gearing.chain_reach(104.5, 11, 82, 7.774), "whole numbers"),
        (lambda: gearing.links_that_fit(11, 82, 7.774, (225, 195)), "shortest"),
        (lambda: gearing.ground_clearance(82, 7.774, 27), "100 to 1000"),
        (lambda: gearing.pairs([], [82]), "at least one"),
        (lambda: gearing.nearest_pair([11], [82], taller_percent=3), "fitted"),
        (lambda: gearing.chain_wear(200, 20, 7.774, 82), "155.5"),
    ],
)
def test_other_values_that_cannot_be(call, said):
    with pytest.raises(ValueError, match=said.replace(".", r"\.")) as caught:
        call()
    assert caught.value.mend
    assert caught.value.where
