"""What is typed to the verbs of `plan`: quantities with their unit, shares, ratios, times; and the options of all."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any, TypeVar

import click

from finishmatch.cli.common import json_option
from finishmatch.cli.in_use import job_in_use_option
from finishmatch.readings import quantities
from finishmatch.readings.quantities import Dimension, share

Command = TypeVar("Command", bound=Callable[..., Any])
Callback = Callable[[click.Context, click.Parameter, Any], Any]

FILE = click.Path(path_type=Path)  # whether it is there is seen when it is read


def written(read: Callable[[str, str], Any]) -> Callback:
    """Return the callback of an option whose text, or each of whose texts, a reader makes something of.

    Parameters
    ----------
    read : callable of (where, text)
        Names the option in what it raises.
    """

    def callback(_context: click.Context, param: click.Parameter, typed: str | tuple[str, ...] | None) -> Any:
        where = f"`{param.name}`"
        if isinstance(typed, tuple):
            return tuple(read(where, text) for text in typed)
        return None if typed is None else read(where, typed)

    return callback


def quantity(kind: Dimension, above: float = -math.inf, least: float = -math.inf) -> Callback:
    """Return the callback of an option that takes a quantity of a kind; the bounds are in the house unit."""
    return written(partial(quantities.quantity, kind=kind, above=above, least=least))


def share_of(*, whole: bool = True, none: bool = False) -> Callback:
    """Return the callback of an option that takes a share; `whole` and `none` say whether 1 and 0 may be typed."""
    return written(partial(share, whole=whole, none=none))


def plan_options(command: Command) -> Command:
    """Add --units, --job and --json to a verb."""
    command = json_option(job_in_use_option("Record it in this job.")(command))
    return click.option(
        "--units",
        type=click.Choice(["both", "metric", "us"]),
        default="both",
        show_default=True,
        help="Units the answer is shown in.",
    )(command)
