"""``lapdelta gearing chain``: length, centre distance, reach, slide, play, wear, alignment, clearance."""

from pathlib import Path
from typing import Any

import click

from lapdelta.cli import gearing_options as options
from lapdelta.cli.amounts_typed import LINKS, MM
from lapdelta.cli.as_typed import AsTyped
from lapdelta.cli.outcome import Command, with_options


def _measured(command: Command) -> Command:
    """Options for what was measured at the kart."""
    return with_options(
        command,
        [
            click.option(
                "--centre-mm", "--centre", "centre", type=MM, help="Centre distance as measured, mm."
            ),
            click.option("--play-mm", "--slack", "play", type=MM, help="Total movement at mid-run, mm."),
            click.option(
                "--measured-mm", type=MM, help="Length of the chain over --measured-links, pin to pin, mm."
            ),
            click.option("--measured-links", type=LINKS, help="Links that --measured-mm goes over."),
            click.option("--fixed-centres", is_flag=True, help="The engine cannot be moved to take up wear."),
            click.option("--offset-mm", type=MM, help="How far the sprocket faces are out of line, mm."),
            click.option("--tyre-diameter-mm", type=MM, help="Rear tyre as it stands under load, mm."),
        ],
    )


@click.command("chain", cls=AsTyped)
@options.engine
@options.axle
@options.pitch
@options.links
@options.engine_after
@options.axle_after
@click.option("--links-after", type=LINKS, help="Links after the change. Default: the same chain.")
@options.slots
@_measured
@options.answer_options
def chain(folder: Path | None, as_json: bool, cautions: bool, language: str, **given: Any) -> None:
    """Where the engine stands with a chain, how far it slides for a change, and whether it reaches.

    Give --links for the centre distance, --centre-mm for the length, or --slots-mm alone for the chains
    that fit. What else is given is answered too.
    """
    options.needed(engine_teeth=given["engine"], axle_teeth=given["axle"], pitch_mm=given["pitch"])
    if given["links"] is None and given["centre"] is None and given["slots"] is None:
        raise click.UsageError("Give --links, --centre-mm or --slots-mm.", click.get_current_context())
    facts, lines = chain_facts(**given)
    options.print_answer(facts, lines, folder, as_json=as_json, cautions=cautions, language=language)


def chain_facts(
    *, engine: Any, axle: Any, pitch: float, links: Any, centre: float | None,
    slots: tuple[float, float] | None, **more: Any,
) -> tuple[dict[str, Any], list[str]]:  # fmt: skip
    """Everything that can be said from what was given: (facts with units in their keys, lines of text)."""
    from lapdelta import gearing
    from lapdelta.gearing.checks import kart_pitch

    facts: dict[str, Any] = {
        "engine_teeth": engine,
        "axle_teeth": axle,
        "pitch_mm": kart_pitch(pitch),
        "ratio": gearing.ratio(engine, axle),
        "engine_pitch_diameter_mm": gearing.pitch_diameter_mm(engine, pitch),
        "axle_pitch_diameter_mm": gearing.pitch_diameter_mm(axle, pitch),
    }
    lines: list[str] = []
    if links is not None:
        _reach(facts, lines, gearing.chain_reach(links, engine, axle, pitch, slots), slots)
    if centre is not None:
        _length(facts, lines, centre, links)
    if slots is not None:
        fitting = gearing.links_that_fit(engine, axle, pitch, slots)
        facts["links_that_fit"] = [
            {"links": one.links, "centre_distance_mm": one.centre_distance_mm} for one in fitting
        ]
        said = ", ".join(f"{one.links} ({one.centre_distance_mm:.1f} mm between centres)" for one in fitting)
        lines.append(f"Even numbers of links that fit the slots: {said or 'none'}.")
    _change(facts, lines, links, slots, more)
    _at_the_kart(facts, lines, centre, more)
    return facts, lines


def _reach(facts: dict[str, Any], lines: list[str], reach: Any, slots: tuple[float, float] | None) -> None:
    facts |= {
        "links": reach.links,
        "centre_distance_mm": reach.centre_distance_mm,
        "centre_distance_handbook_mm": reach.centre_distance_handbook_mm,
        "needs_offset_link": reach.needs_offset_link,
        "within_slots": reach.within_slots,
    }
    lines.append(
        f"{reach.engine_teeth}/{reach.axle_teeth}, {reach.pitch_mm:g} mm, {reach.links} links: "
        f"{reach.centre_distance_mm:.1f} mm between centres with the chain taut "
        f"(handbook formula {reach.centre_distance_handbook_mm:.1f} mm)."
    )
    if slots is not None:
        word = "within" if reach.within_slots else "outside"
        lines.append(f"That is {word} the slots ({slots[0]:g} to {slots[1]:g} mm).")
    if reach.needs_offset_link:
        lines.append(
            f"{reach.links} links is an odd number: it would need an offset link; take an even number."
        )


def _length(facts: dict[str, Any], lines: list[str], centre: float, links: Any) -> None:
    """The length that belongs to a centre distance, and how much a given chain has over."""
    from lapdelta import gearing

    drive = (facts["engine_teeth"], facts["axle_teeth"], facts["pitch_mm"])
    exact = gearing.chain_length_pitches(centre, *drive)
    even = gearing.even_links(exact)
    facts |= {
        "centre_mm": centre,
        "length_pitches": exact,
        "length_handbook_pitches": gearing.chain_length_pitches(centre, *drive, handbook=True),
        "even_links": even,
        "even_links_centre_distance_mm": gearing.centre_distance_mm(even, *drive),
    }
    lines.append(
        f"At {centre:g} mm between centres the chain would be {exact:.2f} links long; the next even number is "
        f"{even}, taut at {facts['even_links_centre_distance_mm']:.1f} mm."
    )
    if links is not None:
        spare = (links - exact) * drive[2]
        facts["spare_length_mm"] = spare
        lines.append(
            f"{links} links have {spare:.1f} mm of chain over there."
            if spare >= 0
            else f"{links} links do not reach: {-spare:.1f} mm of chain are missing."
        )


def _change(
    facts: dict[str, Any],
    lines: list[str],
    links: Any,
    slots: tuple[float, float] | None,
    more: dict[str, Any],
) -> None:
    """How far the engine slides."""
    from lapdelta import gearing

    names = ("engine_after", "axle_after", "links_after")
    if all(more[name] is None for name in names):
        return
    options.needed(links=links)
    before = (facts["engine_teeth"], facts["axle_teeth"])
    after = options.changed(before, more["engine_after"], more["axle_after"])
    slide = gearing.engine_slide(
        links, facts["pitch_mm"], before, after, links_after=more["links_after"], slots_mm=slots
    )
    facts |= {
        "engine_slide_mm": slide.slide_mm,
        "centre_distance_after_mm": slide.after.centre_distance_mm,
        "within_slots_after": slide.within_slots,
        "slide": slide.to_dict(),
    }
    lines.append(f"To {after[0]}/{after[1]}: {slide.sentence}")


def _at_the_kart(facts: dict[str, Any], lines: list[str], centre: float | None, more: dict[str, Any]) -> None:
    """Play, wear, alignment and ground clearance, each where its measurement was given."""
    from lapdelta import gearing

    engine, axle, pitch = facts["engine_teeth"], facts["axle_teeth"], facts["pitch_mm"]
    between: Any = facts.get("centre_distance_mm") if centre is None else centre
    answers: dict[str, Any] = {}
    if more["play"] is not None:
        options.needed(centre_mm=between)
        answers["slack"] = gearing.slack(more["play"], between, engine, axle, pitch)
    if more["measured_mm"] is not None:
        options.needed(measured_links=more["measured_links"])
        answers["wear"] = gearing.chain_wear(
            more["measured_mm"], more["measured_links"], pitch, axle, fixed_centres=more["fixed_centres"]
        )
    if more["offset_mm"] is not None:
        options.needed(centre_mm=between)
        answers["alignment"] = gearing.alignment(more["offset_mm"], between)
    if more["tyre_diameter_mm"] is not None:
        answers["clearance"] = gearing.ground_clearance(axle, pitch, more["tyre_diameter_mm"])
    for name, answer in answers.items():
        facts[name] = answer.to_dict()
        lines.append(answer.sentence)


GEARING = {"chain": chain}
