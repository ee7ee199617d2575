"""``lapdelta set-aside`` and ``lapdelta put-back``: a lap taken out of use, or into it again, by hand."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from lapdelta.cli.outcome import Command, open_archive, print_json, print_table, shared_options, with_options

if TYPE_CHECKING:
    from lapdelta.archive import Archive


def _which_laps(command: Command) -> Command:
    return with_options(
        command,
        [
            click.option("--event", metavar="EVENT", help="The event. Default: the only one in the archive."),
            click.option("--session", metavar="SESSION", help="The session."),
            click.option("--kart", metavar="KART", help="The kart. Default: ours at that event."),
            click.option(
                "--lap",
                "--laps",
                "laps",
                multiple=True,
                type=int,
                help="Lap number; may be repeated. Default: all laps.",
            ),
            click.option("--why", help="A word on why, kept in the history."),
        ],
    )


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
    """Set laps aside: they stay in the archive but are not used. Without --session, list them.

    lapdelta set-aside --event 2026-05-16 --session P1 --lap 3 --why 'held up'
    """
    archive = open_archive(folder)
    if session is None and laps:
        raise click.UsageError("Name the --session of the lap.", click.get_current_context())
    if session is None:
        _list(archive, event, kart, as_json)
        return
    event, kart, session = _named(archive, event, kart, session)
    entry = archive.set_aside_laps(event, session, kart, list(laps) or None, why)
    _say(entry, f"Set aside: {_in_words(event, session, kart, laps)}", as_json)


def _list(archive: "Archive", event: str | None, kart: str | None, as_json: bool) -> None:
    """What is set aside by hand: everywhere, or only at that event and of that kart."""
    from lapdelta.asking.which import known_event

    wanted = {"event": known_event(archive, event) if event else None, "kart": kart}
    rows = archive.set_aside.filter(**{k: v for k, v in wanted.items() if v is not None}).to_dicts()
    if as_json:
        print_json({"set_aside": rows, "archive": archive.location})
    elif not rows:
        click.echo("No laps are set aside by hand.")
    else:
        names = ["event", "session", "kart", "lap", "lap_time_s", "why", "entry"]
        header = ["event", "session", "kart", "lap", "lap time, s", "why", "entry"]
        print_table(header, [["" if row[name] is None else str(row[name]) for name in names] for row in rows])


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
    event, kart, session = _named(archive, event, kart, session)
    _set_aside_before(archive, event, session, kart, laps)
    entry = archive.put_back_laps(event, session, kart, list(laps) or None, why)
    _say(entry, f"Put back: {_in_words(event, session, kart, laps)}", as_json)


def _named(archive: "Archive", event: str | None, kart: str | None, session: str) -> tuple[str, str, str]:
    """Event and kart as given, else the only event and our kart there; the session that was meant."""
    from lapdelta.asking.which import our_kart, session_meant, which_event

    event = which_event(archive, event)
    known: list[str] = archive.sessions(event)["session"].to_list()
    return event, kart or our_kart(archive, event), session_meant(known, session)


def _in_words(event: str, session: str, kart: str, laps: tuple[int, ...]) -> str:
    """Which laps, in words."""
    which = f"lap {', '.join(map(str, laps))}" if laps else "all laps"
    return f"{event}, {session}, kart {kart}, {which}"


def _set_aside_before(archive: "Archive", event: str, session: str, kart: str, laps: tuple[int, ...]) -> None:
    """Refuse to put back what is in use: most likely another lap was meant."""
    from lapdelta.errors import ArchiveError

    aside: list[int] = archive.set_aside.filter(event=event, session=session, kart=kart)["lap"].to_list()
    wrong = [lap for lap in laps if lap not in aside]
    if aside and not wrong:
        return
    what = f"Lap {wrong[0]} is not set aside." if wrong else "No lap is set aside there."
    has = (
        f"Set aside there: {', '.join(map(str, aside))}."
        if aside
        else "List what is with: lapdelta set-aside"
    )
    raise ArchiveError(what, has, f"event {event}, session {session}, kart {kart}")


def _say(entry: str, done: str, as_json: bool) -> None:
    if as_json:
        print_json({"entry": entry})
        return
    click.echo(f"{done}. Take back with: lapdelta undo {entry}")


COMMANDS = {"set-aside": set_aside, "put-back": put_back}
