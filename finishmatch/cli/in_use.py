"""The job in use, where a command line names none: as the default of `--job`, and of the argument JOB."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from finishmatch.cli.common import wrapped
from finishmatch.cli.option_names import with_options
from finishmatch.cli.terminal import columns
from finishmatch.steps.from_job import FromJob
from finishmatch.steps.job.current_job import job_meant, names_a_job, needed_job

_TABLES = (".csv", ".tsv", ".txt", ".xlsx")
Command = TypeVar("Command", bound=Callable[..., Any])


def _meant(context: click.Context, _param: click.Parameter, job: str | None) -> str | None:
    return job if context.resilient_parsing else job_meant(job)


def job_in_use_option(what: str) -> Callable[[Command], Command]:
    """Add --job to a command, which is the job in use when it is left out; `what` says what the job is for."""
    return click.option(
        "--job", metavar="JOB", callback=_meant, help=f"{what}  [default: the job in use; 'none' is none]"
    )


def needed_without(known: object, *names: str) -> None:
    """Raise click's error for the first of some parameters that is missing, where nothing is known to take it from."""
    context = click.get_current_context()
    params = [param for param in context.command.params if param.name in names]
    missing = [param for param in params if context.params[str(param.name)] in (None, ())]
    if known is None and missing:
        hint = f"'{with_options(f'`{missing[0].name}`')}'"  # an argument that may be left out has no brackets here
        raise click.MissingParameter(ctx=context, param=missing[0], param_hint=hint)


def say_taken(taken: FromJob | None) -> None:
    """Say in one line what was taken from the job; nothing where nothing was."""
    if taken is not None:
        said = f"from {taken.job.ref} {taken.job.title}: {', '.join(taken.words)}"
        click.echo(wrapped(said, "  ", columns()))


class InJob(click.Command):
    """A command whose first argument is JOB, which may be left out while a job is in use."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Put the job in use in front where no job was named."""
        given, _, _ = self.make_parser(ctx).parse_args(args=list(args))
        helping = self.get_help_option(ctx)
        asked = helping is not None and given.get(str(helping.name)) is True
        if not ctx.resilient_parsing and not asked and self._lacks_job(ctx, given):
            args = [needed_job(None), *args]
        return super().parse_args(ctx, args)

    def _lacks_job(self, ctx: click.Context, given: dict[str, Any]) -> bool:
        """Return whether fewer words were given than arguments are needed, or the first can be no job."""
        arguments = [param for param in self.get_params(ctx) if isinstance(param, click.Argument)]
        first, last = given.get(str(arguments[0].name)), given.get(str(arguments[-1].name))
        if not isinstance(first, str):
            return True
        if arguments[-1].nargs == 1:
            return not isinstance(last, str) and not names_a_job(first)
        file = Path(first).exists() or Path(first).suffix.casefold() in _TABLES  # a name mistyped is no job's either
        return ("=" in first or file) and not names_a_job(first)
