"""Chain geometry and the chain in running: tangents from coordinates, inverses, and limits at their edges.

Limits are those of chain makers' pages as cited in the module; geometry is checked against coordinates by hand.
"""

import math

import numpy as np
import pytest

from lapdelta import gearing
from lapdelta.gearing import GearingError
from lapdelta.gearing.chain import shortest_centre_mm, span_mm
from lapdelta.gearing.running import outside_diameter_mm, sag_mm

PITCH = 7.774


def radius(teeth):
    return PITCH / (2 * math.sin(math.pi / teeth))


@pytest.mark.parametrize(
    ("engine", "axle", "centre"), [(11, 82, 205.0), (82, 11, 205.0), (20, 20, 150.0), (9, 90, 300.0)]
)
def test_the_free_run_is_the_common_tangent(engine, axle, centre):
    """Both points where the tangent touches, by their coordinates."""
    lean = math.asin((radius(axle) - radius(engine)) / centre)
    away = np.array([math.sin(lean), math.cos(lean)])
    one, other = radius(axle) * away, np.array([centre, 0]) + radius(engine) * away
    assert span_mm(centre, engine, axle, PITCH) == pytest.approx(float(np.hypot(*(other - one))))


def test_sprockets_that_touch_are_too_near():
    touching = shortest_centre_mm(11, 82, PITCH)
    assert touching == pytest.approx(radius(11) + radius(82))
    with pytest.raises(GearingError, match="run into each other"):
        gearing.chain_length_pitches(touching, 11, 82, PITCH)
    length = gearing.chain_length_pitches(touching * (1 + 1e-9), 11, 82, PITCH)
    with pytest.raises(GearingError, match="too short"):
        gearing.centre_distance_mm(length * (1 - 1e-6), 11, 82, PITCH)


@pytest.mark.parametrize("handbook", [False, True])
@pytest.mark.parametrize(
    ("engine", "axle", "links"), [(11, 82, 104), (10, 60, 96.5), (20, 20, 60), (9, 90, 130)]
)
def test_centre_distance_and_length_are_each_others_inverse(engine, axle, links, handbook):
    centre = gearing.centre_distance_mm(links, engine, axle, PITCH, handbook=handbook)
    assert gearing.chain_length_pitches(centre, engine, axle, PITCH, handbook=handbook) == pytest.approx(
        links
    )


@pytest.mark.parametrize("shape", ["hanging", "pushed"])
def test_sag_and_extra_length_are_each_others_inverse(shape):
    for sag in (0.0, 2.0, 12.5, 25.0):
        assert sag_mm(100.0, gearing.extra_length_mm(100.0, sag, shape), shape) == pytest.approx(sag)
    with pytest.raises(GearingError, match="0 to 25"):
        gearing.extra_length_mm(100.0, 25.1, shape)
    with pytest.raises(GearingError, match="0 to"):
        sag_mm(100.0, gearing.extra_length_mm(100.0, 25.0, shape) * 1.01, shape)
    with pytest.raises(GearingError, match="'slack' is not a shape"):
        gearing.extra_length_mm(100.0, 2.0, "slack")


def test_play_in_numbers_and_words():
    """8 mm over 200 mm is 4 %; half of it to either side of the run."""
    found = gearing.slack(8, 200, 11, 82, PITCH)
    span = span_mm(200, 11, 82, PITCH)
    assert found.span_mm == pytest.approx(span)
    assert (found.movement_mm, found.movement_percent) == (8, pytest.approx(4))
    assert found.extra_length_mm == pytest.approx(2 * 4**2 / span)
    assert found.extra_pitches == pytest.approx(2 * 4**2 / span / PITCH)
    assert found.sentence.startswith(
        f"8 mm of play at mid-run is 4.0 % of the centre distance and takes {found.extra_length_mm:.2f} mm of chain."
    )
    assert "4 to 6 mm here; in the paddock 6 to 20 mm is common practice" in found.sentence
    assert gearing.slack(span / 2, 200, 11, 82, PITCH).movement_mm == pytest.approx(span / 2)
    with pytest.raises(GearingError, match="movement_mm"):
        gearing.slack(span / 2 + 0.1, 200, 11, 82, PITCH)


@pytest.mark.parametrize(
    ("teeth", "percent"), [(66, 3.0), (67, 3.0), (68, 200 / 68), (82, 200 / 82), (150, 200 / 150)]
)
def test_a_chain_is_worn_from_its_limit_on(teeth, percent):
    """3 %, above 67 teeth 200/N (two chain makers' pages, read)."""
    new = 20 * PITCH
    at = gearing.chain_wear(new * (1 + percent / 100 + 1e-9), 20, PITCH, teeth)
    below = gearing.chain_wear(new * (1 + percent / 100 - 1e-6), 20, PITCH, teeth)
    assert (at.replace, below.replace) == (True, False)
    assert at.limit_percent == pytest.approx(percent)
    assert at.limit_length_mm == pytest.approx(new * (1 + percent / 100))
    assert ("replace it, and look at both sprockets" in at.sentence, "replace it" in below.sentence) == (
        True,
        False,
    )
    assert f"with {teeth} teeth" in at.sentence
    assert gearing.wear_limit_percent(teeth, fixed_centres=True) == min(1.5, percent)


@pytest.mark.parametrize("share", [0.899, 1.101])
def test_a_length_far_from_new_was_counted_wrong(share):
    with pytest.raises(GearingError, match="measured_mm") as error:
        gearing.chain_wear(20 * PITCH * share, 20, PITCH, 82)
    assert "20 links of 7.774 mm measure 155.5 mm new" in error.value.mend
    assert gearing.chain_wear(20 * PITCH * 1.0999, 20, PITCH, 82).elongation_percent == pytest.approx(9.99)
    assert gearing.chain_wear(20 * PITCH * 0.9001, 20, PITCH, 82).elongation_percent == pytest.approx(-9.99)


@pytest.mark.parametrize(
    ("offset", "centre", "inside", "allowed"),
    [
        (0.69, 207, True, "0.7"),
        (-0.69, 207, True, "0.7"),
        (0.7, 207, False, "0.7"),
        (1.0, 600, True, "1.0"),
        (1.01, 600, False, "1.0"),
    ],
)
def test_out_of_line_by_a_three_hundredth_or_a_millimetre(offset, centre, inside, allowed):
    found = gearing.alignment(offset, centre)
    assert found.within_general_guidance is inside
    assert found.offset_mm == abs(offset)
    assert found.per_mm == pytest.approx(abs(offset) / centre)
    assert found.parallel_allowance_mm == pytest.approx(centre / 300)
    assert f"allows {allowed} mm here ({'within' if inside else 'outside'})" in found.sentence


def test_outside_diameter_of_the_handbook():
    """p (0.6 + cot(pi/N)): 12 teeth at unit pitch, cot 15 degrees = 2 + sqrt 3."""
    assert outside_diameter_mm(12, 1.0) == pytest.approx(0.6 + 2 + math.sqrt(3))
    assert outside_diameter_mm(82, PITCH) == pytest.approx(PITCH * (0.6 + 1 / math.tan(math.pi / 82)))


def test_where_the_engine_stands_and_whether_its_slots_allow_it():
    exact = gearing.centre_distance_mm(104, 11, 82, PITCH)
    for low, high, inside in (
        (exact, exact + 1, True),
        (exact - 1, exact, True),
        (exact + 0.1, exact + 1, False),
        (100, exact - 0.1, False),
    ):
        assert gearing.chain_reach(104, 11, 82, PITCH, (low, high)).within_slots is inside
    assert gearing.chain_reach(104, 11, 82, PITCH, (exact, exact)).within_slots is True  # a fixed engine
    free = gearing.chain_reach(105, 11, 82, PITCH)
    assert (free.within_slots, free.needs_offset_link, free.links) == (None, True, 105)
    assert free.centre_distance_handbook_mm == gearing.centre_distance_mm(105, 11, 82, PITCH, handbook=True)
    assert gearing.chain_reach(104, 11, 82, PITCH, (200, 200 + 1e-9)).within_slots is False


def test_slides_of_a_smaller_sprocket_and_of_a_longer_chain():
    closer = gearing.engine_slide(104, PITCH, (11, 81), (11, 82), slots_mm=(200, 210))
    assert closer.slide_mm == pytest.approx(
        gearing.centre_distance_mm(104, 11, 82, PITCH) - gearing.centre_distance_mm(104, 11, 81, PITCH)
    )
    assert closer.sentence == (
        f"The engine slides {-closer.slide_mm:.1f} mm towards the axle, to {closer.after.centre_distance_mm:.1f} mm "
        "between centres with the chain taut. That is within the slots (200 to 210 mm)."
    )
    longer = gearing.engine_slide(104, PITCH, (11, 82), (11, 82), links_after=105)
    assert (longer.before.links, longer.after.links, longer.within_slots) == (104, 105, None)
    assert "away from the axle" in longer.sentence
    assert longer.sentence.endswith(
        "105 links is an odd number: it would need an offset link; take an even number."
    )


@pytest.mark.parametrize("odd", [False, True])
def test_every_chain_that_fits_and_no_other(odd):
    """All numbers of links tried one by one."""
    slots = (195.0, 225.0)
    expected = [
        links
        for links in range(86, 140, 1 if odd else 2)
        if slots[0] <= gearing.centre_distance_mm(links, 11, 82, PITCH) <= slots[1]
    ]
    assert [one.links for one in gearing.links_that_fit(11, 82, PITCH, slots, odd=odd)] == expected
    even = gearing.centre_distance_mm(104, 11, 82, PITCH)
    at_the_ends = gearing.links_that_fit(
        11, 82, PITCH, (even - 1e-6, gearing.centre_distance_mm(106, 11, 82, PITCH) + 1e-6), odd=odd
    )
    assert [one.links for one in at_the_ends] == ([104, 105, 106] if odd else [104, 106])


def test_room_below_the_chain():
    """Half of a 274 mm tyre is 137 mm; the chain's plates are one pitch high unless measured."""
    usual = gearing.ground_clearance(82, PITCH, 274)
    assert usual.tyre_radius_mm == 137
    assert usual.chain_radius_mm == pytest.approx(radius(82) + PITCH / 2)
    assert usual.clearance_mm == pytest.approx(137 - radius(82) - PITCH / 2)
    lower = gearing.ground_clearance(82, PITCH, 274, plate_height_mm=6.0)
    assert lower.chain_radius_mm == pytest.approx(radius(82) + 3)
    assert usual.sentence.startswith(
        f"{usual.clearance_mm:.0f} mm between chain and ground on flat ground (82 teeth, 274 mm"
    )
    just = gearing.ground_clearance(82, PITCH, 2 * (usual.chain_radius_mm + 0.4))
    assert (just.clearance_mm, "would touch" in just.sentence) == (pytest.approx(0.4), False)
    assert "would touch" in gearing.ground_clearance(82, PITCH, 2 * (usual.chain_radius_mm - 0.1)).sentence
    for wrong in (99, 1001):
        with pytest.raises(GearingError, match="100 to 1000"):
            gearing.ground_clearance(82, PITCH, wrong)
    with pytest.raises(GearingError, match="plate_height_mm"):
        gearing.ground_clearance(82, PITCH, 274, plate_height_mm=0)
