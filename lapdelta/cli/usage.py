"""What was wrong with a call, in plain words, and how to mend it."""

from collections.abc import Iterable
from difflib import get_close_matches
from typing import Final

import click

#: Command -> what to type where its argument is missing, or one too many.
_FOR_INSTANCE: Final = {
    "import": "lapdelta import saturday.csv",
    "compare": "lapdelta compare --before P1 P4 --after P2 P3",
    "share": "lapdelta share --before P1 P4 --after P2 P3 --out driver.html",
    "set-aside": "lapdelta set-aside --event 2026-05-16 --session P1 --lap 3",
    "put-back": "lapdelta put-back --event 2026-05-16 --session P1 --lap 3",
    "undo": "lapdelta undo last (lapdelta history lists what can be taken back)",
    "backup": "lapdelta backup season.zip",
    "restore": "lapdelta restore season.zip --archive NEW-FOLDER",
    "merge": "lapdelta merge FOLDER-OF-THE-OTHER-ARCHIVE",
    "export": "lapdelta export laps --to laps.csv",
    "add": "lapdelta parts add 'axle 82' --kind 'axle sprocket' --teeth 82 --pitch 7.774",
    "retire": "lapdelta parts retire 'axle 82'",
    "lap-length": "lapdelta parts lap-length 900 --track NAME",
    "setup": "lapdelta setup 2026-05-16 P1 engine=11 axle=82 front=0.62bar",
    "events": "lapdelta events 2026-05-16 --our-kart 07 --track NAME",
    "plan": "lapdelta plan --sessions-left 4 --event 2026-05-16",
    "chain": "lapdelta gearing chain --engine 11 --axle 82 --pitch 7.774 --links 110",
    "speed": "lapdelta gearing speed --engine 11 --axle 82 --circumference 860mm --rpm 14000",
    "pairs": "lapdelta gearing pairs --engine 10 11 --axle 79-84 --fitted 11 82",
    "pulled": "lapdelta gearing pulled --before P1 P4 --after P2 P3",
    "expect": "lapdelta gearing expect --engine 11 --axle 82 --axle-after 80",
}


def usage_facts(error: click.UsageError, commands: Iterable[str]) -> dict[str, str | None]:
    """What was wrong with the call, where, and how to see the right form.

    Args:
        error: as click raised it.
        commands: names of all commands, to find the one that was meant.
    """
    path = error.ctx.command_path if error.ctx else "lapdelta"
    mend = f"See '{path} --help'."
    if isinstance(error, click.exceptions.NoSuchCommand) and path == "lapdelta":
        near = get_close_matches(error.command_name, list(commands), n=1)
        mend = f"Nearest: lapdelta {near[0]}. All commands: lapdelta --help" if near else mend
    elif path.split()[-1] in _FOR_INSTANCE and not isinstance(error, click.NoSuchOption):
        mend = f"For instance: {_FOR_INSTANCE[path.split()[-1]]}"
    return {"what": _plainly(error), "where": path, "mend": mend}


def _plainly(error: click.UsageError) -> str:
    """The message without words of programmers."""
    kind = error.param.type if isinstance(error, click.BadParameter) and error.param else None
    if (
        isinstance(error, click.BadParameter)
        and not isinstance(error, click.MissingParameter)
        and isinstance(kind, click.types.IntParamType)
    ):
        limits = [getattr(kind, side, None) for side in ("min", "max")]
        between = f" from {limits[0]} to {limits[1]}" if None not in limits else ""
        said = error.message.split(" ", 1)[0]
        option = error.param.opts[0] if error.param else ""
        return f"{option} takes a whole number{between}, not {said}."
    return error.format_message()
