"""``lapdelta compare``: one question, one honest answer."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from lapdelta.cli.amounts_typed import NUMBER
from lapdelta.cli.as_typed import AsTyped
from lapdelta.cli.outcome import (
    Command,
    language_option,
    measure_option,
    open_archive,
    print_json,
    shared_options,
    tell,
    with_options,
)
from lapdelta.cli.own_units import margin_kept
from lapdelta.cli.sessions_option import split_labels

if TYPE_CHECKING:
    from lapdelta.archive import Archive
    from lapdelta.effect.finding import Finding


def question_options(command: Command, *, sessions_required: bool = True) -> Command:
    """The options that state a question, the same for ``compare`` and ``share``."""
    must = sessions_required
    return with_options(command, [
        click.option("--event", metavar="EVENT", help="The event asked about. Default: the only one in the archive."),
        click.option("--kart", metavar="KART",
                     help="Our kart's number. Default: the one written down for the event."),
        click.option("--before", multiple=True, required=must, metavar="S..", help="Sessions on the old setting."),
        click.option("--after", multiple=True, required=must, metavar="S..", help="Sessions on the new setting."),
        measure_option,
        click.option("--margin", type=NUMBER, help="Smallest change worth having; fix it before looking."),
        click.option("--confidence", type=NUMBER, default=0.95, show_default=True, help="Level of the interval."),
        click.option("--history/--no-history", "use_history", default=True, help="Whether our other days count."),
    ])  # fmt: skip


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


@click.command("compare", cls=AsTyped)
@_question_options
@click.option(
    "--repeat",
    "finding_file",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FINDING.JSON",
    help="Ask the question of a finding written with --json again, and say what changed.",
)
@language_option
@shared_options
@click.pass_context
def compare(
    ctx: click.Context, folder: Path | None, as_json: bool, finding_file: Path | None, language: str,
    **question: Any,
) -> None:  # fmt: skip
    """Ask whether a change shifted a measure, allowing for what the other karts did.

    Name all sessions on the old setting with --before and all on the new one with --after.
    'cannot be told' is an answer. Old, new, new, old is the best order:

      lapdelta compare --event 2026-05-16 --before P1 P4 --after P2 P3
    """
    if finding_file is not None:
        _repeat(ctx, finding_file, folder, as_json, language)
        return
    for param in ctx.command.params:
        if param.name in ("before", "after") and not question[param.name]:
            raise click.MissingParameter(ctx=ctx, param=param)
    archive = open_archive(folder)
    finding = ask_archive(archive, **question)
    if as_json:
        click.echo(finding.to_json())
        return
    _print(archive, finding, language)


def _print(archive: "Archive", finding: "Finding", language: str) -> None:
    """The answer, what to keep in mind, what to do now, and what stands beside it."""
    from lapdelta.asking.beside import beside, say_beside
    from lapdelta.sheet.advice import what_now
    from lapdelta.sheet.own_units import in_units
    from lapdelta.sheet.sentences import headline, how_sure, keep_in_mind

    units, known = archive.units, beside(archive, finding)
    shown = in_units(finding, units, texts=False)
    # What is said of luck stands beside the season's number anyhow: once is enough.
    counted = known.number is not None
    answer = [
        headline(shown, language), *how_sure(shown, language),
        *keep_in_mind(shown, language, counted=counted), *what_now(shown, language),
    ]  # fmt: skip
    for line in answer:
        click.echo(units.said(line))
    tell(say_beside(known, units), language)


def _repeat(
    ctx: click.Context, finding_file: Path, folder: Path | None, as_json: bool, language: str
) -> None:
    """Ask again what the file asked; its own settings hold the question."""
    for param in ctx.command.params:
        own = param.name in ("finding_file", "folder", "as_json", "language")
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
    click.echo(headline(in_units(found.finding, archive.units), language))
    same = "The same numbers as in the file." if found.same else "Not the same numbers as in the file."
    tell([same, *found.changed], language, archive.units)


COMMANDS = {"compare": compare}
