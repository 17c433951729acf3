"""Groups of commands whose modules are imported only when the command is run."""

from __future__ import annotations

import importlib
from collections.abc import Mapping
from typing import Any

import click

from finishmatch.cli.option_names import error_with_options, with_options
from finishmatch.errors import InputError
from finishmatch.understood import what_was_understood

Commands = Mapping[str, tuple[str, str]]
"""Of each command where it is, "module:name" below `finishmatch.cli`, and one line for the list of commands."""


class LazyGroup(click.Group):
    """A group that imports a command's module only when that command is run, and whose errors name its options.

    Parameters
    ----------
    table : Commands
        In the order they are listed.
    """

    def __init__(self, *args: Any, table: Commands, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.table = table

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names of the commands, in the order of the table."""
        return list(self.table)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return a command, for which its module is imported."""
        if cmd_name not in self.table:
            return None
        module, _, name = self.table[cmd_name][0].partition(":")
        command: click.Command = getattr(importlib.import_module(f"finishmatch.cli.{module}"), name)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list of commands without importing any."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, line) for name, (_, line) in self.table.items()])

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command, and say on standard error how its input was understood; what is wrong names its options."""
        try:
            status = super().invoke(ctx)
        except InputError as error:
            command = self.get_command(ctx, ctx.invoked_subcommand or "")
            if command is None:
                raise
            raise error_with_options(error, command) from error
        ran = self.get_command(ctx, ctx.invoked_subcommand or "")
        for line in what_was_understood():
            click.echo(f"  understood: {with_options(line, ran)}", err=True)
        return status
