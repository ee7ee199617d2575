"""What the gearing commands share: options with a long and a short spelling, the cautions, printing."""

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import click

from lapdelta.cli.amounts_typed import LINKS, METRES, MM, NUMBER, TEETH
from lapdelta.cli.outcome import Command, language_option, print_json, shared_options, tell
from lapdelta.cli.own_units import own_units

Option = Callable[[Command], Command]

engine = click.option(
    "--engine-teeth", "--engine", "engine", type=TEETH, help="Teeth of the engine sprocket."
)
axle = click.option("--axle-teeth", "--axle", "axle", type=TEETH, help="Teeth of the axle sprocket.")
engine_after = click.option(
    "--engine-after", type=TEETH, help="Engine sprocket after a change. Default: the same."
)
axle_after = click.option("--axle-after", type=TEETH, help="Axle sprocket after a change. Default: the same.")
pitch = click.option("--pitch-mm", "--pitch", "pitch", type=MM, help="Chain pitch, mm (or 3/8in).")
links = click.option("--links", type=LINKS, help="Links of the chain, joining link included.")
slots = click.option(
    "--slots-mm",
    "--slots",
    "slots",
    type=(MM, MM),
    metavar="LOW HIGH",
    help="Shortest and longest centre distance that the engine mount allows, mm.",
)
circumference = click.option(
    "--circumference-m",
    "--circumference",
    "circumference",
    type=METRES,
    help="Rolling circumference of the driven tyres, m (or 860mm, 33.9in).",
)
slip = click.option("--slip", type=NUMBER, default=0.0, show_default=True, help="Tyre slip, 0.02 = 2 %.")
_cautions = click.option("--cautions", is_flag=True, help="Print the whole check list, not the short one.")


def answer_options(command: Command) -> Command:
    """``--cautions``, ``--language``, ``--archive`` and ``--json``."""
    return _cautions(language_option(shared_options(command)))


#: The lines of the check list that stand beside every suggestion; ``--cautions`` prints all.
SHORT_KEYS = ("adult", "engine_off", "fingers", "fasteners", "guard", "again")


def needed(**values: Any) -> None:
    """Raise a usage error that names the options still missing.

    Args:
        values: option name without dashes in front (underscores inside) -> value given.
    """
    missing = [f"--{name.replace('_', '-')}" for name, value in values.items() if value is None]
    if missing:
        raise click.UsageError(f"Missing: {', '.join(missing)}.", click.get_current_context())


def changed(before: tuple[Any, Any], engine_after: Any, axle_after: Any) -> tuple[Any, Any]:
    """The pair after a change; a sprocket that is not named stays. A zero is passed on, to be refused."""
    return (
        before[0] if engine_after is None else engine_after,
        before[1] if axle_after is None else axle_after,
    )


def safety(whole: bool) -> dict[str, Any]:
    """``first`` and ``cautions``, short or whole, for JSON."""
    from lapdelta.gearing.safety import FIRST, check_list

    kept = [one for one in check_list() if whole or one.key in SHORT_KEYS]
    return {"first": FIRST, "cautions": [one.to_dict() for one in kept]}


def print_answer(
    facts: dict[str, Any], lines: list[str], folder: Path | None, *, as_json: bool, cautions: bool,
    language: str,
) -> None:  # fmt: skip
    """The facts as one JSON object, or the lines as text in the user's units; the cautions with both."""
    beside = safety(cautions)
    if as_json:
        print_json({**facts, **beside})
        return
    tell([*lines, "", beside["first"]], language, own_units(folder))
    print_cautions(beside["cautions"], language)
    if not cautions:
        tell(["  The whole check list: lapdelta gearing cautions"], language)


def print_cautions(cautions: Iterable[dict[str, Any]], language: str) -> None:
    """The check list, a line each: when, and what."""
    from lapdelta.words import in_language

    for caution in cautions:
        when, text = (in_language(caution[part], language) for part in ("when", "text"))
        click.echo(f"  {when}: {text}")
