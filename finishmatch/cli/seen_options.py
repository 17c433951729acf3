"""Options of a card that is seen beside its standard, in place of its reading."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from finishmatch.cli.common import chart_option, keep_place_option, stage
from finishmatch.cli.typed_numbers import NUMBER
from finishmatch.errors import InputError
from finishmatch.photo.raw_suffixes import RAW_SUFFIXES
from finishmatch.steps import photo
from finishmatch.steps.colour_inputs import light_list
from finishmatch.steps.progress import quiet
from finishmatch.steps.seen import SeenCard, told_difference

Command = TypeVar("Command", bound=Callable[..., Any])


PICTURES = {".jpg", ".jpeg", ".png", ".tif", ".tiff", ".heic", ".heif", ".dng"}
_NOT_READ = {".webp", ".avif", ".gif", ".bmp"}  # pictures too, and refused as such


_LAMPS = click.option(
    "--seen-under",
    multiple=True,
    metavar="LIGHT=PHOTO",
    help="One taken under another lamp, by the CIE light it is nearest to; repeat it.",
)


def seen_options(command: Command) -> Command:
    """Add to a command how a card was seen beside its standard."""
    return _added(command, _LAMPS)


def seen_in_daylight_options(command: Command) -> Command:
    """Add to a command how a card was seen beside its standard in daylight, and under no lamp."""
    return _added(command)


def _added(command: Command, *lamps: Callable[[Any], Any]) -> Command:
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
            click.option(
                "--seen",
                multiple=True,
                metavar="PHOTO",
                help="A photograph that shows the spray-out beside its standard, in place of its reading; repeat it.",
            ),
            *lamps,
            click.option(
                "--region",
                multiple=True,
                metavar="[PHOTO:]NAME=x,y,w,h",
                help="Where 'standard' and 'spray-out' lie in the photographs, or in one, in pixels; repeat it.  "
                "[default: the windows of the shop's card]",
            ),
            chart_option,
            keep_place_option,
        )
    ):
        command = option(command)
    return command


def is_picture(read: str | None) -> bool:
    """Return whether what stands for a card's reading is a photograph."""
    return read is not None and Path(read).suffix.lower() in PICTURES | RAW_SUFFIXES | _NOT_READ


def seen_card(options: dict[str, Any], read: str | None) -> SeenCard | None:
    """Return how a card was seen, by the options of `seen_options`; None where it wasn't.

    Parameters
    ----------
    options : dict
        Of the command.
    read : str or None
        The card's own reading, which can't stand beside it.
    """
    difference, u95 = options["difference"], options["u95"]
    under = options.get("seen_under", ())
    photographs = [*options["seen"], *under]
    if difference is None and u95 is not None:
        raise InputError("`u95`", "says how well a difference is known, and none is given", "give `difference` too")
    if not photographs and (options["region"] or options["chart"]):
        raise InputError("`region`" if options["region"] else "`chart`", "is of a photograph", "give `seen` too")
    ways = (("`difference`", difference), ("`seen`", photographs or None))
    given = [name for name, value in ways if value is not None]
    if not given:
        return None
    if read is not None or len(given) > 1:
        other = "a reading of the card" if read is not None else given[1]
        raise InputError(given[0], f"is given beside {other}", "give one of the two")
    light, observer = light_list(options.get("lights", "D65"))[0], options.get("observer", 10)
    if difference is not None:
        return told_difference(difference, u95)
    request = photo.SeenRequest(options["seen"], under, options["region"], options["chart"], light, observer)
    return photo.read_seen(request, progress=quiet if options.get("as_json") else stage)
