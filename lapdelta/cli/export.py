"""``lapdelta export``: any table as one file."""

from pathlib import Path

import click

from lapdelta.cli.outcome import count, open_archive, print_json, shared_options


@click.command("export")
@click.argument("table")
@click.option(
    "--to", "--out", "target", required=True, type=click.Path(path_type=Path, dir_okay=False),
    help="New file; its ending .parquet or .csv tells the kind.",
)  # fmt: skip
@click.option("--event", metavar="EVENT", help="Only this event.")
@click.option("--without-names", is_flag=True, help="Leave out drivers' and file names and free texts.")
@shared_options
def export(
    table: str, target: Path, event: str | None, without_names: bool, folder: Path | None, as_json: bool
) -> None:
    """Write TABLE to a file: laps, set-aside, sessions, events, setups, parts, lap-lengths, draws, questions,
    asked, readings or history.

      lapdelta export laps --to laps.csv

    A CSV is safe to open in a spreadsheet: text that would run as a formula gets an apostrophe in front.
    """
    from lapdelta.archive import export as write

    archive = open_archive(folder)
    if event is not None:
        from lapdelta.asking.which import event_meant

        event = event_meant(archive, event)
    rows = write(archive, table, target, event=event, names=not without_names).height
    if as_json:
        print_json({"table": table, "rows": rows, "file": str(target), "archive": archive.location})
        return
    click.echo(f"Written: {target} ({count(rows, 'row')} of {table}).")


COMMANDS = {"export": export}
