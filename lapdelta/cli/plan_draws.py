"""Sealed random orders on the command line: what is told, what stays sealed, and the exact test."""

from typing import TYPE_CHECKING, Any

import click

from lapdelta.cli.outcome import print_json, print_table, tell
from lapdelta.cli.sessions_option import split_labels

if TYPE_CHECKING:
    from lapdelta.archive import Archive
    from lapdelta.archive.draws import SealedDraw
    from lapdelta.effect.planning import TestPlan

_SETTING = {"A": "the setting before", "B": "the setting after"}


def sealed_plan(
    archive: "Archive", plan: "TestPlan", event: str | None, kart: str | None
) -> tuple[dict[str, Any], list[str]]:
    """Seal the plan's draw; (facts, lines) that do not tell the order.

    What the order will be able to see is that of the order drawn; several orders of the list share it.
    """
    from lapdelta.asking.drawn import seal_plan

    draw = seal_plan(archive, plan, event, kart)
    facts = plan.to_dict() | {"recommended": None, "draw": draw.to_dict()}
    facts["sentences"] = lines = [
        f"Drawn: {len(draw.order)} sessions of {plan.laps_per_session} laps, half on each setting; the order is "
        f"sealed in the archive as {draw.draw}, with the {len(draw.orders)} orders it was drawn from.",
        f"Before each session: lapdelta plan --next {draw.draw}",
        *(line for line in plan.sentences if " ".join(plan.recommended or "") not in line),
        f"After the last one: lapdelta plan --test {draw.draw} --sessions S1 S2 ..",
    ]
    return facts, lines


def print_draws(archive: "Archive", as_json: bool) -> None:
    """The sealed draws, without what is still sealed."""
    from lapdelta.archive.draws import sealed_draws

    draws = sealed_draws(archive.folder)
    if as_json:
        print_json({"draws": [one.to_dict() for one in draws], "archive": archive.location})
        return
    if not draws:
        click.echo("No sealed draws yet. Draw one with: lapdelta plan --random-order --sessions-left 8")
        return
    rows = [
        [one.draw, one.event or "-", one.kart or "-", str(len(one.order)), one.told or "-"] for one in draws
    ]
    print_table(["draw", "event", "kart", "sessions", "told so far"], rows)


def tell_draw(archive: "Archive", name: str, whole: bool, as_json: bool, language: str) -> None:
    """Tell the next session's setting, or all."""
    from lapdelta.archive.draws import reveal

    draw = reveal(archive.folder, name, all_sessions=whole)
    if as_json:
        print_json({**draw.to_dict(), "session": draw.revealed, "setting": None if whole else draw.told[-1]})
        return
    tell(_told(draw, whole), language)


def _told(draw: "SealedDraw", whole: bool) -> list[str]:
    if whole:
        return [f"The whole order: {' '.join(draw.order)} (A the setting before, B the one after)."]
    letter, left = draw.told[-1], len(draw.order) - draw.revealed
    return [
        f"Session {draw.revealed} of {len(draw.order)}: {letter}, {_SETTING[letter]}.",
        f"So far: {' '.join(draw.told)}; {left} still sealed.",
    ]


def answer_draw(archive: "Archive", given: dict[str, Any], as_json: bool) -> None:
    """The exact test of a draw."""
    from lapdelta.archive.draws import sealed_draw
    from lapdelta.asking.drawn import answer_drawn
    from lapdelta.asking.which import only_event

    draw = sealed_draw(archive.folder, given["tested"])
    event = given["event"] or draw.event or only_event(archive)
    known = archive.sessions(event)["session"].to_list()
    answer = answer_drawn(
        archive,
        draw,
        sessions=split_labels(given["sessions"], known) or None,
        event=event,
        kart=given["kart"],
    )
    if as_json:
        print_json(answer.to_dict())
        return
    from lapdelta.sheet.sentences import headline

    language = given["language"]
    tell([f"Order run: {' '.join(answer.order)} ({' '.join(answer.sessions)}).", answer.sentence], language)
    tell(["The usual answer for the same sessions:"], language)
    click.echo(headline(answer.finding, language))
