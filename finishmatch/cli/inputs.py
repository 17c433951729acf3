"""Options that the commands about a colour share, and the target that was given by them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import click

from finishmatch.cli.common import gloss_options, json_option, light_options
from finishmatch.cli.in_use import job_in_use_option
from finishmatch.cli.typed_numbers import GRAMS, SHARE
from finishmatch.errors import InputError
from finishmatch.readings import Reading, resolve_reading, typed_lab
from finishmatch.steps.colour_inputs import LIGHTS, light_list

Command = TypeVar("Command", bound=Callable[..., Any])

scale_step_option = click.option(
    "--scale-step", type=GRAMS, default=0.1, show_default=True, metavar="G", help="Step of the scale, grams."
)


smallest_option = click.option(
    "--smallest", type=GRAMS, metavar="G", help="Smallest part worth weighing, grams.  [default: 3 scale steps]"
)


letdowns_option = click.option(
    "--letdowns/--no-letdowns",
    default=True,
    show_default=True,
    help="Drops of a strong tint by a letdown in the tin's own paint, where that pays.",
)
max_growth_option = click.option(
    "--max-growth",
    type=SHARE,
    default=0.2,
    show_default=True,
    help="Most that may be added beyond what is wanted, as a share of it.",
)
fill_to_option = click.option(
    "--fill-to",
    metavar="G",
    type=GRAMS,
    help="What is wanted in the tin in the end, where a part of the batch was poured: its rest is what is added.  "
    "[default: the recipe's weight, where mix told to pour a part of it first]",
)
anyway_option = click.option(
    "--anyway", is_flag=True, help="Take a card that can't be of its batch as it is; without it such a card is refused."
)


def target_options(command: Command) -> Command:
    """Add TARGET, --lab in its place, and the options of how it is matched, to a command."""
    for option in reversed(
        (
            click.argument("target", required=False),
            click.option("--lab", metavar="L,a,b", help="A typed target in place of TARGET (under the first --light)."),
        )
    ):
        command = option(command)
    return command


def match_options(command: Command) -> Command:
    """Add to a command how a colour is matched, with which scale and tins, and where that is recorded."""
    fresh_tins = click.option(
        "--fresh-tins", is_flag=True, help="New tins were opened: leave out what earlier spray-outs showed."
    )
    for option in reversed(
        (
            gloss_options(with_index=False),
            scale_step_option,
            smallest_option,
            light_options(LIGHTS),
            job_in_use_option("Record in this job, and take from it what isn't given."),
            fresh_tins,
            json_option,
        )
    ):
        command = option(command)
    return command


def target_of(command: str, options: dict[str, Any], job: str | None = None) -> Reading | None:
    """Return the one target that was given: as an argument, or typed with --lab; None is that of the job."""
    target, lab = options["target"], options["lab"]
    light, observer = light_list(options["lights"])[0], options["observer"]
    if target is not None and lab is None:
        return resolve_reading(target, light, observer)
    if lab is not None and target is None:
        return typed_lab(lab, light, observer)
    if target is None and job is not None:
        return None
    raise InputError(command, "one target is needed", "give TARGET or --lab L,a,b")
