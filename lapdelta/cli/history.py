"""``lapdelta history`` and ``lapdelta undo``: every change to the archive, and the way back."""

from pathlib import Path

import click

from lapdelta.cli.outcome import open_archive, print_json, print_table, shared_options


@click.command("history")
@shared_options
def history(folder: Path | None, as_json: bool) -> None:
    """List every change made to the archive, newest last."""
    archive = open_archive(folder)
    table = archive.history()
    if as_json:
        print_json({"history": table.to_dicts(), "archive": archive.location})
        return
    if table.is_empty():
        click.echo("Nothing has been written yet.")
        return
    rows = [
        [
            row["entry"],
            f"{row['at']:%Y-%m-%d %H:%M}",
            row["what"],
            row["why"] or "",
            "undone" if row["undone"] else "",
        ]
        for row in table.to_dicts()
    ]
    print_table(["entry", "when (UTC)", "what", "why", ""], rows)


@click.command("undo")
@click.argument("entry")
@click.option("--why", help="A word on why, kept in the history.")
@shared_options
def undo(entry: str, why: str | None, folder: Path | None, as_json: bool) -> None:
    """Take back ENTRY, and only that, whatever came later. Undo the undo to have it again."""
    archive = open_archive(folder)
    new = archive.undo(entry, why=why)
    if as_json:
        print_json({"undone": entry, "entry": new, "archive": archive.location})
        return
    click.echo(f"Taken back: {entry}. To have it again: lapdelta undo {new}")


COMMANDS = {"history": history, "undo": undo}
