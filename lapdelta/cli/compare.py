"""``lapdelta compare``: one question, one honest answer."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from lapdelta.cli.outcome import Command, open_archive, shared_options
from lapdelta.cli.sessions_option import ManySessionsCommand, split_labels

if TYPE_CHECKING:
    from lapdelta.archive import Archive
    from lapdelta.effect.finding import Finding


def question_options(command: Command) -> Command:
    """The options that state a question, the same for ``compare`` and ``share``."""
    options: list[Callable[[Command], Command]] = [
        click.option("--event", help="The event asked about. Default: the only one in the archive."),
        click.option("--kart", help="Our kart's number. Default: the one written down for the event."),
        click.option("--before", multiple=True, required=True, metavar="S..", help="Sessions on the old setting."),
        click.option("--after", multiple=True, required=True, metavar="S..", help="Sessions on the new setting."),
        click.option("--measure", default="lap_time", show_default=True, help="lap_time, sector_1, top_speed, .."),
        click.option("--margin", type=float, help="Smallest change worth having; fix it before looking."),
        click.option("--confidence", type=float, default=0.95, show_default=True, help="Level of the interval."),
        click.option("--history/--no-history", "use_history", default=True, help="Whether our other days count."),
    ]  # fmt: skip
    for option in reversed(options):
        command = option(command)
    return command


def ask_archive(
    archive: "Archive", before: tuple[str, ...], after: tuple[str, ...], **question: Any
) -> "Finding":
    """The finding for the options of a question; words of ``--before`` and ``--after`` become session labels."""
    from lapdelta.asking import ask, only_event

    event = question.pop("event") or only_event(archive)
    known = archive.sessions(event)["session"].to_list()
    return ask(
        archive, event=event, before=split_labels(before, known), after=split_labels(after, known), **question
    )


@click.command("compare", cls=ManySessionsCommand)
@question_options
@shared_options
def compare(folder: Path | None, as_json: bool, **question: Any) -> None:
    """Ask whether a change shifted a measure, allowing for what the other karts did.

    Name all sessions on the old setting with --before and all on the new one with --after.
    'cannot be told' is an answer.
    """
    archive = open_archive(folder)
    finding = ask_archive(archive, **question)
    if as_json:
        click.echo(finding.to_json())
        return
    from lapdelta.beside import beside, say_beside
    from lapdelta.sheet.sentences import say

    for sentence in [*say(finding), *say_beside(beside(archive, finding))]:
        click.echo(sentence)


COMMANDS = {"compare": compare}
