"""``lapdelta plan``: the next test, before the day is spent on it; sealed random orders and their exact test."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from lapdelta.cli.amounts_typed import NUMBER
from lapdelta.cli.as_typed import AsTyped
from lapdelta.cli.gearing_options import print_cautions, slots
from lapdelta.cli.outcome import (
    Command,
    language_option,
    measure_option,
    open_archive,
    print_json,
    shared_options,
    tell,
    with_options,
)
from lapdelta.cli.own_units import margin_kept, own_units
from lapdelta.cli.plan_draws import answer_draw, print_draws, sealed_plan, tell_draw
from lapdelta.cli.plan_next import print_what_next
from lapdelta.cli.sessions_option import split_labels

if TYPE_CHECKING:
    from lapdelta.archive import Archive
    from lapdelta.effect.planning import TestPlan

_LOOKS = ("at the end", "half way", "every two")
_PACES = ("laps", "clocks", "sectors", "sectors and clocks")


def _test_options(command: Command) -> Command:
    """What is to be tested, and how."""
    return with_options(command, [
        click.option("--sessions-left", type=int, help="Sessions that can still be run."),
        click.option("--laps", type=int, default=10, show_default=True, help="Laps a session, out lap included."),
        measure_option,
        click.option("--margin", type=NUMBER, help="Smallest change worth having, in the measure's unit."),
        click.option("--expected", type=NUMBER, help="The most the change is expected to do."),
        click.option("--looks", type=click.Choice(_LOOKS), default=_LOOKS[0], show_default=True,
                     help="When to look before the end; declared now or not at all."),
        click.option("--confidence", type=NUMBER, default=0.95, show_default=True, help="Level of the interval."),
        click.option("--power", type=NUMBER, default=0.80, show_default=True, help="Chance to see the effect."),
    ])  # fmt: skip


def _noise_options(command: Command) -> Command:
    """Where the scatter comes from: sessions of the archive, or stated."""
    return with_options(command, [
        click.option("--event", metavar="EVENT",
                     help="Learn the scatter from this event. Default: the only one in the archive."),
        click.option("--kart", metavar="KART",
                     help="Our kart's number. Default: the one written down for the event."),
        click.option("--sessions", multiple=True, metavar="S..",
                     help="Learn from these sessions only; with --test, the sessions in the order run."),
        click.option("--session-sd", type=NUMBER, help="Scatter that a session gives one kart, in the unit asked."),
        click.option("--lap-sd", type=NUMBER, help="Scatter of clean laps."),
        click.option("--other-karts", type=int, help="Karts to compare with."),
        click.option("--track-sd", type=NUMBER, help="Unevenness of the track; needed only without other karts."),
        click.option("--history/--no-history", "use_history", default=True,
                     help="Whether other days help to judge how well karts repeat themselves."),
        click.option("--pace", type=click.Choice(_PACES), default=_PACES[0], show_default=True,
                     help="What the pace of a session will be taken from."),
    ])  # fmt: skip


def _next_options(command: Command) -> Command:
    """What next: from the day's answer and the box."""
    return with_options(
        command,
        [
            click.option(
                "--what-next", is_flag=True, help="The next useful step from the day's answer and the box."
            ),
            click.option(
                "--before",
                multiple=True,
                metavar="S..",
                help="With --what-next: sessions on the old setting.",
            ),
            click.option(
                "--after", multiple=True, metavar="S..", help="With --what-next: sessions on the new setting."
            ),
            click.option(
                "--direction", type=click.Choice(["taller", "shorter"]), help="Which way the gear is to go."
            ),
            slots,
        ],
    )


def _draw_options(command: Command) -> Command:
    """Random orders: draw and seal one, tell it session by session, test it."""
    return with_options(
        command,
        [
            click.option(
                "--random-order", is_flag=True, help="Draw the order at random and seal it in the archive."
            ),
            click.option(
                "--seed", type=int, help="Of the draw, to repeat one. Default: the machine's randomness."
            ),
            click.option("--draws", is_flag=True, help="List the sealed draws."),
            click.option(
                "--next",
                "tell",
                metavar="DRAW",
                help="Tell the next session of a sealed draw; 'last' is the newest.",
            ),
            click.option("--reveal", metavar="DRAW", help="Tell the whole order of a sealed draw."),
            click.option(
                "--test", "tested", metavar="DRAW", help="The exact test of a draw, after it was run."
            ),
        ],
    )


@click.command("plan", cls=AsTyped)
@_test_options
@_noise_options
@_next_options
@_draw_options
@language_option
@shared_options
def plan(folder: Path | None, as_json: bool, **given: Any) -> None:
    """Plan the next test: which order of sessions, how many laps, and what it will be able to see.

    The scatter is learnt from an event of the archive and from your other days, or stated with --session-sd
    and --lap-sd.
    --what-next joins the day's answer, your box of sprockets (lapdelta parts) and the plan.
    A random order (--random-order) is sealed and told session by session with --next last.

      lapdelta plan --sessions-left 4 --event 2026-05-16 --margin 0.1

      lapdelta plan --what-next --event 2026-05-16 --before P1 P4 --after P2 P3
    """
    draw_asked = [name for name in ("draws", "tell", "reveal", "tested") if given[name]]
    for name in ("margin", "session_sd", "lap_sd", "track_sd", "expected"):
        given[name] = margin_kept(folder, given["measure"], given[name])
    if len(draw_asked) + given["random_order"] + given["what_next"] > 1:
        raise click.UsageError("Ask for one thing at a time.", click.get_current_context())
    if given["what_next"]:
        print_what_next(open_archive(folder), given, as_json)
    elif given["draws"]:
        print_draws(open_archive(folder), as_json)
    elif given["tell"] or given["reveal"]:
        name, whole = given["tell"] or given["reveal"], bool(given["reveal"])
        tell_draw(open_archive(folder), name, whole, as_json, given["language"])
    elif given["tested"]:
        answer_draw(open_archive(folder), given, as_json)
    else:
        _plan(folder, given, as_json)


def _plan(folder: Path | None, given: dict[str, Any], as_json: bool) -> None:
    """Make the plan, seal its draw if it has one, print it."""
    if given["sessions_left"] is None:
        raise click.UsageError(
            "Say how many sessions can still be run, as: --sessions-left 4", click.get_current_context()
        )
    archive = _needed_archive(folder, given)
    made, event, kart = make_plan(archive, given)
    if made.draw is None:
        facts, lines = made.to_dict(), list(made.sentences)
    else:
        facts, lines = sealed_plan(archive or open_archive(folder), made, event, kart)
    facts |= {"event": event, "kart": kart}
    from lapdelta.gearing.safety import FIRST, on_track_list

    cautions = [one.to_dict() for one in on_track_list()]
    if as_json:
        print_json({**facts, "first": FIRST, "cautions": cautions})
        return
    tell([*lines, "", FIRST], given["language"], own_units(folder))
    print_cautions(cautions, given["language"])


def _needed_archive(folder: Path | None, given: dict[str, Any]) -> "Archive | None":
    """The archive, unless the scatter is stated and nothing in the archive is named."""
    named = any(given[name] for name in ("event", "kart", "sessions"))
    stated = given["session_sd"] is not None and given["lap_sd"] is not None
    return open_archive(folder) if named or not stated else None


def make_plan(archive: "Archive | None", given: dict[str, Any]) -> "tuple[TestPlan, str | None, str | None]":
    """(the plan, the event it learnt from, our kart) for the options of ``plan``."""
    event, kart = given["event"], given["kart"]
    names = (
        "sessions_left", "measure", "margin", "session_sd", "lap_sd", "other_karts", "pace", "track_sd",
        "looks", "random_order", "seed", "expected", "confidence", "power",
    )  # fmt: skip
    wanted = {name: given[name] for name in names} | {"laps_per_session": given["laps"]}
    if archive is None or not (event or archive.events.height):
        from lapdelta.planning.plan import plan_test

        return plan_test(**wanted), event, kart
    from lapdelta.asking.plan_ahead import plan_ahead
    from lapdelta.asking.which import which_event

    event = which_event(archive, event)
    kart = kart or _our_kart(archive, event)
    sessions = None
    if given["sessions"]:
        sessions = split_labels(given["sessions"], archive.sessions(event)["session"].to_list())
    made = plan_ahead(
        archive, event=event, kart=kart, sessions=sessions, use_history=given["use_history"], **wanted
    )
    return made, event, kart


def _our_kart(archive: "Archive", event: str) -> str | None:
    """Our kart where it is written down; the plan can do without."""
    events = archive.events
    ours: list[str | None] = events.filter(events["event"] == event)["our_kart"].to_list()
    return ours[0] if ours else None


COMMANDS = {"plan": plan}
