"""``lapdelta events``: list them, or write down what is known of one."""

from pathlib import Path

import click

from lapdelta.cli.outcome import open_archive, print_json, print_table, shared_options


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
    """List the events; with EVENT and options, write down what is known of it."""
    archive = open_archive(folder)
    given = {name: value for name, value in fields.items() if value is not None}
    if given and event is None:
        raise click.UsageError("Name the EVENT to write about.", click.get_current_context())
    if event is not None and given:
        archive.put_event(event, **given)
    table = archive.events
    if event is not None:
        table = table.filter(table["event"] == event)
    if as_json:
        print_json({"events": table.to_dicts(), "archive": str(archive.folder)})
        return
    if table.is_empty():
        click.echo("No events yet. Bring timing in with: lapdelta import FILE...")
        return
    names = ["event", "date", "track", "our_kart", "our_driver", "notes"]
    print_table(names, [[_text(row[name]) for name in names] for row in table.to_dicts()])


def _text(value: object) -> str:
    return "-" if value is None else str(value)


COMMANDS = {"events": events}
