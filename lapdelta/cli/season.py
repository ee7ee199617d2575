"""``lapdelta season``: what a gearing change was worth, all days together."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from lapdelta.cli.amounts_typed import NUMBER
from lapdelta.cli.outcome import (
    language_option,
    measure_option,
    open_archive,
    print_json,
    print_table,
    shared_options,
    tell,
)
from lapdelta.cli.own_units import margin_kept

if TYPE_CHECKING:
    from lapdelta.archive import Archive
    from lapdelta.units import Units


@click.command("season")
@click.option(
    "--kart", metavar="KART", help="Our kart's number. Default: the one written down for the events."
)
@click.option("--track", metavar="TRACK", help="Only this track. Default: all, one by one.")
@measure_option
@click.option(
    "--factor",
    default="axle_teeth",
    show_default=True,
    metavar="FACTOR",
    help="What was changed: axle_teeth, pressure_rear, .. (a column of the setup sheet).",
)
@click.option(
    "--also",
    multiple=True,
    metavar="FACTOR",
    help="A further factor beside it, as pressure_rear or air_temperature_c; may be repeated.",
)
@click.option("--margin", type=NUMBER, help="Smallest change worth having; fix it before looking.")
@click.option("--confidence", type=NUMBER, default=0.95, show_default=True, help="Level of the intervals.")
@click.option("--all-karts", "sweep", is_flag=True, help="All karts of the archive instead of ours.")
@click.option("--numbers", is_flag=True, help="With --all-karts: print kart numbers instead of letters.")
@language_option
@shared_options
def season(
    folder: Path | None, as_json: bool, sweep: bool, numbers: bool, language: str, **asked: Any
) -> None:
    """Put all days together: which gearing is best here, what a tooth is worth, what to try next.

    'cannot be told' is an answer.
    """
    if numbers and not sweep:
        raise click.UsageError("--numbers goes with --all-karts.", click.get_current_context())
    archive = open_archive(folder)
    asked["margin"] = margin_kept(folder, asked["measure"], asked["margin"])
    if sweep:
        _sweep(archive, as_json, numbers, asked)
        return
    import lapdelta

    found = lapdelta.season(archive.laps(), setups=archive.setups, events=archive.events, **asked)
    if as_json:
        click.echo(found.to_json())
        return
    tell(found.sentences, language, archive.units)


def _sweep(archive: "Archive", as_json: bool, numbers: bool, asked: dict[str, Any]) -> None:
    from lapdelta.seasons.sweep import sweep

    if asked["kart"] or asked["track"] or asked["margin"] or asked["also"]:
        raise click.UsageError(
            "--all-karts takes none of --kart, --track, --margin, --also: it looks at everything.",
            click.get_current_context(),
        )
    chosen = {name: asked[name] for name in ("measure", "confidence", "factor")}
    rows = sweep(archive.laps(), setups=archive.setups, events=archive.events, named=numbers, **chosen)
    if as_json:
        print_json({"karts": rows})
        return
    from lapdelta.words import factor_name

    print_table(
        ["kart", "events", "sessions", "repeats to within", f"best {factor_name(asked['factor'])}"],
        [_line(row, asked["measure"], asked["factor"], archive.units) for row in rows],
    )


def _line(row: dict[str, Any], measure: str, factor: str, units: "Units") -> list[str]:
    """A kart's line, in the user's units."""
    from lapdelta.effect.measures import find_measure
    from lapdelta.seasons.amounts import amount, size_text
    from lapdelta.seasons.factor import find_factor

    scatter, kind, setting = row["repeatability"], find_measure(measure, sectors=99), find_factor(factor, [])
    repeats = size_text(scatter["session_sd"], kind) if scatter and kind else "cannot be told"
    best = [
        f"{one['track'] or 'no track'}: "
        + (one["state"] if one["best"] is None else amount(one["best"], setting))
        for one in row["responses"]
    ]
    counts = [str(row["events"]), str(row["sessions"])]
    return [row["kart"], *counts, *(units.said(text) for text in (repeats, "; ".join(best) or "-"))]


COMMANDS = {"season": season}
