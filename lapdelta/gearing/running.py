"""The chain in running: slack at mid-run, wear and alignment.

The limits here are general ones for industrial roller chain, from chain makers' engineering pages and
a general chain guide; common practice of karting is marked as such. The chain's and the kart maker's
manual and the class rules come first.
"""

import math
from dataclasses import asdict, dataclass
from typing import Any, Literal

from lapdelta.gearing.chain import pitch_diameter_mm, span_mm
from lapdelta.gearing.checks import GearingError, positive, whole_links, whole_teeth, within

#: A chain hangs as a parabola, or is pushed by a finger or a tool to a V.
Shape = Literal["hanging", "pushed"]

#: Total movement at mid-span, percent of the centre distance (a chain maker's engineering page).
FAST_DRIVE_MOVEMENT_PERCENT = (2.0, 3.0)
#: Total movement at mid-run in the paddock, mm: common practice, no source; rules of thumb differ.
COMMON_PRACTICE_MOVEMENT_MM = (6.0, 20.0)
#: Elongation at which a chain is replaced, percent (two chain makers' pages; one points to ASME B29.1).
GENERAL_WEAR_PERCENT = 3.0
LARGE_SPROCKET_TEETH = 67
LARGE_SPROCKET_WEAR_TEETH_PERCENT = 200.0
FIXED_CENTRES_WEAR_PERCENT = 1.5
#: Shafts parallel within 1 in 300, faces within 1 mm up to 1 m (a general industrial chain guide).
PARALLEL_WITHIN = 1.0 / 300.0
FACES_WITHIN_MM = 1.0


def extra_length_mm(span_mm: float, sag_mm: float, shape: Shape = "hanging") -> float:
    """Chain length beyond the straight span that a sag takes, mm.

    Parabola 8 f^2 / (3 S) for a hanging chain, 2 f^2 / S for one pushed to a V; both for f much
    smaller than S.

    Raises:
        GearingError: lengths that cannot be, or a sag above a quarter of the span.
    """
    span = positive(span_mm, "span_mm", "mm")
    sag = within(sag_mm, "sag_mm", 0.0, span / 4.0, "mm")
    return _shape_factor(shape) * sag**2 / span


def sag_mm(span_mm: float, extra_length_mm: float, shape: Shape = "hanging") -> float:
    """Sag at mid-span that an extra length allows, mm; the inverse of ``extra_length_mm``."""
    span = positive(span_mm, "span_mm", "mm")
    factor = _shape_factor(shape)
    return math.sqrt(
        within(extra_length_mm, "extra_length_mm", 0.0, factor * span / 16.0, "mm") * span / factor
    )


def _shape_factor(shape: str) -> float:
    if shape not in ("hanging", "pushed"):
        raise GearingError(f"{shape!r} is not a shape.", "Say hanging or pushed.", "shape")
    return 8.0 / 3.0 if shape == "hanging" else 2.0


@dataclass(frozen=True)
class Slack:
    """Play measured at mid-run, and what it means.

    Attributes:
        span_mm: free run between the sprockets.
        movement_mm: total movement at mid-run, from one end of its play to the other.
        movement_percent: of the centre distance.
        extra_length_mm: chain length that this movement takes beyond the straight run.
        extra_pitches: the same in pitches.
        general_low_mm, general_high_mm: 2-3 % of the centre distance, a chain maker's figure for fast
            drives; not a limit for this kart.
        sentence: in words, deferring to the maker's figure.
    """

    span_mm: float
    movement_mm: float
    movement_percent: float
    extra_length_mm: float
    extra_pitches: float
    general_low_mm: float
    general_high_mm: float
    sentence: str

    def to_dict(self) -> dict[str, Any]:
        """Plain values for ``--json``."""
        return asdict(self)


def slack(movement_mm: float, centre_mm: float, engine_teeth: int, axle_teeth: int, pitch_mm: float) -> Slack:
    """What a total movement at mid-run means in length of chain.

    Half of the movement lies on either side of the straight run (one run pushed, the other taut).

    Raises:
        GearingError: values that cannot be.
    """
    span = span_mm(centre_mm, engine_teeth, axle_teeth, pitch_mm)
    movement = within(movement_mm, "movement_mm", 0.0, span / 2.0, "mm")
    extra = extra_length_mm(span, movement / 2.0, "pushed")
    low, high = (percent / 100.0 * centre_mm for percent in FAST_DRIVE_MOVEMENT_PERCENT)
    usual_low, usual_high = COMMON_PRACTICE_MOVEMENT_MM
    sentence = (
        f"{movement:.0f} mm of play at mid-run is {100 * movement / centre_mm:.1f} % of the centre distance "
        f"and takes {extra:.2f} mm of chain. A chain maker's general figure for fast drives is {low:.0f} to "
        f"{high:.0f} mm here; in the paddock "
        f"{usual_low:.0f} to {usual_high:.0f} mm is common practice. "
        "The maker's figure comes first. Measure after tightening the engine mount: tightening takes some up."
    )
    return Slack(span, movement, 100.0 * movement / centre_mm, extra, extra / pitch_mm, low, high, sentence)


def wear_limit_percent(largest_teeth: int, *, fixed_centres: bool = False) -> float:
    """Elongation at which a chain is to be replaced, percent.

    3 in general, 200/N above 67 teeth, 1.5 on fixed centres; the smallest that applies.

    Raises:
        GearingError: teeth that are not whole numbers >= 6.
    """
    teeth = whole_teeth(largest_teeth, "largest_teeth")
    limit = (
        LARGE_SPROCKET_WEAR_TEETH_PERCENT / teeth if teeth > LARGE_SPROCKET_TEETH else GENERAL_WEAR_PERCENT
    )
    return min(limit, FIXED_CENTRES_WEAR_PERCENT) if fixed_centres else limit


@dataclass(frozen=True)
class ChainWear:
    """A chain measured over a number of links.

    Attributes:
        elongation_percent: measured length against links x pitch.
        limit_percent: where general guidance replaces it.
        limit_length_mm: the length over the same links at that limit.
        replace: at or beyond the limit.
        sentence: in words.
    """

    elongation_percent: float
    limit_percent: float
    limit_length_mm: float
    replace: bool
    sentence: str

    def to_dict(self) -> dict[str, Any]:
        """Plain values for ``--json``."""
        return asdict(self)


def chain_wear(
    measured_mm: float, links: int, pitch_mm: float, largest_teeth: int, *, fixed_centres: bool = False
) -> ChainWear:
    """Wear of a chain from its length over ``links`` links, pin to pin and pulled straight.

    Raises:
        GearingError: values that cannot be, or a length more than 10 % away from new.
    """
    teeth = whole_teeth(largest_teeth, "largest_teeth")
    new = whole_links(links) * positive(pitch_mm, "pitch_mm", "mm")
    mend = f"{links} links of {pitch_mm:g} mm measure {new:.1f} mm new, pin to pin; count and measure again."
    measured = within(measured_mm, "measured_mm", 0.9 * new, 1.1 * new, "mm", mend)
    elongation = 100.0 * (measured / new - 1.0)
    limit = wear_limit_percent(teeth, fixed_centres=fixed_centres)
    worn = elongation >= limit
    sentence = (
        f"{elongation:.2f} % longer than new; chain makers replace at {limit:.2f} % with {teeth} teeth"
        + (": replace it, and look at both sprockets." if worn else ".")
        + " If the maker of this chain says less, that holds."
    )
    return ChainWear(elongation, limit, new * (1.0 + limit / 100.0), worn, sentence)


@dataclass(frozen=True)
class Alignment:
    """How far out of line, measured with a straight edge.

    Attributes:
        offset_mm: distance of the sprocket faces from one line.
        per_mm: offset over the centre distance.
        parallel_allowance_mm: 1/300 of the centre distance, general industrial guidance.
        within_general_guidance: offset within the smaller of 1/300 and 1 mm.
        sentence: in words.
    """

    offset_mm: float
    per_mm: float
    parallel_allowance_mm: float
    within_general_guidance: bool
    sentence: str

    def to_dict(self) -> dict[str, Any]:
        """Plain values for ``--json``."""
        return asdict(self)


def alignment(offset_mm: float, centre_mm: float) -> Alignment:
    """An offset between the sprocket faces against general guidance, over the centre distance.

    Raises:
        GearingError: values that cannot be.
    """
    centre = positive(centre_mm, "centre_mm", "mm")
    offset = abs(within(offset_mm, "offset_mm", -centre, centre, "mm"))
    allowance = centre * PARALLEL_WITHIN
    inside = offset <= min(allowance, FACES_WITHIN_MM)
    sentence = (
        f"{offset:.1f} mm out of line over {centre:.0f} mm; general chain guidance allows "
        f"{min(allowance, FACES_WITHIN_MM):.1f} mm here ({'within' if inside else 'outside'}). "
        "Karts are commonly "
        "set closer, with a straight edge or a light, and read at several axle positions: a bent carrier or "
        "sprocket reads differently as it turns (common practice)."
    )
    return Alignment(offset, offset / centre, allowance, inside, sentence)


def chordal_speed_variation(teeth: int) -> float:
    """Share by which chain speed rises and falls within one tooth, 1 - cos(pi / N)."""
    return 1.0 - math.cos(math.pi / whole_teeth(teeth, "teeth"))


def outside_diameter_mm(teeth: int, pitch_mm: float) -> float:
    """Diameter over the tooth tips, mm, by the handbook's p (0.6 + cot(pi / N)); makers differ a little."""
    whole_teeth(teeth, "teeth")
    return pitch_diameter_mm(teeth, pitch_mm) * math.cos(math.pi / teeth) + 0.6 * pitch_mm
