"""``lapdelta gearing speed``, ``expect`` and ``cautions``."""

from pathlib import Path
from typing import Any

import click

from lapdelta.cli import gearing_options as options
from lapdelta.cli.amounts_typed import KG, KMH, NUMBER, RPM
from lapdelta.cli.as_typed import AsTyped
from lapdelta.cli.outcome import language_option, print_json, shared_options, tell


@click.command("speed", cls=AsTyped)
@options.engine
@options.axle
@options.circumference
@click.option("--rpm", type=RPM, help="Engine speed, 1/min.")
@click.option("--speed-kmh", "--speed", "speed", type=KMH, help="Road speed, km/h (or 60mph).")
@options.slip
@options.answer_options
def speed(
    engine: Any, axle: Any, circumference: float | None, rpm: float | None, speed: float | None, slip: float,
    cautions: bool, language: str, folder: Path | None, as_json: bool,
) -> None:  # fmt: skip
    """Road speed at --rpm, or engine speed at --speed-kmh; without either, the ratio and what one tooth does."""
    from lapdelta import gearing

    options.needed(engine_teeth=engine, axle_teeth=axle)
    if rpm is not None and speed is not None:
        raise click.UsageError("Give --rpm or --speed-kmh, not both.", click.get_current_context())
    facts: dict[str, Any] = {
        "engine_teeth": engine,
        "axle_teeth": axle,
        "ratio": gearing.ratio(engine, axle),
        "percent_per_axle_tooth": gearing.percent_per_tooth(axle),
        "percent_per_engine_tooth": gearing.percent_per_tooth(engine, 1),
    }
    lines = [
        f"{engine}/{axle}: ratio {facts['ratio']:.4f}.",
        f"One tooth fewer on the axle: {facts['percent_per_axle_tooth']:+.2f} % ratio, a taller gear. "
        f"One tooth more on the engine: {facts['percent_per_engine_tooth']:+.1f} % speed at the same rpm.",
    ]
    if rpm is not None or speed is not None:
        options.needed(circumference_m=circumference)
        assert circumference is not None
        facts |= {"circumference_m": circumference, "slip": slip}
        if speed is None:
            assert rpm is not None
            speed = gearing.speed_kmh(rpm, engine, axle, circumference, slip)
        else:
            rpm = gearing.rpm_at(speed, engine, axle, circumference, slip)
        facts |= {"rpm": rpm, "speed_kmh": speed}
        lines.append(
            f"{rpm:.0f} 1/min is {speed:.1f} km/h with a tyre of {1000 * circumference:.0f} mm around."
        )
    options.print_answer(facts, lines, folder, as_json=as_json, cautions=cautions, language=language)


@click.command("expect", cls=AsTyped)
@options.engine
@options.axle
@options.engine_after
@options.axle_after
@options.circumference
@click.option("--mass-kg", "--mass", "mass_kg", type=KG, help="Kart with driver.")
@click.option("--power-kw", type=NUMBER, help="Greatest power at the axle, kW.")
@click.option("--power-rpm", type=RPM, help="Engine speed of greatest power.")
@click.option("--limiter-rpm", type=RPM, help="Engine speed at which the ignition cuts.")
@click.option("--grip", type=NUMBER, help="Friction coefficient of the tyres.")
@click.option("--drag-area-m2", type=NUMBER, help="Drag coefficient x frontal area, m2.")
@click.option("--rolling", type=NUMBER, help="Rolling resistance coefficient.")
@options.answer_options
def expect(
    engine: Any, axle: Any, engine_after: Any, axle_after: Any, circumference: float | None, cautions: bool,
    language: str, folder: Path | None, as_json: bool, **inputs: float | None,
) -> None:  # fmt: skip
    """What physics allows a change of gear to do to a lap: an order of magnitude, never a sprocket.

    Every input that is not given is assumed; the answer lists them all.
    """
    from lapdelta.gearing import LapModel, expected_shift

    options.needed(engine_teeth=engine, axle_teeth=axle)
    if engine_after is None and axle_after is None:
        options.needed(axle_after=None)
    given: dict[str, Any] = {name: value for name, value in inputs.items() if value is not None}
    if circumference is not None:
        given["circumference_m"] = circumference
    model = LapModel(engine_teeth=engine, axle_teeth=axle, **given)
    after = options.changed((engine, axle), engine_after, axle_after)
    answer = expected_shift(after, model)
    facts = answer.to_dict() | {"inputs": model.to_dict(), "inputs_given": sorted(given)}
    options.print_answer(
        facts, [answer.sentence], folder, as_json=as_json, cautions=cautions, language=language
    )


@click.command("cautions")
@language_option
@shared_options
def cautions(folder: Path | None, as_json: bool, language: str) -> None:
    """The whole check list for work on sprockets and chain, to print and to keep at the bench."""
    del folder
    everything = options.safety(whole=True)
    if as_json:
        print_json(everything)
        return
    tell([everything["first"]], language)
    options.print_cautions(everything["cautions"], language)


GEARING = {"speed": speed, "expect": expect, "cautions": cautions}
