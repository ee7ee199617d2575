"""``lapdelta events``: list them, or write down what is known of one."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from lapdelta.cli.outcome import open_archive, print_json, print_table, shared_options

if TYPE_CHECKING:
    from lapdelta.archive import Archive


@click.command("events")
@click.argument("event", required=False)
@click.option("--date", metavar="YYYY-MM-DD", help="Day it was held.")
@click.option("--track", help="Track.")
@click.option("--layout", help="Layout of the track.")
@click.option("--direction", help="Direction driven.")
@click.option("--our-kart", help="Number of our kart as printed there.")
@click.option("--our-driver", help="Driver of our kart as printed there.")
@click.option("--notes", help="Free notes.")
@shared_options
def events(event: str | None, folder: Path | None, as_json: bool, **fields: str | None) -> None:
    """List the events; with EVENT and options, write down what is known of it:

    lapdelta events 2026-05-16 --our-kart 07 --track 'Home circuit'
    """
    archive = open_archive(folder)
    given = {name: value for name, value in fields.items() if value is not None}
    if given and event is None:
        raise click.UsageError("Name the EVENT to write about.", click.get_current_context())
    notes: list[str] = []
    entry: str | None = None
    if event is not None:
        from lapdelta.asking.which import event_meant

        event = event_meant(archive, event)
    if event is not None and given:
        notes = _unsure(archive, event, given)
        entry = archive.put_event(event, **given)
    elif event is not None:
        from lapdelta.asking.which import known_event

        event = known_event(archive, event)
    table = archive.events
    if event is not None:
        table = table.filter(table["event"] == event)
    if as_json:
        print_json({"events": table.to_dicts(), "notes": notes, "archive": archive.location})
        return
    if table.is_empty():
        click.echo("No events yet. Bring timing in with: lapdelta import FILE...")
        return
    for note in notes:
        click.echo(note)
    shown = ("event", "date", "track", "our_kart", "our_driver", "notes")
    names = [name for name in table.columns if name in shown or table[name].null_count() < table.height]
    print_table(
        [name.replace("_", " ") for name in names],
        [[_text(row[name]) for name in names] for row in table.to_dicts()],
    )
    if entry is not None:
        click.echo(f"Written (take back with: lapdelta undo {entry}).")


def _unsure(archive: "Archive", event: str, given: dict[str, str]) -> list[str]:
    """What may be a slip of the pen: an event, or our kart, that no lap tells of."""
    known: list[str] = archive.events["event"].to_list()
    if event not in known or not archive.laps(event).height:
        has = f" The archive has: {', '.join(known)}." if known else ""
        return [f"No laps of {event} are here yet; what was typed is kept for when they come.{has}"]
    ours = given.get("our_kart")
    return [] if ours is None else no_such_kart(archive, event, ours)


def no_such_kart(archive: "Archive", event: str, kart: str) -> list[str]:
    """That no lap of the event is of this kart, and which karts it has; nothing if one is, or there are no laps."""
    from lapdelta.setups import natural

    karts = sorted(archive.laps(event)["kart"].unique().to_list(), key=natural)
    if not karts or kart in karts:
        return []
    return [f"No lap of {event} is of a kart {kart}; its karts are {', '.join(karts)}."]


def _text(value: object) -> str:
    return "-" if value is None else str(value)


COMMANDS = {"events": events}
