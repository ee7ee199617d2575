"""``lapdelta parts``: the sprocket box."""

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from lapdelta.cli.amounts_typed import DAY, LINKS, METRES, MM, NUMBER, TEETH
from lapdelta.cli.as_typed import AsTyped
from lapdelta.cli.outcome import (
    language_option,
    open_archive,
    print_json,
    print_table,
    shared_options,
    tell,
)

if TYPE_CHECKING:
    from lapdelta.gearing.box import PartWear
    from lapdelta.parts.charged import Box
    from lapdelta.units import Units

_KINDS = ("engine sprocket", "axle sprocket", "chain")


class _Kind(click.Choice[str]):
    """A kind of part; its first word is enough, as on the setup sheet: ``axle``."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        meant = [kind for kind in _KINDS if kind.split()[0] == value]
        return super().convert(meant[0] if meant else value, param, ctx)


@click.group("parts", invoke_without_command=True)
@language_option
@shared_options
@click.pass_context
def parts(ctx: click.Context, folder: Path | None, as_json: bool, language: str) -> None:
    """The sprocket box: list it with laps, kilometres and cost; add and retire parts.

    Laps come from the archive and the setup sheet: engine_part=NAME, axle_part=NAME and chain_part=NAME
    there say which part ran; without them teeth, links and pitch do.
    """
    if ctx.invoked_subcommand is None:
        show_box(folder, as_json, language)
    else:
        ctx.obj = folder


@parts.command("list")
@language_option
@shared_options
@click.pass_obj
def list_parts(above: Path | None, folder: Path | None, as_json: bool, language: str) -> None:
    """What you own, how far it has run, and what that cost."""
    show_box(folder or above, as_json, language)


@parts.command("add", cls=AsTyped)
@click.argument("name")
@click.option("--kind", type=_Kind(_KINDS), required=True, help="What it is.")
@click.option("--teeth", type=TEETH, help="Teeth of a sprocket.")
@click.option("--links", type=LINKS, help="Links of a chain, joining link included.")
@click.option(
    "--pitch-mm",
    "--pitch",
    "pitch",
    type=MM,
    required=True,
    help="Chain pitch, mm (or 3/8in); bare after --pitch in your unit.",
)
@click.option("--price", type=NUMBER, help="What it was bought for, a plain number in your currency.")
@click.option("--bought", type=DAY, help="Day it was bought.")
@click.option("--notes", help="Free notes.")
@shared_options
@click.pass_obj
def add(
    above: Path | None, name: str, kind: Any, teeth: Any, links: Any, pitch: float, price: float | None,
    bought: date | None, notes: str | None, folder: Path | None, as_json: bool,
) -> None:  # fmt: skip
    """Write a part down under NAME, your own name for it.

    lapdelta parts add 'axle 82' --kind 'axle sprocket' --teeth 82 --pitch 7.774 --price 20
    """
    from lapdelta.parts.box import add_part

    wanted, other = (links, teeth) if kind == "chain" else (teeth, links)
    if wanted is None or other is not None:
        size = "--links" if kind == "chain" else "--teeth"
        text = f"Give the size of this part ({kind}) with {size}, and only that."
        raise click.UsageError(text, click.get_current_context())
    entry = add_part(
        open_archive(folder or above),
        name,
        kind,
        wanted,
        pitch,
        price=price,
        bought=bought,
        notes=notes,
    )
    _written(entry, name, "added", as_json)


@parts.command("retire")
@click.argument("name")
@click.option("--on", "day", type=DAY, help="Last day it ran. Default: today.")
@shared_options
@click.pass_obj
def retire(above: Path | None, name: str, day: date | None, folder: Path | None, as_json: bool) -> None:
    """Put a part away; it keeps its laps."""
    from lapdelta.parts.box import retire_part

    _written(retire_part(open_archive(folder or above), name, day), name, "retired", as_json)


@parts.command("lap-length")
@click.argument("length", type=METRES)
@click.option("--track", metavar="TRACK", help="The track, as written down for its events.")
@click.option("--event", metavar="EVENT", help="One event only, for instance on another layout.")
@shared_options
@click.pass_obj
def lap_length(
    above: Path | None,
    length: float,
    track: str | None,
    event: str | None,
    folder: Path | None,
    as_json: bool,
) -> None:
    """Write down how long a lap is (LENGTH in m, or 0.9km, 0.56mile), so that laps become kilometres."""
    from lapdelta.parts.box import set_lap_length, unsure_of_event, unsure_of_track

    if (track is None) == (event is None):
        raise click.UsageError("Say --track or --event.", click.get_current_context())
    about, name = ("event", event) if event is not None else ("track", track)
    assert name is not None
    archive = open_archive(folder or above)
    if about == "event":
        from lapdelta.asking.which import event_meant

        name = event_meant(archive, name)
    entry = set_lap_length(archive, about, name, length)
    note = unsure_of_event(archive, name) if about == "event" else unsure_of_track(archive, name)
    units = archive.units
    said = f"{length:g} m" if units.way == "km" else f"{units.shown_way(length / 1000):.4g} {units.way}"
    _written(entry, f"{about} {name}", f"{said} a lap", as_json, note)


def show_box(folder: Path | None, as_json: bool, language: str) -> None:
    """Print the box."""
    from lapdelta.parts.beside_the_sheet import tyre_sets
    from lapdelta.parts.charged import box

    archive = open_archive(folder)
    found = box(archive)
    tyres = tyre_sets(archive)
    if as_json:
        print_json({**found.to_dict(), "tyre_sets": tyres, "archive": archive.location})
        return
    if found.parts:
        _print_parts(found, archive.units, language)
    tell(_beside(found, tyres), language, archive.units)


def _beside(found: "Box", tyres: list[dict[str, Any]]) -> list[str]:
    """What there is to say beside the table: worn together, tyre sets, laps on no part, days without a length."""
    said: list[str] = []
    if not found.parts:
        said.append(
            "The box is empty. For instance: lapdelta parts add 'axle 82' --kind 'axle sprocket' --teeth 82 "
            "--pitch-mm 7.774 --price 20"
        )
    said += [
        f"Worn together: {first} and {second}, {laps} laps. What is worn together is changed together."
        for first, second, laps in found.worn_together
    ]
    for one in tyres:
        days = " to ".join(dict.fromkeys([one["first_event"], one["last_event"]]))
        whose = "" if one["owner"] == "ours" else f" of kart {one['owner']}"
        said.append(f"Tyre set {one['value']}{whose}: {one['laps']} laps ({days}).")
    for one in found.unclear if found.parts else ():
        where = f"{one.event}, {', '.join(one.sessions)}"
        said.append(f"{where}: {one.laps} laps of kart {one.kart} on no {one.kind} of the box. {one.reason}")
    if found.without_length:
        said.append(
            f"Length of a lap unknown: {', '.join(found.without_length)}. Say it with: lapdelta parts lap-length 900 "
            "--track TRACK, or for one event with --event EVENT"
        )
    return said


def _print_parts(found: "Box", units: "Units", language: str) -> None:
    from lapdelta.words import in_digits, in_language

    rows = [
        [
            one.part.name,
            in_language(one.part.kind, language),
            str(one.part.size),
            in_digits(f"{units.shown(one.part.pitch_mm, 'mm'):.5g}", language),
            str(wear.laps),
            in_digits(_distance(wear, units), language),
            "-" if one.part.price is None else in_digits(f"{one.part.price:g}", language),
            "-" if wear.cost_per_100_laps is None else in_digits(f"{wear.cost_per_100_laps:.2f}", language),
            "-" if one.retired is None else str(one.retired),
        ]
        for one, wear in zip(found.parts, found.wear, strict=True)
    ]
    header = [in_language(name, language) for name in ("part", "kind", "teeth or links", "pitch")]
    header[-1] += f" {units.length}"
    more = ("laps", units.way, "price", "per 100 laps", "retired")
    print_table(header + [in_language(name, language) for name in more], rows)


def _distance(wear: "PartWear", units: "Units") -> str:
    """Distance run; "at least" where some laps are of unknown length."""
    if wear.distance_km is None:
        return "-"
    return f"{'>= ' if wear.laps_without_length else ''}{units.shown_way(wear.distance_km):.1f}"


def _written(entry: str, name: str, what: str, as_json: bool, note: str | None = None) -> None:
    if as_json:
        print_json({"entry": entry, "name": name, "what": what, "notes": [note] if note else []})
        return
    if note:
        click.echo(note)
    click.echo(f"{name}: {what} (entry {entry}; take back with: lapdelta undo {entry}).")


COMMANDS = {"parts": parts}
