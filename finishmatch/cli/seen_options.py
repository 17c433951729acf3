"""Options of a card that is seen beside its standard, in place of its reading."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import click

from finishmatch.cli.typed_numbers import NUMBER
from finishmatch.errors import InputError
from finishmatch.steps.seen import SeenCard, told_difference

Command = TypeVar("Command", bound=Callable[..., Any])


def seen_options(command: Command) -> Command:
    """Add to a command how a card was seen beside its standard."""
    for option in reversed(
        (
            click.option(
                "--difference",
                metavar="dL,da,db",
                help="How the spray-out differs from its standard beside it, trial minus standard, in place of its "
                "reading.",
            ),
            click.option(
                "--u95",
                type=NUMBER,
                help="ΔE00 within which that difference is known 95 times in 100.  [default: 0.5, as one photograph "
                "tells it]",
            ),
        )
    ):
        command = option(command)
    return command


def seen_card(options: dict[str, Any], read: str | None) -> SeenCard | None:
    """Return how a card was seen, by the options of `seen_options`; None where it wasn't.

    Parameters
    ----------
    options : dict
        Of the command; what is of `seen_options` is taken out.
    read : str or None
        The card's own reading, which can't stand beside it.
    """
    difference, u95 = options.pop("difference"), options.pop("u95")
    if difference is None:
        if u95 is not None:
            raise InputError("`u95`", "says how well a difference is known, and none is given", "give `difference` too")
        return None
    if read is not None:
        raise InputError("`difference`", "is given beside a reading of the card", "give one of the two")
    return told_difference(difference, u95)
