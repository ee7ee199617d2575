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

    Numbers of the setup sheet typed without a unit are then taken in these, and shown in these. The gearing
    commands name their unit in the option, as --speed-kmh, and take any other typed behind the number: 60mph.
    What is kept, and --json, stays in bar, C, km/h, mm and kg.
    """
    archive = open_archive(folder)
    chosen = archive.put_units(*names) if names else archive.units
    if as_json:
        print_json({"units": asdict(chosen), "archive": str(archive.folder)})
        return
    click.echo(", ".join(f"{kind}: {unit}" for kind, unit in asdict(chosen).items()))


COMMANDS = {"units": units}
