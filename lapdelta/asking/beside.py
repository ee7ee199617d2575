"""What stands beside an answer: the question as written in advance, the driver's words, how many were asked."""

from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import polars as pl

from lapdelta.archive import ArchiveBusy
from lapdelta.effect.measures import find_measure
from lapdelta.units import IN_STORE, Units

if TYPE_CHECKING:
    from lapdelta.archive import Archive
    from lapdelta.effect.finding import Finding

#: How long an answer waits for another program that is writing, before it stays uncounted, in s.
_PATIENCE_S = 2.0

#: A measure named long ago may be of any sector.
_ANY_SECTOR = 99

_WARNING = "Of twenty questions about changes that did nothing, one will look real."


@dataclass(frozen=True)
class Beside:
    """What the archive knows beside a finding.

    Attributes:
        season: calendar year of the event; None if the question was not recorded.
        number: place of the question among those of the season, in the order first asked; None likewise.
        asked: questions asked in the season so far; None likewise.
        written: the question written down that fits (a row of ``Archive.questions``); None if there is none.
        unwritten: its sessions of which the setup sheet says nothing, where it does of others.
    """

    season: int | None
    number: int | None
    asked: int | None
    written: dict[str, Any] | None
    unwritten: tuple[str, ...] = ()


def record(archive: "Archive", finding: "Finding") -> None:
    """Count the question of a finding; asked again it counts once.

    A session named both before and after is a slip, and no question. An archive that cannot be written, or that
    another program is writing to just now, does not count it: the answer is worth more than its number.
    """
    if archive.writable and not set(finding.before) & set(finding.after):
        with suppress(ArchiveBusy):
            archive.note_asked(*_key(finding), patience_s=_PATIENCE_S)


def beside(archive: "Archive", finding: "Finding") -> Beside:
    """What stands beside the finding of a question asked of this archive."""
    event, kart, measure, before, after = _key(finding)
    written = archive.question_for(event, kart, measure, before, after)
    unwritten = _unwritten(archive, event, kart, (*before, *after))
    asked = archive.asked()
    sides = [sorted(set(before)), sorted(set(after))]
    same = asked.filter(pl.col("event") == event, pl.col("kart") == kart, pl.col("measure") == measure)
    for row in same.iter_rows(named=True):
        if [row["before"], row["after"]] in (sides, sides[::-1]):
            count = asked.filter(pl.col("season") == row["season"]).height
            return Beside(row["season"], row["number"], count, written, unwritten)
    return Beside(None, None, None, written, unwritten)


def _unwritten(archive: "Archive", event: str, kart: str, sessions: tuple[str, ...]) -> tuple[str, ...]:
    setups = archive.setups
    known = set(setups.filter(pl.col("event") == event, pl.col("kart") == kart)["session"].to_list())
    return tuple(session for session in sessions if session not in known) if known & set(sessions) else ()


def say_beside(known: Beside, units: Units = IN_STORE) -> list[str]:
    """Plain sentences: what was written in advance, what the driver said, which question of the season it is.

    The margin is in these units; what the user wrote stays as it was written.
    """
    said = say_unwritten(known) + (_say_written(known.written, units) if known.written else [])
    if known.number is not None:
        said.append(f"This is question {known.number} of the season {known.season}. {_WARNING}")
    return said


def say_unwritten(known: Beside) -> list[str]:
    """One sentence where the setup sheet has gaps in the sessions asked about, else none."""
    names = ", ".join(known.unwritten)
    return (
        [f"What was fitted in {names} is not written down: the answer takes your word for it."]
        if names
        else []
    )


def _say_written(row: dict[str, Any], units: Units) -> list[str]:
    when = "before its laps came in" if row["in_advance"] else "when its laps were there already"
    day = f" on {row['at']:%Y-%m-%d}" if row["at"] else ""
    said = [f"Written down{day}, {when}: {row['changed']}."] if row["changed"] else []
    if row["expected"]:
        said.append(f"Expected: {row['expected']}.")
    if row["margin"] is not None:
        measure = find_measure(row["measure"] or "lap_time", sectors=_ANY_SECTOR)
        stored = measure.unit if measure else "s"
        margin = units.shown_change(row["margin"], stored)
        shown = f"{margin:.2f}" if round(margin, 2) == round(margin, 6) and stored == "s" else f"{margin:.6g}"
        said.append(f"Worth having from {shown} {units.unit(stored)}.")
    if row["wish"]:
        said.append(f'The driver wished for: "{row["wish"]}"')
    if said and not row["changed"]:
        said.insert(0, f"Written down{day}, {when}.")
    return [*said, f'The driver said: "{row["words"]}"'] if row["words"] else said


def _key(finding: "Finding") -> tuple[str, str, str, tuple[str, ...], tuple[str, ...]]:
    event = finding.settings["event"]
    return str(event), finding.kart, finding.measure, tuple(finding.before), tuple(finding.after)
