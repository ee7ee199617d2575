"""``lapdelta dashboard``: the pages, in the browser, on this machine only."""

from pathlib import Path

import click

from lapdelta.cli.outcome import open_archive, print_json, shared_options
from lapdelta.cli.sign_of_life import be_quiet


@click.command("dashboard")
@click.option("--port", type=click.IntRange(1, 65535), help="Port on this machine. Default: a free one.")
@click.option("--no-browser", is_flag=True, help="Do not open a browser; only print the address.")
@shared_options
def dashboard(port: int | None, no_browser: bool, folder: Path | None, as_json: bool) -> None:
    """Open the pages in the browser. They are served to this machine only; stop with Ctrl-C."""
    open_dashboard(open_archive(folder).folder, port, open_browser=not no_browser, as_json=as_json)


def open_dashboard(
    folder: Path, port: int | None, *, open_browser: bool, as_json: bool, quiet: bool = False
) -> None:
    """Say the address, then serve until stopped."""
    from dashboard.launch import free_port, run

    chosen = free_port(port)
    be_quiet()
    address = f"http://127.0.0.1:{chosen}"
    if as_json and not quiet:
        print_json({"address": address, "archive": str(folder)})
    elif not quiet:
        click.echo(f"The pages are at {address} (stop with Ctrl-C). Archive: {folder}")
    run(folder, port=chosen, open_browser=open_browser)


COMMANDS = {"dashboard": dashboard}
