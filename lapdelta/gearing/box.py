"""The sprocket box: what is owned, how far it has run, what that cost. Money is a plain number."""

from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Literal

from lapdelta.gearing.checks import GearingError, positive, within

Kind = Literal["engine sprocket", "axle sprocket", "chain"]
KINDS: tuple[Kind, ...] = ("engine sprocket", "axle sprocket", "chain")


@dataclass(frozen=True)
class Part:
    """One sprocket or chain of the user's.

    Attributes:
        name: the user's own name for it; unique in the box.
        kind: engine sprocket, axle sprocket or chain.
        size: teeth, or links of a chain.
        pitch_mm: chain pitch it is for.
        price: what it was bought for, in the user's currency; None if unknown.
    """

    name: str
    kind: Kind
    size: int
    pitch_mm: float
    price: float | None = None


@dataclass(frozen=True)
class Run:
    """Laps that a set of parts ran together in one session.

    Attributes:
        parts: names of the parts fitted.
        laps: laps run, out and in laps included: they wear as well.
        lap_length_m: length of a lap; None if unknown.
    """

    parts: tuple[str, ...]
    laps: int
    lap_length_m: float | None = None


@dataclass(frozen=True)
class PartWear:
    """A part's life so far.

    Attributes:
        part: the part.
        laps: laps run.
        distance_km: kilometres run on laps of known length; None if none has a length.
        laps_without_length: laps that the distance leaves out.
        cost_per_100_laps: price / laps x 100, falling with every lap; None without price or laps.
        ran_with: (name of another part, laps together), most first.
    """

    part: Part
    laps: int
    distance_km: float | None
    laps_without_length: int
    cost_per_100_laps: float | None
    ran_with: tuple[tuple[str, int], ...]

    def to_dict(self) -> dict[str, Any]:
        """Plain values for ``--json``."""
        return asdict(self) | {"ran_with": [list(pair) for pair in self.ran_with]}


def distance_km(laps: int, lap_length_m: float) -> float:
    """Kilometres of so many laps.

    Raises:
        GearingError: negative laps, or a lap length outside 10 m to 30 km.
    """
    return within(laps, "laps", 0, 1e9, "laps") * _lap_length(lap_length_m) / 1000.0


def cost_per_100_laps(price: float, laps: int) -> float:
    """Price / laps x 100, in the user's currency.

    Raises:
        GearingError: a negative price, or no laps.
    """
    return 100.0 * within(price, "price", 0.0, 1e9, "") / positive(laps, "laps", "laps")


def _lap_length(value: float) -> float:
    return within(value, "lap_length_m", 10.0, 30_000.0, "m", "Give the length of a lap in metres.")


def box_wear(parts: Sequence[Part], runs: Iterable[Run]) -> tuple[PartWear, ...]:
    """Laps, kilometres and cost of every part, in the order of the box.

    Raises:
        GearingError: two parts of one name, an unknown kind, or a run with a part that is not in the box.
    """
    by_name = {part.name: part for part in parts}
    if len(by_name) != len(parts):
        raise GearingError("Two parts have the same name.", "Give every part its own name.", "parts")
    listed = list(runs)
    for part in parts:
        if part.kind not in KINDS:
            raise GearingError(
                f"{part.kind!r} is not a kind of part.", f"Say one of {', '.join(KINDS)}.", "kind"
            )
    for run in listed:
        for name in run.parts:
            if name not in by_name:
                raise GearingError(f"{name!r} is not in the box.", "Add the part first.", "runs")
    return tuple(_wear_of(part, [run for run in listed if part.name in run.parts]) for part in parts)


def _wear_of(part: Part, runs: list[Run]) -> PartWear:
    laps = sum(int(within(run.laps, "laps", 0, 1e9, "laps")) for run in runs)
    known = [(run.laps, run.lap_length_m) for run in runs if run.lap_length_m is not None]
    kilometres = [distance_km(count, length) for count, length in known]
    together: dict[str, int] = {}
    for run in runs:
        for name in set(run.parts) - {part.name}:
            together[name] = together.get(name, 0) + run.laps
    return PartWear(
        part,
        laps,
        sum(kilometres) if known else None,
        laps - sum(count for count, _ in known),
        cost_per_100_laps(part.price, laps) if part.price is not None and laps else None,
        tuple(sorted(together.items(), key=lambda item: (-item[1], item[0]))),
    )
