"""What must hold for any sprockets: inverses, order, symmetry."""

import math
from itertools import pairwise

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from lapdelta import gearing

engine = st.integers(6, 30)
axle = st.integers(40, 130)
pitch = st.sampled_from([6.35, 7.774, 9.525, 12.7])
circumference = st.floats(0.6, 1.2)
slip = st.floats(0.0, 0.2)


@settings(deadline=None)
@given(engine, axle, circumference, slip, st.floats(0, 20_000))
def test_rpm_is_the_inverse_of_speed(engine_teeth, axle_teeth, metres, share, rpm):
    speed = gearing.speed_kmh(rpm, engine_teeth, axle_teeth, metres, share)
    back = gearing.rpm_at(speed, engine_teeth, axle_teeth, metres, share)
    assert back == pytest.approx(rpm, rel=1e-12, abs=1e-9)


@settings(deadline=None)
@given(engine, axle, pitch, st.floats(1.01, 8.0), st.booleans())
def test_centre_distance_is_the_inverse_of_length(engine_teeth, axle_teeth, pitch_mm, stretch, handbook):
    centre = stretch * gearing.shortest_centre_mm(engine_teeth, axle_teeth, pitch_mm)
    links = gearing.chain_length_pitches(centre, engine_teeth, axle_teeth, pitch_mm, handbook=handbook)
    back = gearing.centre_distance_mm(links, engine_teeth, axle_teeth, pitch_mm, handbook=handbook)
    assert back == pytest.approx(centre, rel=1e-10)


@settings(deadline=None)
@given(engine, axle, pitch, st.floats(1.01, 8.0))
def test_handbook_is_short_by_less_than_two_pitches_and_fades_with_distance(e, a, pitch_mm, stretch):
    near = stretch * gearing.shortest_centre_mm(e, a, pitch_mm)

    def gap(centre):
        exact = gearing.chain_length_pitches(centre, e, a, pitch_mm)
        return exact - gearing.chain_length_pitches(centre, e, a, pitch_mm, handbook=True)

    # 6 and 130 teeth about to touch: 1.70 pitches, the worst of all
    assert -0.01 < gap(near) < 2
    assert abs(gap(20 * near)) < 1e-3


@settings(deadline=None)
@given(engine, axle, pitch, st.floats(1.01, 4.0))
def test_chain_does_not_care_which_sprocket_is_on_the_engine(e, a, pitch_mm, stretch):
    centre = stretch * gearing.shortest_centre_mm(e, a, pitch_mm)
    one = gearing.chain_length_pitches(centre, e, a, pitch_mm)
    other = gearing.chain_length_pitches(centre, a, e, pitch_mm)
    assert one == pytest.approx(other, rel=1e-12)


@settings(deadline=None)
@given(engine, axle, pitch, st.integers(80, 140))
def test_more_links_or_fewer_teeth_push_the_engine_away(e, a, pitch_mm, links):
    try:
        now = gearing.centre_distance_mm(links, e, a, pitch_mm)
    except gearing.GearingError:
        assume(False)
    assert gearing.centre_distance_mm(links + 2, e, a, pitch_mm) > now
    assert gearing.centre_distance_mm(links, e, a - 1, pitch_mm) > now


@settings(deadline=None)
@given(engine, axle, circumference, st.floats(1_000, 20_000))
def test_fewer_axle_teeth_are_more_speed(e, a, metres, rpm):
    assert gearing.speed_kmh(rpm, e, a - 1, metres) > gearing.speed_kmh(rpm, e, a, metres)
    assert gearing.speed_kmh(rpm, e + 1, a, metres) > gearing.speed_kmh(rpm, e, a, metres)


@settings(deadline=None)
@given(st.floats(50, 500), st.floats(0, 0.24), st.sampled_from(["hanging", "pushed"]))
def test_sag_is_the_inverse_of_extra_length(span, share, shape):
    extra = gearing.extra_length_mm(span, share * span, shape)
    assert gearing.sag_mm(span, extra, shape) == pytest.approx(share * span, abs=1e-9 * span)


@settings(deadline=None)
@given(st.sets(engine, min_size=1, max_size=4), st.sets(axle, min_size=1, max_size=8))
def test_table_of_pairs_is_complete_and_sorted(engines, axles):
    table = gearing.pairs(sorted(engines), sorted(axles), fitted=(11, 82))
    assert len(table) == len(engines) * len(axles)
    assert all(one.ratio <= other.ratio for one, other in pairwise(table))
    for pair in table:
        for e, a in pair.same_as:
            assert e * pair.axle_teeth == a * pair.engine_teeth
        back = gearing.ratio(11, 82) / (1 + pair.taller_percent / 100)
        assert back == pytest.approx(pair.ratio)


@settings(deadline=None)
@given(axle, st.integers(-10, 10).filter(bool), st.floats(0, 1), st.floats(30, 150))
def test_share_pulled_comes_back(a, teeth, share, speed):
    """Speed raised by ratio^share, rpm lowered by the rest: both kappas are that share."""
    gear = a / (a + teeth)
    answer = gearing.pulled(
        (11, a),
        (11, a + teeth),
        top_speed=gearing.Levels(speed, speed * gear**share, 0.1, 0.1),
        peak_rpm=gearing.Levels(12_000, 12_000 * gear ** (share - 1), 10, 10),
    )
    assert answer.speed.kappa == pytest.approx(share, abs=1e-9)
    assert answer.rpm.kappa == pytest.approx(share, abs=1e-9)
    assert answer.consistent
    assert answer.log_ratio_change == pytest.approx(math.log(gear))


@settings(deadline=None)
@given(st.lists(st.integers(0, 40), min_size=1, max_size=8), st.floats(1, 500))
def test_laps_in_the_box_add_up(laps, price):
    chain = gearing.Part("chain 1", "chain", 104, 7.774, price)
    sprocket = gearing.Part("82", "axle sprocket", 82, 7.774)
    runs = [
        gearing.Run(("chain 1", "82") if i % 2 else ("chain 1",), count, 1_000)
        for i, count in enumerate(laps)
    ]
    wear = {one.part.name: one for one in gearing.box_wear([chain, sprocket], runs)}
    assert wear["chain 1"].laps == sum(laps)
    assert wear["chain 1"].distance_km == pytest.approx(sum(laps))
    if sum(laps):
        assert wear["chain 1"].cost_per_100_laps * sum(laps) == pytest.approx(100 * price)
    assert wear["82"].laps == sum(laps[1::2])
    assert dict(wear["82"].ran_with).get("chain 1", 0) == sum(laps[1::2])


CHAIN = gearing.Part("chain 1", "chain", 104, 7.774, 40.0)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: gearing.box_wear([CHAIN, CHAIN], []), "same name"),
        (lambda: gearing.box_wear([gearing.Part("x", "belt", 104, 7.774)], []), "chain"),
        (lambda: gearing.box_wear([CHAIN], [gearing.Run(("82",), 10)]), "not in the box"),
        (lambda: gearing.box_wear([CHAIN], [gearing.Run(("chain 1",), -1)]), "laps"),
        (lambda: gearing.box_wear([CHAIN], [gearing.Run(("chain 1",), 1, 2.0)]), "metres"),
        (lambda: gearing.cost_per_100_laps(40.0, 0), "laps"),
        (lambda: gearing.extra_length_mm(100, 5, "wavy"), "hanging"),
        (lambda: gearing.extra_length_mm(100, 30), "0 to 25"),
        (lambda: gearing.slack(500, 204, 11, 82, 7.774), "0 to"),
        (lambda: gearing.pulled((11, 82), (11, 81), lead="sound"), "top_speed"),
        (lambda: gearing.speed_kmh("fast", 11, 82, 0.86), "rpm"),
    ],
)
def test_what_cannot_be_names_itself(call, said):
    with pytest.raises(gearing.GearingError, match=said):
        call()


def test_parts_that_never_ran_cost_nothing_yet():
    wear = gearing.box_wear([CHAIN], [])[0]
    assert (wear.laps, wear.distance_km, wear.cost_per_100_laps, wear.ran_with) == (0, None, None, ())
    assert wear.to_dict()["part"]["name"] == "chain 1"


@settings(deadline=None)
@given(st.integers(6, 130), pitch)
def test_tooth_tips_stand_outside_the_pitch_circle(teeth, pitch_mm):
    tips = gearing.outside_diameter_mm(teeth, pitch_mm)
    assert 0 < tips - gearing.pitch_diameter_mm(teeth, pitch_mm) < pitch_mm
