"""The question that the pages share, its worthwhile margin, and the one to go on with after a start."""

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import polars as pl

from lapdelta.errors import QuestionError

if TYPE_CHECKING:
    from lapdelta import Archive

#: As many as any file may hold; which ones are offered depends on the laps.
_MOST_SECTORS: Final = 99


@dataclass(frozen=True)
class Question:
    """One comparison as asked on the page; ``margin`` is None until it is fixed."""

    event: str
    kart: str
    before: tuple[str, ...]
    after: tuple[str, ...]
    measure: str
    margin: float | None
    history: bool = True


def with_margin(archive: "Archive", asked: Question) -> Question | None:
    """The question with its worthwhile margin; None while that is still to be fixed before the first look."""
    row = written(archive, asked)
    if row is not None and row["margin"] is not None and row["measure"] in (None, asked.measure):
        return replace(asked, margin=row["margin"])
    if row is not None or _looked_at(archive, asked):
        # Once these sessions have been looked at, no margin of another measure is fixed blind any more.
        return replace(asked, margin=usual_margin(asked.measure))
    return None


def written(archive: "Archive", asked: Question) -> dict[str, Any] | None:
    """What was written down about this question."""
    found = archive.question_for(asked.event, asked.kart, asked.measure, asked.before, asked.after)
    return found if found is not None and found["before"] and found["after"] else None


def usual_margin(measure: str) -> float:
    """The worthwhile margin that holds where nobody fixed another."""
    from lapdelta.effect.measures import find_measure

    usual = find_measure(measure, sectors=_MOST_SECTORS)
    if usual is None:
        raise QuestionError(f"{measure} is no measure.", "Choose another.")
    return usual.margin


def _looked_at(archive: "Archive", asked: Question) -> bool:
    """Whether an answer about these sessions was shown before, of whatever measure."""
    seen = archive.asked().filter(pl.col("event") == asked.event, pl.col("kart") == asked.kart)
    sides = {tuple(sorted(asked.before)), tuple(sorted(asked.after))}
    return any(
        {tuple(before), tuple(after)} == sides for before, after in seen.select("before", "after").iter_rows()
    )


def last_asked(archive: "Archive") -> Question | None:
    """The question to go on with: the newest one of the archive, unless timing came in after it.

    Of several measures of the same sessions it is the lap time.
    """
    asked, readings = archive.asked(), archive.readings
    if asked.is_empty() or readings.is_empty():
        return None
    rows = asked.sort("entry", descending=True).to_dicts()
    if readings["entry"].max() > rows[0]["entry"] or rows[0]["event"] not in archive.sessions()["event"]:
        return None
    same = [row for row in rows if _about(row) == _about(rows[0])]
    last = next((row for row in same if row["measure"] == "lap_time"), rows[0])
    found = Question(
        last["event"], last["kart"], tuple(last["before"]), tuple(last["after"]), last["measure"], None
    )
    return with_margin(archive, found)


def _about(row: dict[str, Any]) -> tuple[Any, ...]:
    """What was compared, whatever the measure and whichever way round."""
    return row["event"], row["kart"], {tuple(row["before"]), tuple(row["after"])}
