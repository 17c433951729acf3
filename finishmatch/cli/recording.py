"""What the commands share that record in the ledger."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import click

from finishmatch.cli.common import emit_json, say_warnings
from finishmatch.ledger import describe_entry, kind_word
from finishmatch.steps.record import Recorded

Command = TypeVar("Command", bound=Callable[..., Any])


def replace_options(command: Command) -> Command:
    """Add --replaces and --why to a command that records one entry."""
    command = click.option("--why", metavar="TEXT", default="", help="Why that entry is replaced.")(command)
    return click.option(
        "--replaces",
        "--supersedes",
        "supersedes",
        metavar="N",
        type=click.IntRange(min=1),
        help="The number of the entry this one replaces; the old one stays in the history.",
    )(command)


def show_recorded(recorded: Recorded) -> None:
    """Say what was recorded, under which number, and in whose place."""
    job = recorded.job
    instead = "" if recorded.replaced is None else f" in place of #{recorded.replaced}"
    for view in recorded.entries:
        click.echo(f"{job.ref} {job.title}: recorded {kind_word(view.kind)} #{view.number}{instead}")
        click.echo(f"  {describe_entry(view.entry)}")
    say_warnings(recorded.warnings)


def say_or_emit(recorded: Recorded, as_json: bool) -> None:
    """Say what was recorded, or print it as JSON."""
    if as_json:
        emit_json(recorded.as_dict())
    else:
        show_recorded(recorded)
