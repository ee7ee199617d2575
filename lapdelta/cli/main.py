"""Entry point: finds the command, runs it, and turns every outcome into text or one JSON object."""

import os
import sys
from collections.abc import Sequence
from functools import partial
from importlib import import_module
from types import TracebackType

import click

from lapdelta.cli.outcome import STATUS_ERROR, STATUS_USAGE, language_asked, print_error, wants_json
from lapdelta.cli.sign_of_life import sign_of_life
from lapdelta.cli.usage import usage_facts
from lapdelta.errors import LapdeltaError

#: command -> (module under lapdelta.cli, one line for --help). The module is imported only when the command
#: runs, so that ``lapdelta --help`` does not pay for polars and friends.
COMMANDS = {
    "import": ("import_timing", "Read timing files and keep their laps in the archive."),
    "events": ("events", "List the events, or write down what is known of one."),
    "sessions": ("sessions", "List the sessions that the archive holds."),
    "setup": ("setup", "Write down or show what was on the kart, session by session."),
    "set-aside": ("laps_by_hand", "Set laps aside by hand; they are kept but not used."),
    "put-back": ("laps_by_hand", "Put back laps that were set aside by hand."),
    "question": ("question", "Write a question down before the session, and the driver's words after it."),
    "compare": ("compare", "Ask whether a change shifted lap times, sectors, speed or rpm."),
    "plan": ("plan", "Plan the next test: which order of sessions, how many laps, what it can see."),
    "gearing": ("gearing", "Ratios, speeds, chain reach, and whether the engine pulled the gear."),
    "parts": ("parts", "The sprocket box: what you own, how far it has run, what that cost."),
    "season": ("season", "What a gearing change was worth, all days together."),
    "sweep": ("sweep", "Answer every setup change of every kart of every event."),
    "share": ("share", "Write the driver's page of one answer as HTML, PNG or PDF."),
    "history": ("history", "List every change made to the archive."),
    "undo": ("history", "Take back one change made to the archive; can itself be undone."),
    "units": ("units", "Choose bar or psi, C or F, km/h or mph, mm or inch, kg or lb."),
    "check": ("check", "Verify the archive: files, hashes, columns, accounts."),
    "backup": ("copies", "Write the whole archive into one file."),
    "restore": ("copies", "Make a new archive from a backup."),
    "merge": ("copies", "Bring over what another archive has and this one has not."),
    "export": ("export", "Write any table to a Parquet or CSV file."),
    "dashboard": ("dashboard", "Open the pages in the browser; everything stays on this machine."),
    "demo": ("demo", "Walk through a made-up practice season, file to answer."),
}


class LazyGroup(click.Group):
    """A group that imports a command's module when the command is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Commands in the order of a day's work, not of the alphabet."""
        del ctx
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of that name, or None where there is none."""
        del ctx
        if cmd_name not in COMMANDS:
            return None
        module, _ = COMMANDS[cmd_name]
        commands: dict[str, click.Command] = import_module(f"lapdelta.cli.{module}").COMMANDS
        return commands[cmd_name]

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The list of commands from the table above, without importing any of them."""
        del ctx
        with formatter.section("Commands"):
            formatter.write_dl([(name, text) for name, (_, text) in COMMANDS.items()])


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="lapdelta", message="%(version)s")
def group() -> None:
    """Did that one change make the kart quicker? An honest answer from timing files.

    The usual way: import timing files, write down the setup, then compare.
    Every command takes --json and --archive FOLDER.
    """


def main(arguments: Sequence[str] | None = None) -> None:
    """Run one command and leave with its exit status."""
    words = list(sys.argv[1:] if arguments is None else arguments)
    sys.excepthook = partial(_report_defect, as_json=wants_json(words))
    sys.exit(run(words))


def _report_defect(
    kind: type[BaseException], error: BaseException, trace: TracebackType | None, *, as_json: bool
) -> None:
    """What nobody foresaw: say so plainly and keep the details in a file. The exit status is 1."""
    if issubclass(kind, KeyboardInterrupt):
        print_error({"what": "Stopped.", "where": None, "mend": "Nothing more was written."}, as_json)
        return
    import tempfile  # here: only a defect needs them
    import traceback

    with tempfile.NamedTemporaryFile("w", prefix="lapdelta-defect-", suffix=".txt", delete=False) as report:
        report.writelines(traceback.format_exception(kind, error, trace))
    what = "Something went wrong that is our mistake, not yours. Nothing that was kept before is lost."
    print_error({"what": what, "where": None, "mend": f"Please send us {report.name}."}, as_json)


def run(words: list[str]) -> int:
    """Run one command; return its exit status instead of leaving.

    Args:
        words: the words after the program's name.

    Returns:
        0 answered, 1 unreadable, missing or wrong data, 2 usage; ``import`` adds 3 and 4.
    """
    as_json = wants_json(words)
    try:
        with sign_of_life():
            status = group.main(words, prog_name="lapdelta", standalone_mode=False)
    except LapdeltaError as error:
        print_error(error.to_dict() if as_json else _in_language(error, language_asked(words)), as_json)
        return STATUS_ERROR
    except click.exceptions.NoArgsIsHelpError as error:
        click.echo(error.message)  # a group named alone: its help is the answer
        return STATUS_USAGE
    except click.UsageError as error:
        print_error(usage_facts(error, COMMANDS), as_json)
        return STATUS_USAGE
    except click.Abort:
        print_error({"what": "Stopped.", "where": None, "mend": "Nothing more was written."}, as_json)
        return STATUS_ERROR
    except BrokenPipeError:
        # The reader of our output went away (``| head``): nothing to tell anybody.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return STATUS_ERROR
    except OSError as error:
        print_error(_file_facts(error), as_json)
        return STATUS_ERROR
    return status if isinstance(status, int) else 0


def _in_language(error: LapdeltaError, language: str) -> dict[str, str | None]:
    """The error's facts for reading; what and how to mend it are sentences of the library."""
    facts = error.to_dict()
    if language == "en":
        return facts
    from lapdelta.words import in_language

    return {
        name: in_language(text, language) if text and name != "where" else text
        for name, text in facts.items()
    }


def _file_facts(error: OSError) -> dict[str, str | None]:
    """What the system would not do with a file of the user's, and what to look at."""
    name = str(error.filename) if error.filename else None
    if isinstance(error, FileNotFoundError):
        mend = "Check the name, and that the folder is there."
    elif isinstance(error, PermissionError):
        mend = "Name a place that is yours to read and write."
    else:
        mend = "Check the name and the folder, and that the disk has room."
    return {"what": f"The file cannot be used: {error.strerror or error}.", "where": name, "mend": mend}
