"""What every command shares: the options, the exit status, and printing an answer or an error."""

import json
import os
import sys
from collections.abc import Callable, Iterable, Sequence
from contextlib import AbstractContextManager, nullcontext
from datetime import date, time
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from lapdelta.cli.sign_of_life import be_quiet

if TYPE_CHECKING:
    from lapdelta.archive import Archive
    from lapdelta.units import Units

STATUS_ANSWERED = 0
STATUS_ERROR = 1
STATUS_USAGE = 2
STATUS_SET_ASIDE = 3
STATUS_QUESTION = 4

#: As in lapdelta.words, which takes too long to load for a line of help (a test compares).
LANGUAGE_CODES = ("en", "de")
#: The language where no ``--language`` is given.
LANGUAGE_VARIABLE = "LAPDELTA_LANGUAGE"

#: What ``--measure`` may be, for --help.
MEASURES = "lap_time, early_laps, late_laps, sector_1 (and so on), top_speed or peak_rpm."

Item = TypeVar("Item")
Command = TypeVar("Command", bound=Callable[..., Any])


def with_options(command: Command, options: Sequence[Callable[[Command], Command]]) -> Command:
    """The command with these options, listed in this order by --help."""
    for option in reversed(options):
        command = option(command)
    return command


def shared_options(command: Command) -> Command:
    """``--archive FOLDER`` and ``--json``, the same on every command."""
    command = click.option(
        "--json", "as_json", is_flag=True, help="Print one JSON object, for other programs."
    )(command)
    return click.option(
        "--archive",
        "folder",
        type=click.Path(path_type=Path, file_okay=False),
        envvar="LAPDELTA_ARCHIVE",
        metavar="FOLDER",
        help="Folder of the archive, or s3://BUCKET/FOLDER. Default: LAPDELTA_ARCHIVE, else a folder of yours on "
        "this machine.",
    )(command)


def measure_option(command: Command) -> Command:
    """``--measure``, the same on every command that asks one."""
    return click.option("--measure", default="lap_time", show_default=True, metavar="MEASURE", help=MEASURES)(
        command
    )


def new_option(command: Command) -> Command:
    """``--new``, the same on every command that may make an archive in an object store."""
    return click.option("--new", is_flag=True, help="Make the archive if there is none at that address.")(
        command
    )


def language_option(command: Command) -> Command:
    """``--language``, the same on every command that answers in sentences."""
    return click.option(
        "--language",
        type=click.Choice(LANGUAGE_CODES),
        default=LANGUAGE_CODES[0],
        envvar=LANGUAGE_VARIABLE,
        help=f"Language of the answer. Default: {LANGUAGE_VARIABLE}, else {LANGUAGE_CODES[0]}.",
    )(command)


def language_asked(words: list[str]) -> str:
    """The language of a call, known even when the call itself is wrong."""
    named = os.environ.get(LANGUAGE_VARIABLE, "")
    for word, following in zip(words, [*words[1:], ""], strict=True):
        if word == "--language":
            named = following
        elif word.startswith("--language="):
            named = word.removeprefix("--language=")
    return named if named in LANGUAGE_CODES else LANGUAGE_CODES[0]


def tell(sentences: Iterable[str], language: str, units: "Units | None" = None) -> None:
    """Sentences of the library on lines of their own, in the language and the user's units."""
    from lapdelta.words import in_language

    for sentence in sentences:
        said = in_language(sentence, language)
        click.echo(units.said(said) if units else said)


def open_archive(folder: Path | None, *, new: bool = False) -> "Archive":
    """The archive in that folder or at that address, or in the default place."""
    from lapdelta.archive import Archive, default_folder

    return Archive(folder or default_folder(), new=new)


def wants_json(words: list[str]) -> bool:
    """Whether the call asked for JSON, known even when the call itself is wrong."""
    return "--json" in words


def print_json(value: Any) -> None:
    """One JSON object on stdout, numbers unrounded, no NaN."""
    click.echo(json.dumps(value, ensure_ascii=False, allow_nan=False, default=_as_text))


def _as_text(value: Any) -> Any:
    """Dates, times and paths as text."""
    if isinstance(value, Path):
        return str(value)
    if isinstance(value, (date, time)):
        return value.isoformat()
    raise TypeError(f"{type(value).__name__} has no place in JSON output")


def print_error(facts: dict[str, str | None], as_json: bool) -> None:
    """The error as one JSON object on stdout, or as plain sentences on stderr."""
    if as_json:
        print_json({"error": facts})
        return
    place = f"{facts['where']}: " if facts["where"] else ""
    click.echo(f"{place}{facts['what']}\n{facts['mend']}", err=True)


def count(number: int, thing: str) -> str:
    """``1 lap``, ``2 laps``."""
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"


def progress(items: Sequence[Item], label: str) -> AbstractContextManager[Iterable[Item]]:
    """A bar on the terminal while going through several items; nothing where nobody looks."""
    if len(items) < 2 or not sys.stderr.isatty():
        return nullcontext(items)
    be_quiet()
    return click.progressbar(items, label=label, file=sys.stderr)


def print_table(header: list[str], rows: list[list[str]]) -> None:
    """Left-aligned columns of text, wide enough for their longest cell."""
    widths = [max(len(cell) for cell in column) for column in zip(header, *rows, strict=True)]
    for row in [header, *rows]:
        click.echo("  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip())
