"""``lapdelta gearing``: ratios and speeds, chain reach, the pairs of the box, and whether the engine pulled it."""

from importlib import import_module

import click

#: subcommand -> (module under lapdelta.cli, one line for --help)
_PARTS = {
    "chain": ("gearing_chain", "Where the engine stands with a chain, and whether it reaches."),
    "speed": ("gearing_speed", "Road speed at an engine speed, or the reverse; what one tooth does."),
    "pairs": ("gearing_pairs", "All pairs of your sprockets by ratio, and the one nearest to a wish."),
    "pulled": ("gearing_pulled", "Did the engine pull the changed gear?"),
    "expect": ("gearing_speed", "What physics allows a change of gear to do, as an order of magnitude."),
    "cautions": ("gearing_speed", "The whole check list for work on sprockets and chain."),
}


class _Parts(click.Group):
    """Imports the module of a subcommand when it is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """In the order of the work."""
        del ctx
        return list(_PARTS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The subcommand of that name, or None."""
        del ctx
        if cmd_name not in _PARTS:
            return None
        commands: dict[str, click.Command] = import_module(f"lapdelta.cli.{_PARTS[cmd_name][0]}").GEARING
        return commands[cmd_name]

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The list from the table above, without importing any of them."""
        del ctx
        with formatter.section("Commands"):
            formatter.write_dl([(name, text) for name, (_, text) in _PARTS.items()])


@click.group("gearing", cls=_Parts)
def gearing() -> None:
    """Ratios, speeds, chain reach, and whether the engine pulled the gear.

    Each takes --json and --archive FOLDER. Lengths may carry a unit (mm, in), speeds too (km/h, mph).
    The makers' manuals and the class rules come first.
    """


COMMANDS = {"gearing": gearing}
