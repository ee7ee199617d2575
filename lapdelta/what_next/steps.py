"""The next useful step of gearing: what the box of sprockets offers, and whether a chain reaches."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any, Literal

from lapdelta.gearing.box import Part
from lapdelta.gearing.chain import centre_distance_mm
from lapdelta.gearing.checks import GearingError
from lapdelta.gearing.fit import ChainReach, chain_reach
from lapdelta.gearing.ratio import pairs, ratio
from lapdelta.parts.box import SAME_PITCH_MM

Direction = Literal["taller", "shorter"]

#: Without a test behind it: one tooth near the best gearing is less than a day can see.
USUAL_STEP_TEETH = 2.0
#: Steps that differ by less than this share of a tooth count as alike.
ALIKE_TEETH = 0.25


@dataclass(frozen=True)
class Fitted:
    """What is on the kart.

    Attributes:
        engine_teeth, axle_teeth: the pair.
        chain_links, pitch_mm: the chain; None if not written down.
    """

    engine_teeth: int
    axle_teeth: int
    chain_links: int | None
    pitch_mm: float | None


@dataclass(frozen=True)
class Step:
    """One pair that the box offers instead of the one fitted.

    Attributes:
        engine_teeth, axle_teeth: the pair.
        taller_percent: speed at the same rpm against now; plus = taller.
        axle_teeth_equivalent: the step in teeth of the axle sprocket fitted now; minus = taller.
        chain: the chain that would be used, with its centre distance; None if none reaches or none is known.
        slide_mm: centre distance after minus now; None without both.
        reaches: True, False, or None where it cannot be told.
        sentence: in words.
    """

    engine_teeth: int
    axle_teeth: int
    taller_percent: float
    axle_teeth_equivalent: float
    chain: ChainReach | None
    slide_mm: float | None
    reaches: bool | None
    sentence: str

    @property
    def direction(self) -> Direction:
        """Taller or shorter than what is fitted."""
        return "taller" if self.taller_percent > 0 else "shorter"

    def to_dict(self) -> dict[str, Any]:
        """Plain values for ``--json``."""
        return asdict(self) | {"direction": self.direction}


def steps_from_box(
    fitted: Fitted,
    engine_sprockets: Sequence[int],
    axle_sprockets: Sequence[int],
    chains: Sequence[Part] = (),
    slots_mm: tuple[float, float] | None = None,
) -> tuple[Step, ...]:
    """Every other gear of the box, tallest first; of pairs of equal ratio the one that keeps the engine sprocket.

    Raises:
        GearingError: teeth or slots that cannot be.
    """
    now = (fitted.engine_teeth, fitted.axle_teeth)
    seen: dict[float, tuple[int, int]] = {}
    for pair in pairs(engine_sprockets, axle_sprockets, now):
        teeth = (pair.engine_teeth, pair.axle_teeth)
        if pair.ratio != ratio(*now) and (pair.ratio not in seen or teeth[0] == now[0]):
            seen[pair.ratio] = teeth
    return tuple(_step(fitted, teeth, chains, slots_mm) for _, teeth in sorted(seen.items()))


def next_step(steps: Sequence[Step], direction: Direction, teeth: float) -> Step | None:
    """The smallest step of at least ``teeth`` in a direction that reaches; else the largest there is.

    Steps whose reach cannot be told count after those that reach.
    """
    able = [one for one in steps if one.direction == direction and one.reaches is not False]
    enough = [one for one in able if abs(one.axle_teeth_equivalent) >= teeth - ALIKE_TEETH]
    if enough:
        return min(enough, key=lambda one: (one.reaches is None, abs(one.axle_teeth_equivalent)))
    return max(able, key=lambda one: abs(one.axle_teeth_equivalent), default=None)


def _step(
    fitted: Fitted, teeth: tuple[int, int], chains: Sequence[Part], slots_mm: tuple[float, float] | None
) -> Step:
    gear = ratio(fitted.engine_teeth, fitted.axle_teeth)
    longer = 100.0 * (gear / ratio(*teeth) - 1.0)
    equivalent = fitted.axle_teeth * (ratio(*teeth) / gear - 1.0)
    chain, reaches, why = _chain(fitted, teeth, chains, slots_mm)
    slide = _slide(fitted, chain)
    word, fewer = ("taller", "fewer") if longer > 0 else ("shorter", "more")
    count = f"{round(abs(equivalent), 1):g}"
    size = f"{abs(longer):.1f} % {word}, like {count} axle {'tooth' if count == '1' else 'teeth'} {fewer}"
    said = f"{teeth[0]}/{teeth[1]}: {size}. {why}"
    if slide is not None:
        said += f" The engine slides {abs(slide):.1f} mm {'away from' if slide > 0 else 'towards'} the axle."
    return Step(*teeth, longer, equivalent, chain, slide, reaches, said)


def _chain(
    fitted: Fitted, teeth: tuple[int, int], chains: Sequence[Part], slots_mm: tuple[float, float] | None
) -> tuple[ChainReach | None, bool | None, str]:
    """(the chain, whether it reaches, why): the fitted one first, then those of the box, shortest first."""
    pitch = fitted.pitch_mm
    lengths = [] if fitted.chain_links is None else [fitted.chain_links]
    if pitch is not None:
        owned = sorted({one.size for one in chains if abs(one.pitch_mm - pitch) <= SAME_PITCH_MM})
        lengths += [links for links in owned if links not in lengths]
    if pitch is None or not lengths:
        return None, None, "Whether the chain reaches cannot be told: write down its links and pitch."
    going: list[ChainReach] = []
    for links in lengths:
        try:
            going.append(chain_reach(links, *teeth, pitch, slots_mm))
        except GearingError as error:
            if error.where != "links":
                raise
    if not going:
        return None, False, f"No chain you have goes round ({', '.join(map(str, lengths))} links)."
    inside = [one for one in going if one.within_slots]
    if slots_mm is None:
        return going[0], None, f"{_said(going[0])}; look whether the engine mount allows that."
    if not inside:
        return (
            going[0],
            False,
            f"{_said(going[0])}: outside the slots ({slots_mm[0]:g} to {slots_mm[1]:g} mm).",
        )
    return inside[0], True, f"{_said(inside[0])}, within the slots."


def _said(reach: ChainReach) -> str:
    return f"{reach.links} links stand at {reach.centre_distance_mm:.1f} mm between centres"


def _slide(fitted: Fitted, chain: ChainReach | None) -> float | None:
    """How far the engine slides from where it stands now."""
    if chain is None or fitted.chain_links is None or fitted.pitch_mm is None:
        return None
    try:
        now = centre_distance_mm(fitted.chain_links, fitted.engine_teeth, fitted.axle_teeth, fitted.pitch_mm)
    except GearingError:
        return None  # what is written down as fitted does not go round: no place to slide from
    return chain.centre_distance_mm - now
