"""``lapdelta compare``: one question, one honest answer."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from lapdelta.cli.amounts_typed import NUMBER
from lapdelta.cli.outcome import Command, measure_option, open_archive, print_json, shared_options
from lapdelta.cli.own_units import margin_kept
from lapdelta.cli.sessions_option import ManySessionsCommand, split_labels

if TYPE_CHECKING:
    from lapdelta.archive import Archive
    from lapdelta.effect.finding import Finding


def question_options(command: Command, *, sessions_required: bool = True) -> Command:
    """The options that state a question, the same for ``compare`` and ``share``."""
    must = sessions_required
    options: list[Callable[[Command], Command]] = [
        click.option("--event", metavar="EVENT", help="The event asked about. Default: the only one in the archive."),
        click.option("--kart", metavar="KART",
                     help="Our kart's number. Default: the one written down for the event."),
        click.option("--before", multiple=True, required=must, metavar="S..", help="Sessions on the old setting."),
        click.option("--after", multiple=True, required=must, metavar="S..", help="Sessions on the new setting."),
        measure_option,
        click.option("--margin", type=NUMBER, help="Smallest change worth having; fix it before looking."),
        click.option("--confidence", type=NUMBER, default=0.95, show_default=True, help="Level of the interval."),
        click.option("--history/--no-history", "use_history", default=True, help="Whether our other days count."),
    ]  # fmt: skip
    for option in reversed(options):
        command = option(command)
    return command


def ask_archive(
    archive: "Archive", before: tuple[str, ...], after: tuple[str, ...], **question: Any
) -> "Finding":
    """The finding for the options of a question; words of ``--before`` and ``--after`` become session labels."""
    from lapdelta.asking.archive_question import ask
    from lapdelta.asking.which import which_event

    question["margin"] = margin_kept(archive.folder, question["measure"], question["margin"])
    event = question.pop("event")
    event = which_event(archive, event)
    known = archive.sessions(event)["session"].to_list()
    return ask(
        archive, event=event, before=split_labels(before, known), after=split_labels(after, known), **question
    )


def _question_options(command: Command) -> Command:
    return question_options(command, sessions_required=False)


@click.command("compare", cls=ManySessionsCommand)
@_question_options
@click.option(
    "--repeat",
    "finding_file",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FINDING.JSON",
    help="Ask the question of a finding written with --json again, and say what changed.",
)
@shared_options
@click.pass_context
def compare(
    ctx: click.Context, folder: Path | None, as_json: bool, finding_file: Path | None, **question: Any
) -> None:
    """Ask whether a change shifted a measure, allowing for what the other karts did.

    Name all sessions on the old setting with --before and all on the new one with --after.
    'cannot be told' is an answer. Old, new, new, old is the best order:

      lapdelta compare --event 2026-05-16 --before P1 P4 --after P2 P3
    """
    if finding_file is not None:
        _repeat(ctx, finding_file, folder, as_json)
        return
    for param in ctx.command.params:
        if param.name in ("before", "after") and not question[param.name]:
            raise click.MissingParameter(ctx=ctx, param=param)
    archive = open_archive(folder)
    finding = ask_archive(archive, **question)
    if as_json:
        click.echo(finding.to_json())
        return
    from lapdelta.asking.beside import beside, say_beside
    from lapdelta.sheet.own_units import in_units
    from lapdelta.sheet.sentences import say

    # What the page says of luck stands beside the season's number anyhow: once is enough here.
    units = archive.units
    lines = [*say(in_units(finding, units)), *say_beside(beside(archive, finding), units)]
    luck = [line for line in lines if "Of twenty questions" in line]
    for line in lines:
        if line not in luck[:-1]:
            click.echo(line)


def _repeat(ctx: click.Context, finding_file: Path, folder: Path | None, as_json: bool) -> None:
    """Ask again what the file asked; its own settings hold the question."""
    for param in ctx.command.params:
        own = param.name in ("finding_file", "folder", "as_json")
        if not own and ctx.get_parameter_source(param.name or "") is click.core.ParameterSource.COMMANDLINE:
            raise click.UsageError(
                f"{param.opts[0]} cannot stand beside --repeat: the file holds the question.", ctx
            )
    from lapdelta.asking.again import read_finding, repeat
    from lapdelta.sheet.own_units import in_units
    from lapdelta.sheet.sentences import headline

    old = read_finding(finding_file)
    archive = open_archive(folder)
    found = repeat(archive, old)
    if as_json:
        print_json(found.to_dict())
        return
    click.echo(headline(in_units(found.finding, archive.units)))
    click.echo("The same numbers as in the file." if found.same else "Not the same numbers as in the file.")
    for sentence in found.changed:
        click.echo(archive.units.said(sentence))


COMMANDS = {"compare": compare}
