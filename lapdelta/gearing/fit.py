"""Does it fit: which chains reach, how far the engine slides, is the sprocket clear of the ground."""

import math
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import Any

from lapdelta.gearing.chain import (
    centre_distance_mm,
    chain_length_pitches,
    needs_offset_link,
    pitch_diameter_mm,
)
from lapdelta.gearing.checks import GearingError, positive, whole_links, within


@dataclass(frozen=True)
class ChainReach:
    """A chain round one pair of sprockets.

    Attributes:
        engine_teeth, axle_teeth, links, pitch_mm: as given.
        centre_distance_mm: exact, chain taut.
        centre_distance_handbook_mm: by the handbook approximation.
        needs_offset_link: an odd number of links.
        within_slots: the engine can stand there; None if the slots were not given.
    """

    engine_teeth: int
    axle_teeth: int
    links: int
    pitch_mm: float
    centre_distance_mm: float
    centre_distance_handbook_mm: float
    needs_offset_link: bool
    within_slots: bool | None

    def to_dict(self) -> dict[str, Any]:
        """Plain values for ``--json``."""
        return asdict(self)


def chain_reach(
    links: int,
    engine_teeth: int,
    axle_teeth: int,
    pitch_mm: float,
    slots_mm: tuple[float, float] | None = None,
) -> ChainReach:
    """Where the engine stands with this chain, and whether its slots allow it.

    Args:
        links: number of links, joining link included.
        engine_teeth: teeth of the engine sprocket.
        axle_teeth: teeth of the axle sprocket.
        pitch_mm: chain pitch, mm.
        slots_mm: shortest and longest centre distance that the engine mount allows, mm.

    Raises:
        GearingError: values that cannot be, or a chain too short to go round.
    """
    whole = whole_links(links)
    exact = centre_distance_mm(whole, engine_teeth, axle_teeth, pitch_mm)
    handbook = centre_distance_mm(whole, engine_teeth, axle_teeth, pitch_mm, handbook=True)
    inside = None
    if slots_mm is not None:
        shortest, longest = _slots(slots_mm)
        inside = shortest <= exact <= longest
    return ChainReach(
        int(engine_teeth), int(axle_teeth), whole, pitch_mm, exact, handbook, needs_offset_link(whole), inside
    )


def links_that_fit(
    engine_teeth: int, axle_teeth: int, pitch_mm: float, slots_mm: tuple[float, float], *, odd: bool = False
) -> tuple[ChainReach, ...]:
    """Every chain that lies taut inside the slots, shortest first; even numbers of links unless ``odd``.

    Raises:
        GearingError: values that cannot be.
    """
    shortest, longest = _slots(slots_mm)
    first = chain_length_pitches(shortest, engine_teeth, axle_teeth, pitch_mm)
    last = chain_length_pitches(longest, engine_teeth, axle_teeth, pitch_mm)
    return tuple(
        chain_reach(links, engine_teeth, axle_teeth, pitch_mm, slots_mm)
        for links in range(math.ceil(first), math.floor(last) + 1)
        if odd or not needs_offset_link(links)
    )


def _slots(slots_mm: Iterable[float]) -> tuple[float, float]:
    shortest, longest = (positive(value, "slots_mm", "mm") for value in slots_mm)
    if shortest > longest:
        raise GearingError(
            f"Slots from {shortest:g} to {longest:g} mm cannot be.",
            "Give the shortest centre distance first, then the longest.",
            "slots_mm",
        )
    return shortest, longest


@dataclass(frozen=True)
class Slide:
    """What a change of sprockets or chain does to the engine's place.

    Attributes:
        before: the chain round the old pair.
        after: the chain round the new pair.
        slide_mm: centre distance after minus before; plus = away from the axle.
        within_slots: the engine can stand there after; None if the slots were not given.
        sentence: the same in words.
    """

    before: ChainReach
    after: ChainReach
    slide_mm: float
    within_slots: bool | None
    sentence: str

    def to_dict(self) -> dict[str, Any]:
        """Plain values for ``--json``."""
        return asdict(self)


def engine_slide(
    links: int,
    pitch_mm: float,
    pair_before: tuple[int, int],
    pair_after: tuple[int, int],
    *,
    links_after: int | None = None,
    slots_mm: tuple[float, float] | None = None,
) -> Slide:
    """How far the engine slides when the pair (engine, axle), and perhaps the chain, is changed.

    Raises:
        GearingError: values that cannot be, or a chain too short to go round.
    """
    before = chain_reach(links, *pair_before, pitch_mm, slots_mm)
    after = chain_reach(links if links_after is None else links_after, *pair_after, pitch_mm, slots_mm)
    slide = after.centre_distance_mm - before.centre_distance_mm
    return Slide(before, after, slide, after.within_slots, _slide_sentence(after, slide, slots_mm))


def _slide_sentence(after: ChainReach, slide: float, slots_mm: tuple[float, float] | None) -> str:
    direction = "away from" if slide > 0 else "towards"
    text = (
        f"The engine slides {abs(slide):.1f} mm {direction} the axle, to {after.centre_distance_mm:.1f} mm "
        "between centres with the chain taut."
    )
    if slots_mm is not None:
        reach = "within" if after.within_slots else "outside"
        text += f" That is {reach} the slots ({slots_mm[0]:g} to {slots_mm[1]:g} mm)."
    if after.needs_offset_link:
        text += f" {after.links} links is an odd number: it would need an offset link; take an even number."
    return text


@dataclass(frozen=True)
class Clearance:
    """Room between the lowest point of the chain on the axle sprocket and the ground.

    Attributes:
        clearance_mm: on a flat ground, kart level, tyre not flattened by its load.
        tyre_radius_mm: half of the tyre diameter.
        chain_radius_mm: axle centre to the chain's outer edge.
        sentence: the same in words, with what it leaves out.
    """

    clearance_mm: float
    tyre_radius_mm: float
    chain_radius_mm: float
    sentence: str

    def to_dict(self) -> dict[str, Any]:
        """Plain values for ``--json``."""
        return asdict(self)


def ground_clearance(
    axle_teeth: int, pitch_mm: float, tyre_diameter_mm: float, plate_height_mm: float | None = None
) -> Clearance:
    """Ground clearance of the axle sprocket with its chain.

    Args:
        axle_teeth: teeth of the axle sprocket.
        pitch_mm: chain pitch, mm.
        tyre_diameter_mm: diameter of the rear tyre as it stands under load, mm.
        plate_height_mm: height of the chain's plates; None takes one pitch, which is on the safe side
            (plates are a little lower than the pitch).

    Raises:
        GearingError: teeth, pitch or diameter that cannot be.
    """
    height = pitch_mm if plate_height_mm is None else positive(plate_height_mm, "plate_height_mm", "mm")
    chain_radius = (pitch_diameter_mm(axle_teeth, pitch_mm) + height) / 2.0
    mend = "Give the diameter of the rear tyre in millimetres, for example 274."
    tyre_radius = within(tyre_diameter_mm, "tyre_diameter_mm", 100.0, 1000.0, "mm", mend) / 2.0
    room = tyre_radius - chain_radius
    head = f"{room:.0f} mm between chain and ground" if room > 0 else "The chain would touch the ground"
    sentence = (
        f"{head} on flat ground ({axle_teeth} teeth, {tyre_diameter_mm:g} mm tyre). Kerbs, chassis flex, a "
        "flattened or worn tyre take from that; look at the kart, and at what its maker allows."
    )
    return Clearance(room, tyre_radius, chain_radius, sentence)
