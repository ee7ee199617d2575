"""``lapdelta plan --what-next``: the next useful step for a day of the archive."""

from typing import TYPE_CHECKING, Any

from lapdelta.cli.gearing_options import print_cautions
from lapdelta.cli.outcome import print_json, tell
from lapdelta.cli.sessions_option import split_labels

if TYPE_CHECKING:
    from lapdelta.archive import Archive
    from lapdelta.what_next.answer import WhatNext


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
    tell([*_answer(answer, archive, given["language"]), "", answer.first], given["language"], archive.units)
    print_cautions([one.to_dict() for one in answer.cautions], given["language"])


def _answer(found: "WhatNext", archive: "Archive", language: str) -> list[str]:
    """Its sentences; those about the answer so far are said in the language, the others are still to be said."""
    if found.finding is None:
        return list(found.sentences)
    from lapdelta.sheet.advice import what_now
    from lapdelta.sheet.own_units import in_units
    from lapdelta.sheet.sentences import headline

    shown = in_units(found.finding, archive.units, texts=False)
    rest = found.sentences[1 + len(found.do_now) :]
    return [headline(shown, language), *what_now(shown, language), *rest]
