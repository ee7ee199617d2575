"""``lapdelta history`` and ``lapdelta undo``: every change to the archive, and the way back."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from lapdelta.cli.outcome import open_archive, print_json, print_table, shared_options
from lapdelta.errors import ArchiveError

if TYPE_CHECKING:
    from lapdelta.archive import Archive

#: How what an undo did begins in the history: such an entry is not the last thing that somebody did.
_TAKING_BACK = ("took back:", "brought back:")


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
    """Take back ENTRY, and only that, whatever came later. Undo the undo to have it again.

    ENTRY is as `lapdelta history` lists it; 'last' is the newest.
    """
    archive = open_archive(folder)
    if entry == "last":
        entry = _newest(archive)
    new = archive.undo(entry, why=why)
    if as_json:
        print_json({"undone": entry, "entry": new, "archive": archive.location})
        return
    click.echo(f"Taken back: {entry}. To have it again: lapdelta undo {new}")


def _newest(archive: "Archive") -> str:
    """The newest entry that is not taken back and is no taking back itself."""
    table = archive.history()
    open_rows = [
        row["entry"]
        for row in table.to_dicts()
        if not row["undone"] and not row["what"].startswith(_TAKING_BACK)
    ]
    if not open_rows:
        raise ArchiveError(
            "There is nothing to take back.", "See what was written with: lapdelta history", "last"
        )
    return open_rows[-1]


COMMANDS = {"history": history, "undo": undo}
