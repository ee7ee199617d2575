"""``lapdelta import``: read all files, say what was understood, then keep them or nothing."""

import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from lapdelta.cli.outcome import (
    STATUS_ANSWERED,
    STATUS_ERROR,
    STATUS_QUESTION,
    STATUS_SET_ASIDE,
    count,
    new_option,
    open_archive,
    print_error,
    print_json,
    progress,
    shared_options,
)
from lapdelta.errors import OpenQuestions, UnreadableFile

if TYPE_CHECKING:
    from lapdelta.archive import Archive
    from lapdelta.reading import Reading

#: Rows set aside that are printed for one file before the rest is only counted.
ROWS_SHOWN = 12

#: How the reason of a row begins that an answer will bring back, and how many of them are printed.
WAITS, WAITING_SHOWN = "waits for", 3


@click.command("import")
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=str))
@click.option(
    "--event",
    metavar="EVENT",
    help="Event that these files belong to. Default: the date (and track) they print.",
)
@click.option("--dry-run", is_flag=True, help="Only say what would be kept; write nothing.")
@click.option(
    "--answer",
    "answers",
    multiple=True,
    metavar="KEY=VALUE",
    help="Answer a question that was asked; may be repeated.",
)
@click.option(
    "--recipe",
    type=click.Path(path_type=str),
    metavar="FILE",
    help="A file recipe that says how to read these files.",
)
@new_option
@shared_options
def import_timing(
    files: tuple[str, ...],
    event: str | None,
    dry_run: bool,
    answers: tuple[str, ...],
    recipe: str | None,
    new: bool,
    folder: Path | None,
    as_json: bool,
) -> int:
    """Read timing FILES (any CSV of laps and sectors) and keep their laps.

      lapdelta import saturday*.csv

      lapdelta import club.csv --event 'club day in May' --answer kart=07

    All files are read before anything is kept. Exit status: 0 all read, 3 read with rows set aside, 4 a
    question is open, 1 a file is unreadable or missing, 2 usage. With 1 or 4 nothing of any file is kept.
    """
    given = _answers(answers)
    _check_recipe(recipe)
    archive = open_archive(folder, new=new)
    readings, failures = _read_all(files, archive, recipe, given)
    if event is None:
        event = given.get("event")
    questions = [_open_questions(reading, event) for reading in readings]
    status = _status(readings, failures, questions)
    kept: list[dict[str, Any]] = []
    if not dry_run and status in (STATUS_ANSWERED, STATUS_SET_ASIDE):
        kept = [_keep(archive, reading, event) for reading in readings]
    report = {
        "status": status,
        "dry_run": dry_run,
        "read": [_read_facts(reading, asked) for reading, asked in zip(readings, questions, strict=True)],
        "errors": [failure.to_dict() for failure in failures],
        "kept": kept,
        "archive": archive.location,
    }
    if as_json:
        _print_report_json(report)
    else:
        _print_report(report, files)
    return status


def _answers(pairs: tuple[str, ...]) -> dict[str, str]:
    """``KEY=VALUE`` pairs as a dict; a pair without '=' is a usage error."""
    answers: dict[str, str] = {}
    for pair in pairs:
        key, equals, value = pair.partition("=")
        if not equals or not key:
            raise click.BadParameter(f"{pair!r} is not KEY=VALUE.", param_hint="--answer")
        answers[key] = value
    return answers


def _check_recipe(recipe: str | None) -> None:
    """Refuse a recipe that is none before any file is read.

    Raises:
        UnreadableFile: it is missing, no text, or no recipe.
    """
    from lapdelta.reading import Recipe

    try:
        Recipe.load(recipe)
    except ValueError as error:
        mend = (
            "Give a recipe that was saved here; import --dry-run --json prints one for every file it reads."
        )
        raise UnreadableFile(str(error), mend, recipe) from error


def _read_all(
    files: tuple[str, ...], archive: "Archive", recipe: str | None, answers: dict[str, str]
) -> tuple[list["Reading"], list[UnreadableFile]]:
    """Every file read once; files that cannot be read are facts, not the end of the others."""
    from lapdelta.archive.remembered import read_with_memory

    readings: list[Reading] = []
    failures: list[UnreadableFile] = []
    with progress(files, "Reading") as bar:
        for file in bar:
            try:
                readings.append(read_with_memory(file, archive, recipe=recipe, answers=answers or None))
            except UnreadableFile as error:
                failures.append(error)
            except ValueError as error:
                raise click.BadParameter(str(error), param_hint="--answer") from error
    return readings, failures


def _open_questions(reading: "Reading", event: str | None) -> list[dict[str, Any]]:
    """Questions of the file itself, and which event it belongs to where nothing tells."""
    from lapdelta.archive import event_laps

    questions = list(reading.questions)
    if not questions:
        try:
            event_laps(reading, event)
        except OpenQuestions as error:
            questions = list(error.questions)
    return [{"key": q.key, "text": q.text, "options": list(q.options)} for q in questions]


def _status(
    readings: list["Reading"], failures: list[UnreadableFile], questions: list[list[dict[str, Any]]]
) -> int:
    """The first that applies of 1, 4, 3, 0."""
    if failures:
        return STATUS_ERROR
    if any(questions):
        return STATUS_QUESTION
    return STATUS_SET_ASIDE if any(reading.set_aside.height for reading in readings) else STATUS_ANSWERED


def _keep(archive: "Archive", reading: "Reading", event: str | None) -> dict[str, Any]:
    """Keep one reading and say what that added."""
    added = archive.add(reading, event=event)
    return {
        "file": reading.source_name,
        "entry": added.entry,
        "events": list(added.events),
        "laps_added": added.laps_added,
        "laps_known": added.laps_known,
        "already": added.already,
    }


def _read_facts(reading: "Reading", questions: list[dict[str, Any]]) -> dict[str, Any]:
    """What was understood of one file, and what was not."""
    laps = reading.laps
    return {
        "file": reading.source_name,
        "encoding": reading.encoding,
        "account": reading.account,
        "sessions": laps["session"].unique(maintain_order=True).to_list(),
        "karts": laps["kart"].unique(maintain_order=True).to_list(),
        "columns": [dict(column) for column in reading.columns],
        "notes": list(reading.notes),
        "questions": questions,
        "set_aside": reading.set_aside.to_dicts(),
        "recipe": reading.recipe.to_toml(),
    }


def _print_report_json(report: dict[str, Any]) -> None:
    """One object; a file that cannot be read also stands under ``error``, as for every command."""
    print_json({"error": report["errors"][0], **report} if report["errors"] else report)


def _print_report(report: dict[str, Any], typed: tuple[str, ...]) -> None:
    for facts in report["read"]:
        _print_reading(facts)
    for error in report["errors"]:
        print_error(error, as_json=False)
    for kept in report["kept"]:
        click.echo(_kept_sentence(kept))
    if report["status"] == STATUS_QUESTION:
        for line in _how_to_go_on(report, typed):
            click.echo(line)
    elif report["status"] == STATUS_ERROR:
        several = len(report["read"]) + len(report["errors"]) > 1
        click.echo("Nothing was kept, of any file." if several else "Nothing was kept.", err=True)
        if report["read"]:
            names = ", ".join(str(error["where"]) for error in report["errors"])
            click.echo(f"Run it again without {names}.", err=True)
    elif report["dry_run"]:
        click.echo("Dry run: nothing was kept.")


def _print_reading(facts: dict[str, Any]) -> None:
    """One file as a parent would want to hear it."""
    account = facts["account"]
    click.echo(f"{facts['file']}: {_what_it_holds(facts)}")
    known = sum(account["known"].values())
    click.echo(
        f"  {account['lines']} lines = {account['lap_lines']} with laps + {known} known to be something else "
        f"+ {account['set_aside_lines']} set aside."
    )
    for note in facts["notes"]:
        click.echo(f"  {note}")
    waiting = [row for row in facts["set_aside"] if row["reason"].startswith(WAITS)]
    others = [row for row in facts["set_aside"] if not row["reason"].startswith(WAITS)]
    for row in others[:ROWS_SHOWN]:
        column = f", {row['column']}" if row["column"] else ""
        click.echo(f"  set aside, line {row['line']}{column}: {row['reason']} ({row['text']})")
    if len(others) > ROWS_SHOWN:
        click.echo(f"  ... and {len(others) - ROWS_SHOWN} more set aside; --json lists them all.")
    if waiting:
        click.echo(f"  {count(len(waiting), 'line')} set aside until the question is answered, for instance:")
        for row in waiting[:WAITING_SHOWN]:
            click.echo(f"    line {row['line']}: {row['text']}")
    for question in facts["questions"]:
        options = f" [{' | '.join(question['options'])}]" if question["options"] else ""
        click.echo(f"  question {question['key']}: {question['text']}{options}")


def _what_it_holds(facts: dict[str, Any]) -> str:
    laps = facts["account"]["laps"]
    if not laps:
        return "no laps so far; what stands in the way is below."
    where = f"in {count(len(facts['sessions']), 'session')} ({', '.join(facts['sessions'])})"
    return f"{count(laps, 'lap')} of {count(len(facts['karts']), 'kart')} {where}."


def _how_to_go_on(report: dict[str, Any], typed: tuple[str, ...]) -> list[str]:
    """What to type next: the same again with an answer, or one file after the other if days are asked for.

    ``typed``: the files as they were named in the call; all of them were read.
    """
    waiting = [facts for facts in report["read"] if facts["questions"]]
    named = [name for name, facts in zip(typed, report["read"], strict=True) if facts["questions"]]
    if len(report["read"]) == 1 or any(
        one["key"] != "event" for facts in waiting for one in facts["questions"]
    ):
        answer = _how_to_answer(waiting[0])
        return [f"Nothing was kept. Run the same command again with the answer, as: {answer}"]
    lines = [
        f"  lapdelta import {shlex.quote(name)} {_how_to_answer(facts)}"
        for name, facts in zip(named, waiting, strict=True)
    ]
    return ["Nothing was kept. Bring in first, each with its own day:", *lines, "and then the others."]


def _how_to_answer(facts: dict[str, Any]) -> str:
    """The options that answer the open questions of a file, as they would be typed."""
    return " ".join(_option(facts["file"], asked) for asked in facts["questions"])


def _option(file: str, asked: dict[str, Any]) -> str:
    if asked["key"] == "event":
        from lapdelta.reading.title_days import day_in_name

        day = day_in_name(file)  # a proposal, never taken by itself
        return f"--event {day}" if day else "--event 'club day in May'"
    value = asked["options"][0] if asked["options"] else "VALUE"
    return "--answer " + shlex.quote(f"{asked['key']}={value}")


def _kept_sentence(kept: dict[str, Any]) -> str:
    if kept["already"]:
        return (
            f"{kept['file']}: already in the archive, nothing added. To have it read in another way take it back "
            "first: lapdelta history lists it."
        )
    known = f", {kept['laps_known']} were there already" if kept["laps_known"] else ""
    return (
        f"{kept['file']}: kept {count(kept['laps_added'], 'lap')} in {', '.join(kept['events'])}{known} "
        f"(take back with: lapdelta undo {kept['entry']})."
    )


COMMANDS = {"import": import_timing}
