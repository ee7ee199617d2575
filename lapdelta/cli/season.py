"""``lapdelta season``: what a gearing change was worth, all days together."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from lapdelta.cli.outcome import open_archive, print_json, print_table, shared_options

if TYPE_CHECKING:
    from lapdelta.archive import Archive


@click.command("season")
@click.option("--kart", help="Our kart's number. Default: the one written down for the events.")
@click.option("--track", help="Only this circuit. Default: all, one by one.")
@click.option("--measure", default="lap_time", show_default=True, help="lap_time, sector_1, top_speed, ..")
@click.option("--factor", default="axle_teeth", show_default=True, help="axle_teeth, pressure_rear, ..")
@click.option("--margin", type=float, help="Smallest change worth having; fix it before looking.")
@click.option("--confidence", type=float, default=0.95, show_default=True, help="Level of the intervals.")
@click.option("--all-karts", "sweep", is_flag=True, help="All karts of the archive instead of ours.")
@click.option("--numbers", is_flag=True, help="With --all-karts: print kart numbers instead of letters.")
@shared_options
def season(folder: Path | None, as_json: bool, sweep: bool, numbers: bool, **asked: Any) -> None:
    """Put all days together: which gearing is best here, what a tooth is worth, what to try next.

    'cannot be told' is an answer.
    """
    archive = open_archive(folder)
    if sweep:
        _sweep(archive, as_json, numbers, asked)
        return
    import lapdelta

    found = lapdelta.season(archive.laps(), setups=archive.setups, events=archive.events, **asked)
    if as_json:
        click.echo(found.to_json())
        return
    for sentence in found.sentences:
        click.echo(sentence)


def _sweep(archive: "Archive", as_json: bool, numbers: bool, asked: dict[str, Any]) -> None:
    from lapdelta.seasons.sweep import sweep

    if asked["kart"] or asked["track"] or asked["margin"]:
        raise click.UsageError(
            "--all-karts takes neither --kart nor --track nor --margin: it looks at everything."
        )
    chosen = {name: asked[name] for name in ("measure", "confidence", "factor")}
    rows = sweep(archive.laps(), setups=archive.setups, events=archive.events, named=numbers, **chosen)
    if as_json:
        print_json({"karts": rows})
        return
    print_table(["kart", "events", "sessions", "repeats to within", "best"], [_line(row) for row in rows])


def _line(row: dict[str, Any]) -> list[str]:
    scatter = row["repeatability"]
    repeats = f"{scatter['session_sd']:.2f}" if scatter else "cannot be told"
    best = [
        f"{one['track'] or 'all days'}: {one['best']:.1f}" if one["best"] is not None else f"{one['state']}"
        for one in row["responses"]
    ]
    return [row["kart"], str(row["events"]), str(row["sessions"]), repeats, "; ".join(best) or "-"]


COMMANDS = {"season": season}
