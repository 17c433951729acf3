"""Options that several commands of a defect share."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import click

from finishmatch.cli.defect.input import place_typed

Command = TypeVar("Command", bound=Callable[..., Any])


def place_options(command: Command) -> Command:
    """Add --at and --over to a command."""
    command = click.option(
        "--over",
        metavar="W/H",
        callback=place_typed,
        help="The width and height it is spread over, mm, as in 300/200; needs --at.",
    )(command)
    return click.option(
        "--at", metavar="X/Y", callback=place_typed, help="Where its middle is, mm across and down, as in 120/340."
    )(command)


def evidence_options(command: Command) -> Command:
    """Add --seen and --check to a command."""
    command = click.option(
        "--check",
        "checks_done",
        metavar="CHECK=OUTCOME",
        multiple=True,
        help='A check that was done, as in "water break=breaks" (defect checks lists them); repeat.',
    )(command)
    return click.option(
        "--seen",
        "signs",
        metavar="SIGN",
        multiple=True,
        help='A sign that was seen, or not, as in "bare centre" or "no rim" (defect checks lists them); repeat.',
    )(command)
