"""Cautions beside anything about sprockets, chains and on-track tests, as data.

General workshop practice. It replaces no manual: the maker's manual, the class rules and qualified
people come first. Design of guards and safety of machinery: ISO 12100, ISO 14120, ISO 13857; chains:
ISO 606, ASME B29.1 (named, not quoted).
"""

from dataclasses import asdict, dataclass
from typing import Any, Literal

When = Literal["before work", "at work", "before running", "after running", "on track"]


@dataclass(frozen=True)
class Caution:
    """One line of the check list.

    Attributes:
        key: short stable name.
        when: the moment it belongs to.
        text: the sentence to show.
        common_practice: a rule of thumb of the trade without a source; never a limit.
    """

    key: str
    when: When
    text: str
    common_practice: bool = False

    def to_dict(self) -> dict[str, Any]:
        """Plain values for ``--json``."""
        return asdict(self)


#: The line that stands above every list.
FIRST = (
    "The kart, engine and chain makers' manuals, the class rules and qualified people come first; "
    "if they say otherwise, do as they say."
)

CAUTIONS: tuple[Caution, ...] = (
    Caution(
        "adult", "before work", "A child does not do this alone: a competent adult does it or stands by."
    ),
    Caution("engine_off", "before work", "Engine off, cool, and unable to start: plug cap or battery off."),
    Caution("supported", "before work", "Kart on a firm stand that cannot tip or roll; eye protection on."),
    Caution(
        "fingers", "at work", "Fingers and cloths never near a turning chain; turn the axle by the tyre."
    ),
    Caution(
        "worn_together",
        "at work",
        "Look at chain and both sprockets; those worn together are changed together.",
    ),
    Caution("joining_link", "at work", "A clipped joining link: closed end of the clip leads, clip seated."),
    Caution(
        "even_links", "at work", "Take a chain with an even number of links; do not stretch one to reach."
    ),
    Caution(
        "alignment",
        "before running",
        "Alignment and play checked at several axle positions, engine mount tight; play as the maker states.",
    ),
    Caution(
        "play_rule_of_thumb",
        "before running",
        "Common practice is some 6 to 20 mm of play at mid-run; only the maker's figure counts.",
        common_practice=True,
    ),
    Caution(
        "fasteners", "before running", "Every fastener the maker specifies, fitted and at the maker's torque."
    ),
    Caution(
        "guard", "before running", "Chain guard refitted before the engine is started; never run without it."
    ),
    Caution(
        "tyres",
        "before running",
        "If wheels were off: tyre rotation arrows the right way, wheel nuts checked.",
    ),
    Caution(
        "clearance",
        "before running",
        "Turn the axle once by the tyre: nothing touches frame, guard or ground.",
    ),
    Caution(
        "again",
        "after running",
        "After the first laps: engine off, then fasteners, alignment and play again; parts are hot.",
    ),
    Caution(
        "rpm", "on track", "Stay below the engine maker's and the class's highest rpm with every gear tried."
    ),
    Caution(
        "call_off",
        "on track",
        "Call a test off for wet, damage, traffic or a tired driver; no lap is worth it.",
    ),
)

#: What belongs beside a test plan when no spanner is involved.
ON_TRACK_KEYS = ("adult", "again", "rpm", "call_off")


def check_list() -> tuple[Caution, ...]:
    """All cautions, in the order of the work."""
    return CAUTIONS


def on_track_list() -> tuple[Caution, ...]:
    """The cautions that belong to running a test."""
    return tuple(caution for caution in CAUTIONS if caution.key in ON_TRACK_KEYS)
