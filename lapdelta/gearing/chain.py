"""Chain and centre distance: what length reaches, and where the engine has to go.

Pitch-wise exact: the chain wraps each sprocket tooth by tooth and spans the gap as the common
tangent of the pitch circles. With pitch p, R = p / (2 sin(pi/N)) and a = asin((R2 - R1)/C),

    L = 2 C cos a / p + N2 (1/2 + a/pi) + N1 (1/2 - a/pi)   pitches.

The handbook approximation (Machinery's Handbook, roller chain length; chain makers' pages) is

    L = 2 C/p + (N1 + N2)/2 + ((N2 - N1)/(2 pi))^2 p/C.

It falls short by some hundredths of a pitch when the sprockets are close, as they are on a kart.
"""

import math

from lapdelta.gearing.checks import GearingError, positive, whole_links, whole_teeth


def pitch_diameter_mm(teeth: int, pitch_mm: float) -> float:
    """Diameter of the circle through the chain's pins, mm: p / sin(pi / N).

    Raises:
        GearingError: teeth that are not whole numbers >= 6, or a pitch that is not above zero.
    """
    return positive(pitch_mm, "pitch_mm", "mm") / math.sin(math.pi / whole_teeth(teeth, "teeth"))


def chain_length_pitches(
    centre_mm: float, engine_teeth: int, axle_teeth: int, pitch_mm: float, *, handbook: bool = False
) -> float:
    """Length of the chain in pitches (links) at a centre distance; seldom a whole number.

    Args:
        centre_mm: distance from axle centre to engine shaft centre, mm.
        engine_teeth: teeth of the engine sprocket.
        axle_teeth: teeth of the axle sprocket.
        pitch_mm: chain pitch, mm.
        handbook: use the handbook approximation instead of the exact length.

    Raises:
        GearingError: teeth, pitch or a centre distance that cannot be.
    """
    engine, axle = whole_teeth(engine_teeth, "engine_teeth"), whole_teeth(axle_teeth, "axle_teeth")
    pitch = positive(pitch_mm, "pitch_mm", "mm")
    centre = positive(centre_mm, "centre_mm", "mm")
    touching = shortest_centre_mm(engine, axle, pitch)
    if centre <= touching:
        raise GearingError(
            f"A centre distance of {centre:g} mm cannot be: sprockets of {engine} and {axle} teeth "
            f"at {pitch:g} mm pitch run into each other at {touching:.1f} mm and below.",
            f"Give a centre distance above {touching:.1f} mm.",
            "centre_mm",
        )
    return (_handbook_length if handbook else _exact_length)(centre, engine, axle, pitch)


def centre_distance_mm(
    links: float, engine_teeth: int, axle_teeth: int, pitch_mm: float, *, handbook: bool = False
) -> float:
    """Centre distance in mm at which a chain of so many links lies taut; inverse of the length.

    Args:
        links: length of the chain in pitches; a real chain has a whole number of them.
        engine_teeth: teeth of the engine sprocket.
        axle_teeth: teeth of the axle sprocket.
        pitch_mm: chain pitch, mm.
        handbook: invert the handbook approximation instead.

    Raises:
        GearingError: teeth or pitch that cannot be, or a chain too short to go round.
    """
    engine, axle = whole_teeth(engine_teeth, "engine_teeth"), whole_teeth(axle_teeth, "axle_teeth")
    pitch = positive(pitch_mm, "pitch_mm", "mm")
    length = positive(links, "links", "links")
    touching = shortest_centre_mm(engine, axle, pitch)
    shortest = (_handbook_length if handbook else _exact_length)(touching, engine, axle, pitch)
    if length <= shortest:
        raise GearingError(
            f"A chain of {length:g} links is too short: sprockets of {engine} and {axle} teeth would "
            f"touch at {shortest:.1f} links and below.",
            f"Take at least {_next_even(shortest)} links, or a smaller sprocket.",
            "links",
        )
    if handbook:
        return _handbook_centre(length, engine, axle, pitch)
    return _exact_centre(length, engine, axle, pitch, touching)


def shortest_centre_mm(engine_teeth: int, axle_teeth: int, pitch_mm: float) -> float:
    """Centre distance at which the two pitch circles touch, mm; real sprockets need a little more."""
    return (pitch_diameter_mm(engine_teeth, pitch_mm) + pitch_diameter_mm(axle_teeth, pitch_mm)) / 2.0


def span_mm(centre_mm: float, engine_teeth: int, axle_teeth: int, pitch_mm: float) -> float:
    """Free run of chain between the two sprockets, mm: C cos a, the common tangent.

    Raises:
        GearingError: teeth, pitch or a centre distance that cannot be.
    """
    chain_length_pitches(centre_mm, engine_teeth, axle_teeth, pitch_mm)  # the checks
    difference = (pitch_diameter_mm(axle_teeth, pitch_mm) - pitch_diameter_mm(engine_teeth, pitch_mm)) / 2.0
    return math.sqrt(centre_mm**2 - difference**2)


def even_links(links: float) -> int:
    """The next even whole number of links: an odd chain would need a cranked (offset) link.

    Chain makers' engineering pages advise an even number of links for that reason.

    Raises:
        GearingError: not above zero.
    """
    return _next_even(positive(links, "links", "links"))


def needs_offset_link(links: int) -> bool:
    """True for an odd number of links.

    Raises:
        GearingError: not a whole number above zero.
    """
    return whole_links(links) % 2 == 1


def _next_even(links: float) -> int:
    # 1e-9: a length that came out of arithmetic as 104.0000000001 is 104 links
    return 2 * math.ceil((links - 1e-9) / 2.0)


def _exact_length(centre: float, engine: int, axle: int, pitch: float) -> float:
    difference = (pitch_diameter_mm(axle, pitch) - pitch_diameter_mm(engine, pitch)) / 2.0
    angle = math.asin(difference / centre)
    wraps = axle * (0.5 + angle / math.pi) + engine * (0.5 - angle / math.pi)
    return 2.0 * centre * math.cos(angle) / pitch + wraps


def _handbook_length(centre: float, engine: int, axle: int, pitch: float) -> float:
    in_pitches = centre / pitch
    return 2.0 * in_pitches + (engine + axle) / 2.0 + ((axle - engine) / (2.0 * math.pi)) ** 2 / in_pitches


def _handbook_centre(links: float, engine: int, axle: int, pitch: float) -> float:
    straight = links - (engine + axle) / 2.0
    root = straight**2 - 8.0 * ((axle - engine) / (2.0 * math.pi)) ** 2
    return pitch * (straight + math.sqrt(root)) / 4.0


def _exact_centre(links: float, engine: int, axle: int, pitch: float, touching: float) -> float:
    """Bisection: the length grows with the centre distance throughout."""
    low = touching
    high = links * pitch / 2.0 + touching
    for _ in range(200):
        middle = (low + high) / 2.0
        if middle in (low, high):
            break
        if _exact_length(middle, engine, axle, pitch) < links:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0
