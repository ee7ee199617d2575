"""``lapdelta set-aside`` and ``lapdelta put-back``: a lap taken out of use, or into it again, by hand."""

from collections.abc import Callable
from pathlib import Path

import click

from lapdelta.cli.outcome import Command, open_archive, print_json, print_table, shared_options


def _which_laps(command: Command) -> Command:
    options: list[Callable[[Command], Command]] = [
        click.option("--event", help="The event. Default: the only one in the archive."),
        click.option("--session", help="The session."),
        click.option("--kart", help="The kart. Default: ours at that event."),
        click.option(
            "--lap", "laps", multiple=True, type=int, help="Lap number; may be repeated. Default: all laps."
        ),
        click.option("--why", help="A word on why, kept in the history."),
    ]
    for option in reversed(options):
        command = option(command)
    return command


@click.command("set-aside")
@_which_laps
@shared_options
def set_aside(
    event: str | None,
    session: str | None,
    kart: str | None,
    laps: tuple[int, ...],
    why: str | None,
    folder: Path | None,
    as_json: bool,
) -> None:
    """Set laps aside: they stay in the archive but are not used. Without --session, list them."""
    archive = open_archive(folder)
    if session is None:
        table = archive.set_aside
        if as_json:
            print_json({"set_aside": table.to_dicts(), "archive": str(archive.folder)})
        elif table.is_empty():
            click.echo("No laps are set aside by hand.")
        else:
            names = ["event", "session", "kart", "lap", "lap_time_s", "why", "entry"]
            print_table(
                names, [["" if row[n] is None else str(row[n]) for n in names] for row in table.to_dicts()]
            )
        return
    event, kart = _named(folder, event, kart)
    entry = archive.set_aside_laps(event, session, kart, list(laps) or None, why)
    _say(entry, "Set aside", as_json)


@click.command("put-back")
@_which_laps
@shared_options
def put_back(
    event: str | None,
    session: str | None,
    kart: str | None,
    laps: tuple[int, ...],
    why: str | None,
    folder: Path | None,
    as_json: bool,
) -> None:
    """Put laps back into use that were set aside by hand."""
    if session is None:
        raise click.UsageError("Name the --session.", click.get_current_context())
    archive = open_archive(folder)
    event, kart = _named(folder, event, kart)
    entry = archive.put_back_laps(event, session, kart, list(laps) or None, why)
    _say(entry, "Put back", as_json)


def _named(folder: Path | None, event: str | None, kart: str | None) -> tuple[str, str]:
    """Event and kart as given, else the only event and our kart there."""
    from lapdelta.asking import only_event, our_kart

    archive = open_archive(folder)
    event = event or only_event(archive)
    return event, kart or our_kart(archive, event)


def _say(entry: str, done: str, as_json: bool) -> None:
    if as_json:
        print_json({"entry": entry})
        return
    click.echo(f"{done}. Take back with: lapdelta undo {entry}")


COMMANDS = {"set-aside": set_aside, "put-back": put_back}
