"""What next: the day's answer, whether the engine pulled the gear, the next step in the box, and the plan for it."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any

import polars as pl

from lapdelta.asking.archive_question import ask
from lapdelta.asking.plan_ahead import plan_ahead
from lapdelta.asking.pulled import ask_pulled, pair_on_sheet
from lapdelta.asking.which import our_kart, which_event
from lapdelta.effect.finding import Finding
from lapdelta.effect.planning import TestPlan
from lapdelta.errors import ArchiveError, QuestionError
from lapdelta.gearing.expectation import Expectation, expected_shift
from lapdelta.gearing.lap_model import LapModel
from lapdelta.gearing.pulled import Pulled
from lapdelta.gearing.ratio import ratio
from lapdelta.gearing.safety import FIRST, Caution, check_list
from lapdelta.parts.box import box_parts, sprockets_in_box
from lapdelta.planning.plan import plan_test
from lapdelta.setups import proposed_questions
from lapdelta.sheet.advice import what_now
from lapdelta.sheet.sentences import headline
from lapdelta.what_next.steps import USUAL_STEP_TEETH, Direction, Fitted, Step, next_step, steps_from_box
from lapdelta.words import measure_kind

if TYPE_CHECKING:
    from lapdelta.archive import Archive


@dataclass(frozen=True)
class WhatNext:
    """What to do with the sessions that are left.

    Attributes:
        event, kart: of the day.
        finding: the answer so far; None if nothing was changed yet.
        do_now: sentences: keep it, undo it, or go on.
        fitted: what the setup sheet says is on the kart; None if it does not tell the teeth.
        base: the pair to step from: the one that the answer keeps; what is fitted where it is not about laps.
        pulled: whether the engine pulled the gear that was changed; None without a change of gear, speed and rpm.
        steps: every other gear that the box offers, tallest first.
        step: the next useful one to test; None if there is none.
        expectation: what physics allows that step to do; None without a step.
        plan: the test for the sessions left; None if fewer than two are left.
        why_not: sentences: what is missing (empty box, nothing on the setup sheet, ..).
        sentences: all of it in words, most important first.
        cautions: the check list that belongs beside it; ``first`` stands above.
    """

    event: str
    kart: str
    finding: Finding | None
    do_now: tuple[str, ...]
    fitted: Fitted | None
    base: Fitted | None
    pulled: Pulled | None
    steps: tuple[Step, ...]
    step: Step | None
    expectation: Expectation | None
    plan: TestPlan | None
    why_not: tuple[str, ...]
    sentences: tuple[str, ...]
    cautions: tuple[Caution, ...]
    first: str = FIRST

    def to_dict(self) -> dict[str, Any]:
        """Plain values for ``--json``."""
        return {
            "event": self.event,
            "kart": self.kart,
            "finding": self.finding.to_dict() if self.finding else None,
            "do_now": list(self.do_now),
            "fitted": asdict(self.fitted) if self.fitted else None,
            "base": asdict(self.base) if self.base else None,
            "pulled": self.pulled.to_dict() if self.pulled else None,
            "steps": [one.to_dict() for one in self.steps],
            "step": self.step.to_dict() if self.step else None,
            "expectation": self.expectation.to_dict() if self.expectation else None,
            "plan": self.plan.to_dict() if self.plan else None,
            "why_not": list(self.why_not),
            "sentences": list(self.sentences),
            "first": self.first,
            "cautions": [one.to_dict() for one in self.cautions],
        }


def what_next(
    archive: "Archive", *, event: str | None = None, kart: str | None = None,
    before: Sequence[str] | None = None, after: Sequence[str] | None = None, finding: Finding | None = None,
    sessions_left: int = 4, laps_per_session: int = 10, measure: str = "lap_time", margin: float | None = None,
    direction: Direction | None = None, slots_mm: tuple[float, float] | None = None,
    model: LapModel | None = None,
) -> WhatNext:  # fmt: skip
    """What to do next on a day of the archive.

    Args:
        archive: holds the laps, the setup sheet and the box.
        event, kart: the day and our kart; None as for ``ask``.
        before, after: the question; None takes the last change that the setup sheet shows, empty ones ask nothing.
        finding: its answer, if it was asked already.
        sessions_left, laps_per_session: what can still be run; 0 sessions or a single one make no plan.
        measure, margin: as ``ask``.
        direction: taller or shorter; None follows from the answer.
        slots_mm: shortest and longest centre distance that the engine mount allows.
        model: inputs of the lap model; the fitted pair is put in.

    Raises:
        QuestionError: as ``ask`` and ``plan_test``.
        GearingError: teeth or slots that cannot be.
    """
    event = which_event(archive, event)
    kart = kart or our_kart(archive, event)
    if finding is not None:
        before, after = finding.before, finding.after
    elif before is None or after is None:
        before, after = last_change(archive, event, kart)
    if finding is None and before and after:
        finding = ask(
            archive, event=event, kart=kart, before=before, after=after, measure=measure, margin=margin
        )
    gear = _gear_change(archive, event, kart, before, after)
    fitted = fitted_now(archive, event, kart)
    # A top speed, an engine speed or one sector is no reason to keep a gear or to leave it.
    judged = finding if finding and measure_kind(finding.measure) == "lap" else None
    base = _base(fitted, judged, gear)
    why_not: list[str] = []
    steps = _steps(archive, base, slots_mm, why_not)
    way, size = _wanted(judged, gear, direction)
    step = next_step(steps, way, size) if way else None
    if steps and way and step is None:
        why_not.append(f"The box offers no {way} gear that reaches.")
    if steps and way is None:
        why_not.append("Say which way to go, taller or shorter: nothing was tested that tells.")
    expectation = _expectation(base, step, model)
    plan = _plan(archive, event, kart, sessions_left, laps_per_session, measure, margin, expectation, why_not)
    do_now = tuple(what_now(finding)) if finding else ("Nothing was changed yet that could be judged.",)
    pulled = gear.pulled if gear else None
    found = WhatNext(
        event, kart, finding, do_now, fitted, base, pulled, steps, step, expectation, plan, tuple(why_not), (),
        check_list(),
    )  # fmt: skip
    return replace(found, sentences=tuple(_sentences(found)))


def fitted_now(archive: "Archive", event: str, kart: str) -> Fitted | None:
    """What the setup sheet says of our kart's last session with teeth written down; None if none has."""
    sheet = archive.setups.filter(
        (pl.col("event") == event) & (pl.col("kart") == kart)
        & pl.col("engine_teeth").is_not_null() & pl.col("axle_teeth").is_not_null()
    )  # fmt: skip
    if sheet.is_empty():
        return None
    order: list[str] = archive.sessions(event)["session"].to_list()
    rows = sorted(
        sheet.to_dicts(),
        key=lambda row: order.index(row["session"]) if row["session"] in order else len(order),
    )
    last = rows[-1]
    return Fitted(last["engine_teeth"], last["axle_teeth"], last["chain_links"], last["chain_pitch_mm"])


def last_change(
    archive: "Archive", event: str, kart: str
) -> tuple[Sequence[str] | None, Sequence[str] | None]:
    """The last question that the setup sheet asks by itself."""
    sessions: list[str] = archive.sessions(event)["session"].to_list()
    asked = proposed_questions(archive.setups, sessions, event, kart)
    return (asked[-1]["before"], asked[-1]["after"]) if asked else (None, None)


@dataclass(frozen=True)
class _GearChange:
    """The change of gear that was tested: pairs, teeth of the axle sprocket before (minus = taller), pulled."""

    before: tuple[int, int]
    after: tuple[int, int]
    teeth: float
    pulled: Pulled | None


def _gear_change(
    archive: "Archive", event: str, kart: str, before: Sequence[str] | None, after: Sequence[str] | None
) -> _GearChange | None:
    """None if no change of gear is written down for these sessions."""
    if not before or not after:
        return None
    try:
        old, new = (pair_on_sheet(archive, event, kart, sessions) for sessions in (before, after))
    except QuestionError:
        return None  # the sheet does not tell the teeth: then it was no change of gear that we know of
    if ratio(*old) == ratio(*new):
        return None
    answer = ask_pulled(archive, event=event, kart=kart, before=before, after=after).pulled
    teeth = old[1] * (ratio(*new) / ratio(*old) - 1.0)
    return _GearChange(old, new, teeth, answer if answer.speed or answer.rpm else None)


def _base(fitted: Fitted | None, finding: Finding | None, gear: _GearChange | None) -> Fitted | None:
    """The pair to step from: the one that the answer keeps, on the chain that is on the kart."""
    if fitted is None or gear is None or finding is None:
        return fitted
    engine, axle = gear.after if finding.verdict == "faster" else gear.before
    return replace(fitted, engine_teeth=engine, axle_teeth=axle)


def _steps(
    archive: "Archive", base: Fitted | None, slots_mm: tuple[float, float] | None, why_not: list[str]
) -> tuple[Step, ...]:
    if base is None:
        why_not.append("The setup sheet does not tell the teeth: write them down with lapdelta setup.")
        return ()
    try:
        sprockets = sprockets_in_box(archive, base.pitch_mm)
    except ArchiveError as error:
        why_not.append(f"{error.what} {error.mend}")
        return ()
    chains = [one.part for one in box_parts(archive) if one.part.kind == "chain" and one.retired is None]
    return steps_from_box(base, sprockets.engine_teeth, sprockets.axle_teeth, chains, slots_mm)


def _wanted(
    finding: Finding | None, gear: _GearChange | None, direction: Direction | None
) -> tuple[Direction | None, float]:
    """(which way, at least how many axle teeth) from the pair that is kept.

    On in the same direction after faster, the other way after slower or a gear that was not pulled, and a
    bigger step the same way where nothing was settled.
    """
    if gear is None or finding is None:
        return direction, USUAL_STEP_TEETH
    tested: Direction = "taller" if gear.teeth < 0 else "shorter"
    other: Direction = "shorter" if gear.teeth < 0 else "taller"
    not_pulled = tested == "taller" and gear.pulled is not None and gear.pulled.verdict == "not"
    size = abs(gear.teeth)
    if finding.verdict not in ("faster", "slower"):
        size = max(2.0 * size, USUAL_STEP_TEETH)
    return direction or (other if finding.verdict == "slower" or not_pulled else tested), size


def _expectation(base: Fitted | None, step: Step | None, model: LapModel | None) -> Expectation | None:
    if base is None or step is None:
        return None
    inputs = replace(model or LapModel(), engine_teeth=base.engine_teeth, axle_teeth=base.axle_teeth)
    return expected_shift((step.engine_teeth, step.axle_teeth), inputs)


def _plan(
    archive: "Archive", event: str, kart: str, sessions_left: int, laps: int, measure: str,
    margin: float | None, expectation: Expectation | None, why_not: list[str],
) -> TestPlan | None:  # fmt: skip
    if sessions_left == 1:
        why_not.append("One session is no test: it takes two or more, some with each setting.")
    if sessions_left in (0, 1):
        return None
    expected = expectation.surprising_beyond_s if expectation and measure == "lap_time" else None
    wanted: dict[str, Any] = {
        "sessions_left": sessions_left, "laps_per_session": laps, "measure": measure, "margin": margin,
        "expected": expected,
    }  # fmt: skip
    try:
        return plan_ahead(archive, event=event, kart=kart, **wanted)
    except QuestionError as error:
        if error.where != "laps":
            raise
        why_not.append(f"{error.what} Planned with usual scatter instead.")
        return plan_test(**wanted)


def _sentences(found: WhatNext) -> list[str]:
    said = [headline(found.finding)] if found.finding else []
    said += found.do_now
    if found.pulled:
        said.append(found.pulled.sentence)
    if found.step:
        said += [
            f"The next gear to test from {_pair(found.base)}, of those in your box: {found.step.sentence}",
            "That is a test, not the best gear; the maker's manual and the class rules say what may be fitted.",
        ]
    if found.expectation:
        said.append(found.expectation.sentence)
    if found.plan:
        said += found.plan.sentences
    return [*said, *found.why_not]


def _pair(base: Fitted | None) -> str:
    return f"{base.engine_teeth}/{base.axle_teeth}" if base else "what is fitted"
