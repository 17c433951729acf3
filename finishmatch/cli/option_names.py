"""Parameters as the person who typed the command knows them.

The rooms below name a parameter in backticks, as in "`max_tints`"; where the running command has such a parameter, its
option ("--max-tints"), or the name of its argument ("TARGET"), is shown in its place. Advice to leave a patch of the
chart out is dropped where the command can't.
"""

from __future__ import annotations

import re

import click

from finishmatch.errors import InputError

_NAMED = re.compile(r"`([a-z_][a-z0-9_]*)`")
# advice that some of the commands which show it have no option for: "clean it, or leave it out with `skip_patch` 7"
_LEAVE_OUT = re.compile(r", or leave it out with `(skip_patch)` \d+")


def with_options(text: str, command: click.Command | None = None) -> str:
    """Return a text in which every parameter of a command is named by its option.

    Parameters
    ----------
    text : str
        Names parameters in backticks.
    command : click.Command or None
        The command that is running, where none is given.
    """
    if "`" not in text:
        return text
    if command is None:
        context = click.get_current_context(silent=True)
        if context is None:
            return text
        command = context.command
    shown = {str(param.name): _as_typed(param) for param in command.params}
    text = _LEAVE_OUT.sub(lambda advice: advice[0] if advice[1] in shown else "", text)
    return _NAMED.sub(lambda named: shown.get(named[1], named[0]), text)


def error_with_options(error: InputError, command: click.Command) -> InputError:
    """Return an error that names the options of a command in place of its parameters."""
    where, what, mend = (with_options(part, command) for part in (error.where, error.what, error.mend))
    return InputError(where, what, mend)


def _as_typed(param: click.Parameter) -> str:
    """Return how a parameter is typed: its first long option, or the name of an argument."""
    if isinstance(param, click.Argument):
        return param.make_metavar(click.Context(click.Command(None))).strip("[].")
    return next((name for name in param.opts if name.startswith("--")), param.opts[0])
