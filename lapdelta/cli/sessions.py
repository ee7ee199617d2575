"""``lapdelta sessions``: what the archive holds, a line a session."""

from pathlib import Path

import click

from lapdelta.cli.outcome import open_archive, print_json, print_table, shared_options


@click.command("sessions")
@click.option("--event", metavar="EVENT", help="Only this event.")
@shared_options
def sessions(event: str | None, folder: Path | None, as_json: bool) -> None:
    """List the sessions that the archive holds, in the order they were driven."""
    archive = open_archive(folder)
    if event is not None:
        from lapdelta.asking.which import known_event

        event = known_event(archive, event)
    table = archive.sessions(event)
    if as_json:
        print_json(
            {"sessions": table.to_dicts(), "laps": int(table["laps"].sum()), "archive": archive.location}
        )
        return
    if table.is_empty():
        whole = f"The archive holds no laps of {event} yet." if event else "The archive holds no laps yet."
        click.echo(f"{whole} Bring some in with: lapdelta import FILE...")
        return
    rows = [
        [row["event"], row["session"], str(row["laps"]), str(row["karts"]), _clock(row["first_clock"])]
        for row in table.to_dicts()
    ]
    print_table(["event", "session", "laps", "karts", "first lap at"], rows)


def _clock(clock: object) -> str:
    return f"{clock:%H:%M}" if clock is not None else "-"


COMMANDS = {"sessions": sessions}
