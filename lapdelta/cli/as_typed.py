"""A command whose words are taken as people type them."""

import click

from lapdelta.cli.own_units import with_own_units
from lapdelta.cli.sessions_option import spelled_out


class AsTyped(click.Command):
    """Takes every word after an option whose value is shown as ``S..``, and bare amounts in the user's unit."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Spell the words out in the form click understands."""
        many = [
            option
            for param in self.params
            if isinstance(param, click.Option) and param.multiple and (param.metavar or "").endswith("..")
            for option in param.opts
        ]
        return super().parse_args(ctx, with_own_units(self, spelled_out(args, many, ctx)))
