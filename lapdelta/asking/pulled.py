"""Did the engine pull it, asked of an archive: teeth from the setup sheet, speed and rpm by ``compare``."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import polars as pl

from lapdelta.asking.archive_question import ask
from lapdelta.asking.gear_pull import pulled_from
from lapdelta.asking.which import our_kart, which_event
from lapdelta.effect.finding import Finding
from lapdelta.errors import QuestionError
from lapdelta.gearing.pulled import Measure, Pulled

if TYPE_CHECKING:
    from lapdelta.archive import Archive


@dataclass(frozen=True)
class PulledAnswer:
    """The answer with what it rests on.

    Attributes:
        kart: ours.
        pair_before, pair_after: (engine teeth, axle teeth).
        top_speed, peak_rpm: the findings; None where the laps have no such column.
        pulled: the answer.
    """

    kart: str
    pair_before: tuple[int, int]
    pair_after: tuple[int, int]
    top_speed: Finding | None
    peak_rpm: Finding | None
    pulled: Pulled


def ask_pulled(
    archive: "Archive", *, before: Sequence[str], after: Sequence[str], event: str | None = None,
    kart: str | None = None, engine_before: int | None = None, axle_before: int | None = None,
    engine_after: int | None = None, axle_after: int | None = None, lead: Measure = "top_speed",
    systematic: float = 0.0, confidence: float = 0.95,
) -> PulledAnswer:  # fmt: skip
    """Whether the engine pulled the gear between two groups of sessions of one event.

    Teeth that are not given come from the setup sheet.

    Raises:
        QuestionError: as ``ask``; the sheet does not tell the teeth, or tells several.
        GearingError: both pairs have the same ratio.
    """
    event = which_event(archive, event)
    kart = kart or our_kart(archive, event)
    pair_before = pair_on_sheet(archive, event, kart, before, engine_before, axle_before)
    pair_after = pair_on_sheet(archive, event, kart, after, engine_after, axle_after)
    findings = {
        measure: _finding(archive, event, kart, before, after, measure, confidence)
        for measure in ("top_speed", "peak_rpm")
    }
    answer = pulled_from(
        pair_before, pair_after, top_speed=findings["top_speed"], peak_rpm=findings["peak_rpm"],
        lead=lead, systematic=systematic, confidence=confidence,
    )  # fmt: skip
    return PulledAnswer(kart, pair_before, pair_after, findings["top_speed"], findings["peak_rpm"], answer)


def pair_on_sheet(
    archive: "Archive", event: str, kart: str, sessions: Sequence[str],
    engine: int | None = None, axle: int | None = None,
) -> tuple[int, int]:  # fmt: skip
    """(engine teeth, axle teeth) written down for these sessions; what is given comes first.

    Raises:
        QuestionError: not written down, or not the same in all of them.
    """
    rows = archive.setups.filter(
        (pl.col("event") == event) & (pl.col("kart") == kart) & pl.col("session").is_in(list(sessions))
    )
    return _one(rows, "engine_teeth", sessions, engine), _one(rows, "axle_teeth", sessions, axle)


def _one(rows: pl.DataFrame, column: str, sessions: Sequence[str], given: int | None) -> int:
    if given is not None:
        return given
    found: list[int] = rows[column].drop_nulls().unique(maintain_order=True).to_list()
    if len(found) == 1:
        return found[0]
    named, words = ", ".join(sessions), column.replace("_", " ")
    if not found:
        what = f"The setup sheet does not tell the {words} in {named}."
    else:
        what = f"The setup sheet tells several numbers of {words} in {named}: {', '.join(map(str, found))}."
    raise QuestionError(what, "Write it down with lapdelta setup, or give the teeth.", column)


def _finding(
    archive: "Archive", event: str, kart: str, before: Sequence[str], after: Sequence[str], measure: str,
    confidence: float,
) -> Finding | None:  # fmt: skip
    """The finding of a measure; None where no lap of the event has it.

    It is not one of the season's questions: how much of a gear shows is measured, not whether a change helped.
    """
    column = {"top_speed": "top_speed_kmh", "peak_rpm": "peak_rpm"}[measure]
    if archive.laps(event)[column].is_null().all():
        return None
    return ask(
        archive, event=event, kart=kart, before=before, after=after, measure=measure, confidence=confidence,
        count=False,
    )  # fmt: skip
