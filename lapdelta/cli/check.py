"""``lapdelta check``: is the archive whole?"""

from pathlib import Path

import click

from lapdelta.cli.outcome import (
    STATUS_ANSWERED,
    STATUS_ERROR,
    count,
    open_archive,
    print_json,
    shared_options,
)


@click.command("check")
@shared_options
def check(folder: Path | None, as_json: bool) -> int:
    """Verify every file, hash, column and account of the archive. Exit status 1 if something is wrong."""
    archive = open_archive(folder)
    wrong = archive.check()
    status = STATUS_ERROR if wrong else STATUS_ANSWERED
    facts = (
        {"laps": int(archive.sessions()["laps"].sum()), "entries": archive.history().height}
        if not wrong
        else {}
    )
    if as_json:
        problems = [error.to_dict() for error in wrong]
        first = {"error": problems[0]} if problems else {}
        print_json({**first, "clean": not wrong, "problems": problems, **facts, "archive": archive.location})
        return status
    for error in wrong:
        click.echo(str(error), err=True)
    if wrong:
        click.echo(f"{count(len(wrong), 'thing')} wrong; nothing was changed.", err=True)
    else:
        click.echo(f"All is well: {count(facts['laps'], 'lap')}, {facts['entries']} changes in the history.")
    return status


COMMANDS = {"check": check}
