"""Did that one change make the kart quicker? The public path, nothing else.

    reading = lapdelta.read_timing("saturday.csv")            # read
    archive = lapdelta.Archive("my archive")                  # keep
    archive.add(reading)
    finding = lapdelta.compare(                               # screen, ask, estimate, check
        archive.laps("2026-05-16"), kart="07", before=["P1", "P4"], after=["P2", "P3"], setups=archive.setups
    )
    print(finding.verdict, finding.estimate, finding.low, finding.high)

Names load on first use, so that ``import lapdelta`` costs next to nothing.
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from lapdelta import gearing as gearing
    from lapdelta.archive import Archive as Archive
    from lapdelta.effect.finding import Finding as Finding
    from lapdelta.errors import QuestionError as QuestionError
    from lapdelta.errors import UnreadableFile as UnreadableFile
    from lapdelta.planning.plan import plan_test as plan_test
    from lapdelta.question import compare as compare
    from lapdelta.reading import Reading as Reading
    from lapdelta.reading import read_timing as read_timing
    from lapdelta.seasons import season as season

__version__ = "0.1.0"

_HOME_OF = {
    "read_timing": "lapdelta.reading",
    "Archive": "lapdelta.archive",
    "compare": "lapdelta.question",
    "plan_test": "lapdelta.planning.plan",
    "season": "lapdelta.seasons",
    "Reading": "lapdelta.reading",
    "Finding": "lapdelta.effect.finding",
    "UnreadableFile": "lapdelta.errors",
    "QuestionError": "lapdelta.errors",
}

__all__ = [
    "Archive",
    "Finding",
    "QuestionError",
    "Reading",
    "UnreadableFile",
    "compare",
    "gearing",
    "plan_test",
    "read_timing",
    "season",
]


def __getattr__(name: str) -> object:
    """Load a public name from its home module on first use (PEP 562)."""
    if name == "gearing":
        return import_module("lapdelta.gearing")
    if name not in _HOME_OF:
        raise AttributeError(f"module 'lapdelta' has no attribute {name!r}")
    value = getattr(import_module(_HOME_OF[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    """Public names, loaded or not."""
    return sorted([*__all__, "__version__"])
