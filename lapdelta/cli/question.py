"""``lapdelta question``: what a change is expected to do, written down first; the driver's words afterwards."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from lapdelta.cli.amounts_typed import NUMBER
from lapdelta.cli.as_typed import AsTyped
from lapdelta.cli.outcome import MEASURES, open_archive, print_json, shared_options
from lapdelta.cli.own_units import margin_kept
from lapdelta.cli.sessions_option import split_labels
from lapdelta.errors import QuestionError

if TYPE_CHECKING:
    from lapdelta.archive import Archive
    from lapdelta.units import Units

_DIRECTIONS = click.Choice(["faster", "slower", "higher", "lower", "no difference"])


@click.command("question", cls=AsTyped)
@click.argument("event", required=False)
@click.option("--changed", metavar="TEXT", help="What is changed, as: 'axle 82 -> 81'.")
@click.option("--before", multiple=True, metavar="S..", help="Sessions on the old setting.")
@click.option(
    "--after", multiple=True, metavar="S..", help="Sessions on the new setting; they may lie ahead."
)
@click.option("--kart", help="The kart. Default: any; ours where you have one.")
@click.option("--measure", metavar="MEASURE", help=MEASURES)
@click.option("--margin", type=NUMBER, help="Smallest change worth having, in the measure's unit.")
@click.option("--expect", "--expected", "expected", type=_DIRECTIONS, help="Which way it is expected to go.")
@click.option("--wish", metavar="TEXT", help="What the driver wishes for.")
@click.option("--words", metavar="TEXT", help="What the driver said afterwards.")
@click.option(
    "--number", type=int, help="Write to this question of the event. Default for --words alone: the last."
)
@click.option("--why", help="A word on why, kept in the history.")
@shared_options
def question(
    event: str | None, number: int | None, why: str | None, folder: Path | None, as_json: bool, **typed: Any
) -> None:
    """List the questions, or write one down for EVENT before its sessions are run.

    It stands beside the answer afterwards, and so do the driver's words:

      lapdelta question 2026-05-16 --changed 'axle 82 -> 81' --after P2

      lapdelta question 2026-05-16 --words 'better out of the hairpin'
    """
    archive = open_archive(folder)
    if event is not None:
        from lapdelta.asking.which import event_meant

        event = event_meant(archive, event)
    fields = {name: value for name, value in typed.items() if value not in (None, ())}
    entry = None
    if fields or number is not None:
        if event is None:
            raise click.UsageError("Name the EVENT.", click.get_current_context())
        for side in ("before", "after"):
            if side in fields:
                fields[side] = split_labels(fields[side], _labels(archive, event))
        written = _which(archive, event, number, set(fields))
        if "margin" in fields:
            measure = fields.get("measure") or _measure_of(archive, written)
            fields["margin"] = margin_kept(folder, measure, fields["margin"])
        entry = archive.put_question(event, written, why=why, **fields)
    _print(archive, event, entry, as_json)


def _labels(archive: "Archive", event: str) -> list[str]:
    """Session labels that are known of the event already."""
    known = event in archive.events["event"].to_list()
    return archive.sessions(event)["session"].to_list() if known else []


def _which(archive: "Archive", event: str, number: int | None, given: set[str]) -> str | None:
    """Id of the question to write to; None for a new one."""
    ids = _of_event(archive, event)
    if number is None and given == {"words"} and not ids:
        mend = "Write the question first, for instance: lapdelta question EVENT --changed 'axle 82 -> 81' --after P2"
        raise QuestionError(
            f"There is no question of {event} that these words could belong to.", mend, "--words"
        )
    if number is None:
        return ids[-1] if given == {"words"} else None
    if not 1 <= number <= len(ids):
        has = f"It has 1 to {len(ids)}; see: lapdelta question {event}" if ids else "It has none yet."
        raise QuestionError(f"There is no question {number} of {event}.", has, "--number")
    return ids[number - 1]


def _measure_of(archive: "Archive", question: str | None) -> str:
    """The measure of a question written down, lap_time for a new one or one that names none."""
    table = archive.questions
    named = table.filter(table["question"] == question)["measure"].to_list() if question else []
    return named[0] if named and named[0] else "lap_time"


def _of_event(archive: "Archive", event: str) -> list[str]:
    table = archive.questions
    return table.filter(table["event"] == event)["question"].to_list()


def _print(archive: "Archive", event: str | None, entry: str | None, as_json: bool) -> None:
    table = archive.questions
    if event is not None:
        table = table.filter(table["event"] == event)
    asked = archive.asked()
    if as_json:
        facts = {"questions": table.to_dicts(), "asked": asked.to_dicts(), "entry": entry}
        print_json({**facts, "archive": archive.location})
        return
    if table.is_empty():
        about = f" for {event}" if event else ""
        click.echo(f"No question is written down{about} yet. See: lapdelta question --help")
    numbers: dict[str, int] = {}
    for row in table.to_dicts():
        numbers[row["event"]] = numbers.get(row["event"], 0) + 1
        click.echo(f"{row['event']}, question {numbers[row['event']]}: {_said(row, archive.units)}")
    for season, count in asked.group_by("season", maintain_order=True).len().iter_rows():
        click.echo(f"Questions asked in the season {season}: {count}.")
    if entry is not None:
        click.echo(f"Written (take back with: lapdelta undo {entry}).")


def _said(row: dict[str, Any], units: "Units") -> str:
    from lapdelta.words import measure_name

    parts = [row["changed"], f"kart {row['kart']}" if row["kart"] else None]
    for side in ("before", "after"):
        parts.append(f"{side} {' '.join(row[side])}" if row[side] else None)
    parts.append(f"expected {row['expected']}" if row["expected"] else None)
    measure = measure_name(row["measure"]) if row["measure"] else None
    parts.append(f"{measure} worth having from {_margin(row, units)}" if row["margin"] else measure)
    parts.append(f'wish "{row["wish"]}"' if row["wish"] else None)
    parts.append(f'words "{row["words"]}"' if row["words"] else None)
    parts.append("in advance" if row["in_advance"] else "written when the laps were there")
    return "; ".join(part for part in parts if part)


def _margin(row: dict[str, Any], units: "Units") -> str:
    from lapdelta.effect.measures import find_measure

    measure = find_measure(row["measure"], sectors=99)
    stored = measure.unit if measure else ""
    return f"{units.shown_change(row['margin'], stored):.4g} {units.unit(stored)}".rstrip()


COMMANDS = {"question": question}
