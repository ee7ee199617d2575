"""``lapdelta plan --what-next``: the next useful step for a day of the archive."""

from typing import TYPE_CHECKING, Any

import click

from lapdelta.cli.outcome import print_json
from lapdelta.cli.sessions_option import split_labels

if TYPE_CHECKING:
    from lapdelta.archive import Archive


def print_what_next(archive: "Archive", given: dict[str, Any], as_json: bool) -> None:
    """What the day's answer, the box and the sessions left suggest, with the cautions."""
    from lapdelta.asking.which import which_event
    from lapdelta.what_next.answer import what_next

    event = which_event(archive, given["event"])
    known = archive.sessions(event)["session"].to_list()
    answer = what_next(
        archive,
        event=event,
        kart=given["kart"],
        before=split_labels(given["before"], known) or None,
        after=split_labels(given["after"], known) or None,
        sessions_left=4 if given["sessions_left"] is None else given["sessions_left"],
        laps_per_session=given["laps"],
        measure=given["measure"],
        margin=given["margin"],
        direction=given["direction"],
        slots_mm=given["slots"],
    )
    if as_json:
        print_json(answer.to_dict())
        return
    for line in [*answer.sentences, "", answer.first]:
        click.echo(archive.units.said(line))
    for caution in answer.cautions:
        click.echo(f"  {caution.when}: {caution.text}")
