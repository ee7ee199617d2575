"""Ask a question of an archive: which event, which kart is ours, what our other days tell of its repeatability."""

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import polars as pl

from lapdelta.asking.beside import record
from lapdelta.asking.hands import with_hands
from lapdelta.asking.renumber import renumbered
from lapdelta.asking.which import our_kart, which_event
from lapdelta.errors import QuestionError
from lapdelta.question import compare

if TYPE_CHECKING:
    from lapdelta.archive import Archive
    from lapdelta.effect.finding import Finding


def ask(
    archive: "Archive",
    *,
    before: Sequence[str],
    after: Sequence[str],
    event: str | None = None,
    kart: str | None = None,
    measure: str = "lap_time",
    margin: float | None = None,
    confidence: float = 0.95,
    use_history: bool = True,
    count: bool = True,
) -> "Finding":
    """The finding for a question asked of an archive; ``compare`` with what the archive knows.

    ``lapdelta.asking.beside.beside`` then tells what stands beside it: the question as written in advance, its number.

    Args not told here are those of ``compare``.

    Args:
        archive: holds the laps, the setup sheet and the other days.
        event: the event asked about; None for the only one there is.
        kart: the kart asked about; None for ours as written down for the event.
        margin: None for the one written down in advance, if there is one.
        use_history: whether our kart's other days help to judge its repeatability.
        count: whether it counts among the season's questions (once, however often it is asked).

    Raises:
        QuestionError: as ``compare``; also no laps, several events and none named, or nobody said which kart is ours.
    """
    event = which_event(archive, event)
    kart = kart or our_kart(archive, event)
    laps = archive.laps(event)
    if laps.is_empty():
        raise QuestionError(
            f"The archive holds no laps of {event}.", "Bring some in with: lapdelta import FILE...", event
        )
    if margin is None:
        written = archive.question_for(event, kart, measure, before, after)
        margin = written["margin"] if written else None
    setups = archive.setups
    others = None
    if use_history:
        others, setups = other_days(archive, event, kart, setups)
    finding = compare(
        laps,
        kart=kart,
        before=list(before),
        after=list(after),
        measure=measure,
        margin=margin,
        confidence=confidence,
        setups=setups,
        history=others,
    )
    # so that the question can be repeated: no other days is not the same as not to look at them
    finding = replace(finding, settings=finding.settings | {"history_asked": use_history})
    finding = with_hands(archive, finding)
    return _counted(archive, finding) if count else finding


def _counted(archive: "Archive", finding: "Finding") -> "Finding":
    """The finding, its question now counted among the season's."""
    record(archive, finding)
    return finding


def other_days(
    archive: "Archive", event: str, kart: str | None, setups: pl.DataFrame
) -> tuple[pl.DataFrame | None, pl.DataFrame]:
    """Laps of the kart's other days and the setup sheet, our kart under the number it has at ``event``.

    Our kart may be 07 here and 27 elsewhere, where somebody else may be 07. So the other days are those whose
    record names our kart, and those on the same track where nobody said; only these are read. Without a kart
    those on the same track.
    """
    numbers = archive.events.select("event", "track", pl.col("our_kart").alias("ours"))
    here = numbers.row(by_predicate=pl.col("event") == event, named=True)
    same_track = pl.col("track").eq_missing(pl.lit(here["track"], pl.String))
    ours_here = kart is not None and here["ours"] == kart
    days = pl.col("ours").is_not_null() | same_track if ours_here else same_track
    laps = archive.laps_of(numbers.filter(pl.col("event") != event, days)["event"].to_list())
    if laps.is_empty():
        return None, setups
    if kart is None or not ours_here:
        return laps, setups
    numbers = numbers.drop("track")
    return renumbered(laps, numbers, kart), renumbered(setups, numbers, kart)
