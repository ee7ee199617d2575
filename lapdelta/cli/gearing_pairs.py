"""``lapdelta gearing pairs``: the pairs that your sprockets make."""

from collections.abc import Iterable
from pathlib import Path
from typing import Any

import click

from lapdelta.cli import gearing_options as options
from lapdelta.cli.amounts_typed import MANY_TEETH, MM, NUMBER, TEETH
from lapdelta.cli.as_typed import AsTyped
from lapdelta.cli.outcome import open_archive, print_table


@click.command("pairs", cls=AsTyped)
@click.option(
    "--engine-teeth",
    "--engine",
    "--engines",
    "engines",
    type=MANY_TEETH,
    multiple=True,
    metavar="TEETH..",
    help="Engine sprockets you have. Default: those in the box (lapdelta parts).",
)
@click.option(
    "--axle-teeth",
    "--axle",
    "--axles",
    "axles",
    type=MANY_TEETH,
    multiple=True,
    metavar="TEETH..",
    help="Axle sprockets you have: 80 81 82, or 79-84. Default: those in the box.",
)
@click.option("--fitted", type=(TEETH, TEETH), metavar="ENGINE AXLE", help="The pair fitted now.")
@click.option("--ratio", type=NUMBER, help="Find the pair nearest to this ratio.")
@click.option(
    "--taller",
    type=NUMBER,
    metavar="PERCENT",
    help="Find the pair nearest to a gear so many percent taller than --fitted (minus: shorter).",
)
@click.option("--pitch-mm", "--pitch", "pitch", type=MM, help="Only sprockets of the box with this pitch.")
@options.answer_options
def pairs(
    engines: tuple[tuple[int, ...], ...], axles: tuple[tuple[int, ...], ...], fitted: tuple[Any, Any] | None,
    ratio: float | None, taller: float | None, pitch: float | None, cautions: bool,
    language: str, folder: Path | None, as_json: bool,
) -> None:  # fmt: skip
    """All pairs of your sprockets by ratio, tallest gear first; pairs of equal ratio are marked.

    lapdelta gearing pairs --engine 10,11 --axle 79-84 --fitted 11 82 --taller 2
    """
    from lapdelta import gearing
    from lapdelta.words import in_digits, in_language

    if ratio is not None and taller is not None:
        raise click.UsageError("Give --ratio or --taller, not both.", click.get_current_context())
    if taller is not None and fitted is None:
        raise click.UsageError(
            "--taller needs the pair that is fitted now: --fitted ENGINE AXLE.", click.get_current_context()
        )
    engine_teeth, axle_teeth = _flat(engines), _flat(axles)
    if not engine_teeth or not axle_teeth:
        from lapdelta.parts.box import sprockets_in_box

        box = sprockets_in_box(open_archive(folder), pitch)
        engine_teeth, axle_teeth = engine_teeth or box.engine_teeth, axle_teeth or box.axle_teeth
    table = gearing.pairs(engine_teeth, axle_teeth, fitted)
    facts: dict[str, Any] = {
        "pairs": [one.to_dict() for one in table],
        "fitted": list(fitted) if fitted else None,
    }
    nearest = None
    if ratio is not None or taller is not None:
        nearest = gearing.nearest_pair(
            engine_teeth, axle_teeth, wanted_ratio=ratio, fitted=fitted, taller_percent=taller
        )
        facts["nearest"] = nearest.to_dict()
    if as_json:
        options.print_answer(facts, [], folder, as_json=True, cautions=cautions, language=language)
        return
    rows = [
        [
            f"{one.engine_teeth}/{one.axle_teeth}",
            in_digits(f"{one.ratio:.4f}", language),
            "-" if one.taller_percent is None else in_digits(f"{one.taller_percent:+.2f} %", language),
            ", ".join(f"{engine}/{axle}" for engine, axle in one.same_as) or "-",
        ]
        for one in table
    ]
    header = ("pair", "ratio", "speed at the same rpm", "same ratio as")
    # A column without a word in it only takes room.
    told = [at for at in range(len(header)) if any(row[at] != "-" for row in rows)]
    print_table(
        [in_language(header[at], language) for at in told], [[row[at] for at in told] for row in rows]
    )
    lines = [f"Nearest: {nearest.engine_teeth}/{nearest.axle_teeth}."] if nearest else []
    options.print_answer(facts, lines, folder, as_json=False, cautions=cautions, language=language)


def _flat(many: Iterable[tuple[int, ...]]) -> tuple[int, ...]:
    return tuple(teeth for group in many for teeth in group)


GEARING = {"pairs": pairs}
