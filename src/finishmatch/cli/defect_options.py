"""Options that several commands of a defect share."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import click

Command = TypeVar("Command", bound=Callable[..., Any])


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
