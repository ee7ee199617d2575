"""``lapdelta gearing pulled``: did the engine pull the changed gear, from a question or from plain numbers."""

import math
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import click

from lapdelta.cli import gearing_options as options
from lapdelta.cli.amounts_typed import KMH, NUMBER, RPM
from lapdelta.cli.as_typed import AsTyped
from lapdelta.cli.outcome import Command, open_archive, with_options
from lapdelta.cli.sessions_option import split_labels

if TYPE_CHECKING:
    from lapdelta.gearing import Levels


def _numbers(command: Command) -> Command:
    """Options for levels that come from elsewhere than the archive."""
    return with_options(
        command,
        [
            click.option("--speed-before", type=KMH, help="Top speed before, km/h (or mph)."),
            click.option("--speed-after", type=KMH, help="Top speed after."),
            click.option("--speed-error", type=KMH, help="Standard error of the change in top speed."),
            click.option("--rpm-before", type=RPM, help="Peak rpm before."),
            click.option("--rpm-after", type=RPM, help="Peak rpm after."),
            click.option("--rpm-error", type=RPM, help="Standard error of the change in peak rpm."),
            click.option(
                "--dof",
                type=NUMBER,
                default=math.inf,
                help="Degrees of freedom of the errors. Default: exact errors.",
            ),
        ],
    )


@click.command("pulled", cls=AsTyped)
@options.engine
@options.axle
@options.engine_after
@options.axle_after
@click.option("--event", metavar="EVENT", help="The event asked about. Default: the only one in the archive.")
@click.option(
    "--kart", metavar="KART", help="Our kart's number. Default: the one written down for the event."
)
@click.option("--before", multiple=True, metavar="S..", help="Sessions on the old gear.")
@click.option("--after", multiple=True, metavar="S..", help="Sessions on the new gear.")
@_numbers
@click.option(
    "--lead",
    type=click.Choice(["top_speed", "peak_rpm"]),
    default="top_speed",
    show_default=True,
    help="The measure the verdict rests on; fix it before looking.",
)
@click.option(
    "--systematic",
    type=NUMBER,
    default=0.0,
    help="What wind, a tow or tyres may do to the speed ratio, as a share: 0.002 = 0.2 %.",
)
@click.option("--confidence", type=NUMBER, default=0.95, show_default=True, help="Level of the intervals.")
@options.answer_options
def pulled(folder: Path | None, as_json: bool, cautions: bool, language: str, **given: Any) -> None:  # fmt: skip
    """Did the engine pull the changed gear? The share of the change that shows in top speed and peak rpm.

    Ask the archive with --before and --after (teeth come from the setup sheet unless given), or give the
    teeth and the levels with their session-level standard errors.
    """
    asked = bool(given["before"] or given["after"])
    stated = any(given[name] is not None for name in ("speed_before", "rpm_before"))
    if asked == stated:
        raise click.UsageError(
            "Give --before and --after, or levels such as --speed-before 96 --speed-after 97 --speed-error 0.3.",
            click.get_current_context(),
        )
    facts, lines = _from_archive(folder, given) if asked else _from_numbers(given)
    options.print_answer(facts, lines, folder, as_json=as_json, cautions=cautions, language=language)


def _from_numbers(given: dict[str, Any]) -> tuple[dict[str, Any], list[str]]:
    """The answer from levels typed in."""
    from lapdelta.gearing import pulled as answer_pulled

    options.needed(engine_teeth=given["engine"], axle_teeth=given["axle"])
    before = (given["engine"], given["axle"])
    after = options.changed(before, given["engine_after"], given["axle_after"])
    answer = answer_pulled(
        before, after, top_speed=_levels(given, "speed"), peak_rpm=_levels(given, "rpm"),
        lead=given["lead"], systematic=given["systematic"], confidence=given["confidence"],
    )  # fmt: skip
    return _facts(answer, before, after)


def _levels(given: dict[str, Any], name: Literal["speed", "rpm"]) -> "Levels | None":
    from lapdelta.gearing import Levels

    before, after, error = (given[f"{name}_{part}"] for part in ("before", "after", "error"))
    if {before, after, error} == {None}:
        return None
    options.needed(**{f"{name}_before": before, f"{name}_after": after, f"{name}_error": error})
    return Levels.from_change(before, after - before, error, given["dof"])


def _from_archive(folder: Path | None, given: dict[str, Any]) -> tuple[dict[str, Any], list[str]]:
    """The answer from sessions of the archive."""
    from lapdelta.asking.pulled import ask_pulled
    from lapdelta.asking.which import which_event

    archive = open_archive(folder)
    event = which_event(archive, given["event"])
    known = archive.sessions(event)["session"].to_list()
    answer = ask_pulled(
        archive, event=event, kart=given["kart"],
        before=split_labels(given["before"], known), after=split_labels(given["after"], known),
        engine_before=given["engine"], axle_before=given["axle"],
        engine_after=given["engine_after"], axle_after=given["axle_after"],
        lead=given["lead"], systematic=given["systematic"], confidence=given["confidence"],
    )  # fmt: skip
    facts, lines = _facts(answer.pulled, answer.pair_before, answer.pair_after)
    facts |= {"event": event, "kart": answer.kart}
    for name in ("top_speed", "peak_rpm"):
        finding = getattr(answer, name)
        facts[f"{name}_finding"] = finding.to_dict() if finding else None
    return facts, lines


def _facts(answer: Any, before: tuple[int, int], after: tuple[int, int]) -> tuple[dict[str, Any], list[str]]:
    facts = {"pair_before": list(before), "pair_after": list(after), **answer.to_dict()}
    head = f"{before[0]}/{before[1]} to {after[0]}/{after[1]}: {answer.sentence}"
    return facts, [head, *answer.reasons, *answer.could_fake]


GEARING = {"pulled": pulled}
