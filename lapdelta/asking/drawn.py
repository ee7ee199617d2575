"""A sealed random order, asked afterwards: the exact randomisation test over the list it was drawn from."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from lapdelta.archive.draws import SealedDraw, seal
from lapdelta.asking.archive_question import ask
from lapdelta.asking.which import only_event
from lapdelta.effect.finding import Finding
from lapdelta.effect.planning import TestPlan
from lapdelta.effect.randomisation import exact_p_value, order_statistic
from lapdelta.errors import QuestionError

if TYPE_CHECKING:
    from lapdelta.archive import Archive


@dataclass(frozen=True)
class DrawnAnswer:
    """What the sessions of a sealed draw say.

    Attributes:
        draw: its id.
        event, kart, measure, unit: what was tested.
        order: the order run, now open.
        sessions: their labels, in the order run.
        adjusted: pace minus what all other karts shared, one a session, in the measure's unit.
        difference: mean of B minus mean of A of these.
        p_value: exact, two-sided, over the sealed list.
        orders: length of that list.
        smallest_p: the smallest the test could give.
        sentence: the answer in words.
        finding: the usual answer for the same sessions, which gives the interval.
    """

    draw: str
    event: str
    kart: str
    measure: str
    unit: str
    order: str
    sessions: tuple[str, ...]
    adjusted: tuple[float, ...]
    difference: float
    p_value: float
    orders: int
    smallest_p: float
    sentence: str
    finding: Finding

    def to_dict(self) -> dict[str, Any]:
        """Plain values for ``--json``."""
        return asdict(self) | {"finding": self.finding.to_dict()}


def seal_plan(archive: "Archive", plan: TestPlan, event: str | None, kart: str | None) -> SealedDraw:
    """Keep the random order of a plan in the archive, before the first session is run.

    Raises:
        QuestionError: the plan has no draw.
        ArchiveError: it cannot be written.
    """
    if plan.draw is None:
        raise QuestionError(
            "This plan has no random order to seal.", "Plan with a random order.", "random_order"
        )
    draw = plan.draw
    return seal(
        archive.folder, order=draw.order, orders=draw.orders, seed=draw.seed, measure=plan.measure,
        margin=plan.margin, event=event, kart=kart,
    )  # fmt: skip


def answer_drawn(
    archive: "Archive", draw: SealedDraw, *, sessions: Sequence[str] | None = None, event: str | None = None,
    kart: str | None = None,
) -> DrawnAnswer:  # fmt: skip
    """The exact test of a draw on the sessions that were run in its order.

    Args:
        archive: holds the laps.
        draw: the sealed draw.
        sessions: labels in the order run; None takes the event's if there are exactly as many.
        event, kart: if the draw was sealed without them.

    Raises:
        QuestionError: part of the order has not been told yet; the number of sessions is not that of the
            draw; a session without a pace of ours or of the other karts; or as ``ask``.
    """
    if draw.revealed < len(draw.order):
        raise QuestionError(
            f"Only {draw.revealed} of the {len(draw.order)} sessions of this draw have been told.",
            f"Tell the rest with lapdelta plan --next {draw.draw}, run them, then test.",
            draw.draw,
        )
    place = event or draw.event or only_event(archive)
    labels = list(sessions) if sessions else archive.sessions(place)["session"].to_list()
    if len(labels) != len(draw.order) or len(set(labels)) != len(labels):
        raise QuestionError(
            f"The draw is of {len(draw.order)} sessions; {len(labels)} are given: {', '.join(labels)}.",
            "Name the sessions in the order in which they were run, each once.",
            "sessions",
        )
    sides = {
        side: [label for label, letter in zip(labels, draw.order, strict=True) if letter == side]
        for side in "AB"
    }
    finding = ask(
        archive, event=place, kart=kart or draw.kart, before=sides["A"], after=sides["B"],
        measure=draw.measure, margin=draw.margin,
    )  # fmt: skip
    adjusted = _adjusted(finding, labels)
    p_value = exact_p_value(adjusted, draw.order, draw.orders)
    difference = order_statistic(np.asarray(adjusted), draw.order)
    count = round(p_value * len(draw.orders))
    sentence = (
        f"Of the {len(draw.orders)} orders it was drawn from, {count} would have shown a difference at least this "
        f"large ({difference:+.3g} {finding.unit}) had the change done nothing: {100 * p_value:.1f} in 100. "
        f"The fewest this draw could give is {200 / len(draw.orders):.1f} in 100."
    )
    return DrawnAnswer(
        draw.draw, place, finding.kart, draw.measure, finding.unit, draw.order, tuple(labels), tuple(adjusted),
        difference, p_value, len(draw.orders), 2.0 / len(draw.orders), sentence, finding,
    )  # fmt: skip


def _adjusted(finding: Finding, sessions: Sequence[str]) -> list[float]:
    """Our pace minus the session's own term, in the order of ``sessions``."""
    ours = {cell["session"]: cell["adjusted"] for cell in finding.cells if cell["ours"]}
    values: list[float] = []
    for session in sessions:
        value = ours.get(session)
        if value is None:
            raise QuestionError(
                f"Session {session} has no pace of ours to hold against the other karts.",
                "The exact test needs every session of the draw; without one, use lapdelta compare.",
                session,
            )
        values.append(value)
    return values
