"""A careful reading under way: everything that has been decided so far."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from lapdelta.reading.decode import Text
from lapdelta.reading.dialect import Dialect, Record
from lapdelta.reading.drafts import Layout
from lapdelta.reading.laps import Formats, Lap
from lapdelta.reading.ledger import Ledger
from lapdelta.reading.model import Question
from lapdelta.reading.recipe import Recipe
from lapdelta.reading.source import Source
from lapdelta.reading.structure import Structure


@dataclass
class Outcome:
    """What became of one record: the laps it gave and the reasons of those it did not."""

    record: Record
    laps: list[Lap] = field(default_factory=list[Lap])
    faults: list[tuple[str, str, str]] = field(default_factory=list[tuple[str, str, str]])


@dataclass
class Careful:
    """One careful reading under way: everything decided so far."""

    source: Source
    text: Text
    dialect: Dialect
    ledger: Ledger
    structure: Structure
    answers: Mapping[str, str]
    layouts: list[Layout] = field(default_factory=list[Layout])
    formats: list[Formats] = field(default_factory=list[Formats])
    questions: dict[str, Question] = field(default_factory=dict[str, Question])
    outcomes: dict[int, Outcome] = field(default_factory=dict[int, Outcome])
    notes: list[str] = field(default_factory=list[str])
    columns: tuple[dict[str, str], ...] = ()
    recipe: Recipe = field(default_factory=Recipe)
