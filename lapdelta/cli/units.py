"""``lapdelta units``: the user's units on input and screen."""

from dataclasses import asdict
from pathlib import Path

import click

from lapdelta.cli.outcome import open_archive, print_json, shared_options


@click.command("units")
@click.argument("names", nargs=-1, metavar="[UNIT]...")
@shared_options
def units(names: tuple[str, ...], folder: Path | None, as_json: bool) -> None:
    """Show the units, or choose some: lapdelta units psi F mph inch lb (back: bar C km/h mm kg).

    Numbers typed without a unit are then taken in these, and tables and sentences show these: in the setup
    sheet and its CSV, after options such as --speed, --pitch or --margin, in answers about speeds and lengths.
    An option that names a unit, as --speed-kmh, is in that unit; one typed behind the number always counts: 60mph.
    What is kept, and --json, stays in bar, C, km/h, mm and kg.
    """
    archive = open_archive(folder)
    chosen = archive.put_units(*names) if names else archive.units
    if as_json:
        print_json({"units": asdict(chosen), "archive": archive.location})
        return
    click.echo(", ".join(f"{kind}: {unit}" for kind, unit in asdict(chosen).items()))


COMMANDS = {"units": units}
