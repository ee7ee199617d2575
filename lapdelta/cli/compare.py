"""``lapdelta compare``: one question, one honest answer."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from lapdelta.cli.outcome import Command, open_archive, shared_options
from lapdelta.cli.sessions_option import ManySessionsCommand, split_labels
from lapdelta.errors import QuestionError

if TYPE_CHECKING:
    import polars as pl

    from lapdelta.archive import Archive
    from lapdelta.effect.finding import Finding


def question_options(command: Command) -> Command:
    """The options that state a question, the same for ``compare`` and ``share``."""
    options: list[Callable[[Command], Command]] = [
        click.option("--event", help="The event asked about. Default: the only one in the archive."),
        click.option("--kart", help="Our kart's number. Default: the one written down for the event."),
        click.option("--before", multiple=True, required=True, metavar="S..", help="Sessions on the old setting."),
        click.option("--after", multiple=True, required=True, metavar="S..", help="Sessions on the new setting."),
        click.option("--measure", default="lap_time", show_default=True, help="lap_time, sector_1.., top_speed, peak_rpm."),
        click.option("--margin", type=float, help="Smallest change worth having, in the measure's unit; fix it before looking."),
        click.option("--confidence", type=float, default=0.95, show_default=True, help="Level of the interval."),
        click.option("--history/--no-history", "use_history", default=True, help="Use our kart's other days to judge its repeatability."),
    ]  # fmt: skip
    for option in reversed(options):
        command = option(command)
    return command


def ask(
    archive: "Archive",
    event: str | None,
    kart: str | None,
    before: tuple[str, ...],
    after: tuple[str, ...],
    measure: str,
    margin: float | None,
    confidence: float,
    use_history: bool,
) -> "Finding":
    """The finding for a question asked of an archive."""
    from lapdelta.question import compare

    event = event or only_event(archive)
    laps = archive.laps(event)
    if laps.is_empty():
        raise QuestionError(f"The archive holds no laps of an event {event!r}.", "See: lapdelta events", "--event")
    known = laps["session"].unique().to_list()
    setups = archive.setups
    return compare(
        laps,
        kart=kart or our_kart(archive, event),
        before=split_labels(before, known),
        after=split_labels(after, known),
        measure=measure,
        margin=margin,
        confidence=confidence,
        setups=setups,
        history=_other_days(archive, event) if use_history else None,
    )


def only_event(archive: "Archive") -> str:
    """The event of an archive that holds just one."""
    events: list[str] = archive.events["event"].to_list()
    if len(events) == 1:
        return events[0]
    if not events:
        raise QuestionError("The archive holds no laps yet.", "Bring some in with: lapdelta import FILE...")
    raise QuestionError(
        f"The archive holds {len(events)} events: {', '.join(events)}.", "Say which one.", "--event"
    )  # fmt: skip


def our_kart(archive: "Archive", event: str) -> str:
    """The number of our kart as written down for an event."""
    events = archive.events
    ours: list[str | None] = events.filter(events["event"] == event)["our_kart"].to_list()
    if ours and ours[0]:
        return ours[0]
    raise QuestionError(
        f"Nobody has written down which kart is ours at {event}.",
        f"Say it with --kart, or once for all with: lapdelta events {event} --our-kart NUMBER",
        "--kart",
    )


def _other_days(archive: "Archive", event: str) -> "pl.DataFrame | None":
    """Laps of the other events, our repeatability being learned from them."""
    laps = archive.laps()
    others = laps.filter(laps["event"] != event)
    return None if others.is_empty() else others


@click.command("compare", cls=ManySessionsCommand)
@question_options
@shared_options
def compare(folder: Path | None, as_json: bool, **question: Any) -> None:
    """Ask whether a change shifted a measure, allowing for what the other karts did.

    Name all sessions on the old setting with --before and all on the new one with --after.
    'cannot be told' is an answer.
    """
    finding = ask(open_archive(folder), **question)
    if as_json:
        click.echo(finding.to_json())
        return
    from lapdelta.sheet.sentences import say

    for sentence in say(finding):
        click.echo(sentence)


COMMANDS = {"compare": compare}
