"""Plan a test with what the archive knows: the day's own karts, and how karts repeated themselves on other days."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from lapdelta.asking.archive_question import other_days
from lapdelta.planning.plan import plan_test

if TYPE_CHECKING:
    from lapdelta.archive import Archive
    from lapdelta.effect.planning import TestPlan


def plan_ahead(
    archive: "Archive", *, event: str, kart: str | None, sessions: Sequence[str] | None = None,
    use_history: bool = True, **wanted: Any,
) -> "TestPlan":  # fmt: skip
    """The plan for more sessions of an event.

    Args:
        archive: holds the laps, the setup sheet and the other days.
        event, kart: the day and our kart; None where nobody wrote down which one is ours.
        sessions: of the day, to learn from; None takes all.
        use_history: whether other days help to judge how well karts repeat themselves.
        wanted: the rest of ``plan_test``.

    Raises:
        QuestionError: as ``plan_test``.
    """
    laps = archive.laps(event)
    setups, history = archive.setups, None
    known = event in archive.events["event"].to_list()
    if use_history and known:
        history, setups = other_days(archive, event, kart, setups)
    if laps.is_empty():
        return plan_test(None, kart=kart, event=event, setups=setups, history=history, **wanted)
    return plan_test(
        laps, kart=kart, sessions=sessions, event=event, setups=setups, history=history, **wanted
    )
