"""Chain geometry against handbook values.

Sources, said beside each number:
- MH: Machinery's Handbook, table of sprocket pitch diameters for unit pitch. From memory, not seen; the
  values also follow from p / sin(pi/N).
- CM: a chain maker's engineering page with a worked example, 20 and 63 teeth; read.
- OWN: computed by an independent script from the geometry in the docstring of ``chain``; not published.
"""

import math

import numpy as np
import pytest

from lapdelta import gearing

KART_PITCH_MM = 7.774


@pytest.mark.parametrize(
    ("teeth", "diameter"),
    [
        (9, 2.9238),
        (10, 3.2361),
        (11, 3.5495),
        (12, 3.8637),
        (60, 19.1073),
        (82, 26.1078),
        (90, 28.6537),
    ],  # MH
)
def test_pitch_diameter_for_unit_pitch(teeth, diameter):
    assert gearing.pitch_diameter_mm(teeth, 1.0) == pytest.approx(diameter, abs=5e-5)


def test_pitch_diameters_at_two_pitches():
    at_7774 = [195.54, 198.01, 200.49, 202.96, 205.44, 207.91, 210.38]  # OWN, 79..85 teeth
    at_9525 = [239.58, 242.61, 245.65, 248.68, 251.71, 254.74, 257.77]  # OWN
    for pitch, expected in ((7.774, at_7774), (9.525, at_9525)):
        got = [gearing.pitch_diameter_mm(teeth, pitch) for teeth in range(79, 86)]
        assert got == pytest.approx(expected, abs=0.005)


def test_handbook_length_of_the_worked_example():
    # CM prints 114.8 pitches; the centre distance of 36 pitches is inferred from it
    assert gearing.chain_length_pitches(36, 20, 63, 1, handbook=True) == pytest.approx(114.8, abs=0.05)


def test_handbook_centre_of_the_worked_example():
    # CM: 114 pitches give a centre distance of 35.6 pitches
    assert gearing.centre_distance_mm(114, 20, 63, 1, handbook=True) == pytest.approx(35.6, abs=0.05)


def test_exact_length_counts_wraps_in_teeth():
    assert gearing.chain_length_pitches(36, 20, 63, 1) == pytest.approx(114.805, abs=5e-4)  # OWN
    assert gearing.chain_length_pitches(220, 11, 82, KART_PITCH_MM) == pytest.approx(107.674, abs=5e-4)  # OWN
    handbook = gearing.chain_length_pitches(220, 11, 82, KART_PITCH_MM, handbook=True)
    assert handbook == pytest.approx(107.611, abs=5e-4)  # the handbook's formula, computed


@pytest.mark.parametrize(
    ("axle_teeth", "exact_mm", "handbook_mm"),  # OWN, 11 teeth on the engine, 104 links of 7.774 mm
    [
        (80, 209.764, 210.040),
        (81, 207.053, 207.359),
        (82, 204.308, 204.648),
        (83, 201.529, 201.907),
        (84, 198.711, 199.132),
    ],
)
def test_centre_distance_of_a_kart(axle_teeth, exact_mm, handbook_mm):
    assert gearing.centre_distance_mm(104, 11, axle_teeth, KART_PITCH_MM) == pytest.approx(exact_mm, abs=6e-4)
    by_handbook = gearing.centre_distance_mm(104, 11, axle_teeth, KART_PITCH_MM, handbook=True)
    assert by_handbook == pytest.approx(handbook_mm, abs=6e-4)


def test_exact_length_against_its_parts_from_coordinates():
    """Tangent points as coordinates, their distance by Pythagoras, wraps as angles: no closed formula."""
    engine, axle, pitch = 11, 83, KART_PITCH_MM
    centre = 205.0
    small, large = (pitch / (2 * math.sin(math.pi / teeth)) for teeth in (engine, axle))
    lean = math.asin((large - small) / centre)
    # angle of wrap in whole and part teeth, tangents in pitches
    wrap_large = (math.pi + 2 * lean) / (2 * math.pi / axle)
    wrap_small = (math.pi - 2 * lean) / (2 * math.pi / engine)
    start = large * np.array([math.sin(lean), math.cos(lean)])
    end = np.array([centre, 0.0]) + small * np.array([math.sin(lean), math.cos(lean)])
    straight = float(np.hypot(*(end - start)))
    expected = wrap_large + wrap_small + 2 * straight / pitch
    assert gearing.chain_length_pitches(centre, engine, axle, pitch) == pytest.approx(expected, abs=1e-9)


def test_one_tooth_moves_the_engine_more_than_parallel_strands_would():
    slide = gearing.engine_slide(104, KART_PITCH_MM, (11, 82), (11, 81), slots_mm=(200, 206))
    assert slide.slide_mm == pytest.approx(2.745, abs=0.001)  # OWN: 207.053 - 204.308
    assert slide.slide_mm > KART_PITCH_MM / 4
    assert slide.within_slots is False
    assert "outside" in slide.sentence


def test_sag_and_extra_length():
    # OWN: parabola and V, percent of the span, at 2, 3, 4 % sag
    for shape, expected in (("hanging", (0.107, 0.240, 0.427)), ("pushed", (0.080, 0.180, 0.320))):
        got = [gearing.extra_length_mm(100, sag, shape) for sag in (2, 3, 4)]
        assert got == pytest.approx(expected, abs=5e-4)


def test_sag_formulas_against_true_lengths():
    """The parabola's arc length by integration and the V's by Pythagoras; error below 0.3 % at 4 % sag."""
    span, sag = 100.0, 4.0
    x = np.linspace(-span / 2, span / 2, 200_001)
    slope = 8 * sag * x / span**2
    arc = float(np.trapezoid(np.sqrt(1 + slope**2), x)) - span
    assert gearing.extra_length_mm(span, sag, "hanging") == pytest.approx(arc, rel=5e-3)
    vee = 2 * math.hypot(span / 2, sag) - span
    assert gearing.extra_length_mm(span, sag, "pushed") == pytest.approx(vee, rel=5e-3)


def test_wear_limits_of_chain_makers():
    # two chain makers' engineering pages (read): 3 %, 200/N % above 67 teeth, 1.5 % on fixed centres
    assert gearing.wear_limit_percent(40) == 3.0
    assert gearing.wear_limit_percent(67) == 3.0
    assert gearing.wear_limit_percent(82) == pytest.approx(2.44, abs=0.005)
    assert gearing.wear_limit_percent(82, fixed_centres=True) == 1.5
    worn = gearing.chain_wear(20 * KART_PITCH_MM * 1.0244, 20, KART_PITCH_MM, 82)
    assert worn.replace
    assert worn.elongation_percent == pytest.approx(2.44)


def test_alignment_of_general_chain_guidance():
    # a general industrial chain guide (read): parallel within 1/300, faces within 1 mm up to 1 m
    assert gearing.alignment(0.6, 204).within_general_guidance
    assert not gearing.alignment(0.8, 204).within_general_guidance
    assert not gearing.alignment(1.2, 900).within_general_guidance


def test_slack_in_percent_of_the_centre_distance():
    # a chain maker's engineering page (read): total movement 2-3 % of the centre distance on fast drives
    slack = gearing.slack(6, 200, 11, 82, KART_PITCH_MM)
    assert (slack.general_low_mm, slack.general_high_mm) == pytest.approx((4, 6))
    assert slack.movement_percent == pytest.approx(3)
    # half the movement to either side of a span S: 2 (M/2)^2 / S
    assert slack.extra_length_mm == pytest.approx(2 * 3**2 / slack.span_mm)


def test_chordal_speed_variation():
    got = [100 * gearing.chordal_speed_variation(teeth) for teeth in (9, 10, 11, 12)]
    assert got == pytest.approx([6.03, 4.89, 4.05, 3.41], abs=0.005)  # OWN, 1 - cos(pi/N)


def test_even_links():
    # chain makers' engineering pages (read): an even number of links avoids an offset link
    assert [gearing.even_links(length) for length in (103.2, 104, 104.01, 105)] == [104, 104, 106, 106]
    assert gearing.needs_offset_link(105)
    fitting = gearing.links_that_fit(11, 82, KART_PITCH_MM, (195, 225))
    assert [reach.links for reach in fitting] == [102, 104, 106, 108]
    both = gearing.links_that_fit(11, 82, KART_PITCH_MM, (195, 225), odd=True)
    assert [reach.links for reach in both] == list(range(102, 109))


def test_ground_clearance_by_hand():
    # 274 mm tyre, 82 teeth: 137 - (202.96 + 7.774)/2
    room = gearing.ground_clearance(82, KART_PITCH_MM, 274)
    assert room.clearance_mm == pytest.approx(137 - (202.962 + 7.774) / 2, abs=0.005)
    assert "touch" in gearing.ground_clearance(120, KART_PITCH_MM, 274).sentence
