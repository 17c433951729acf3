"""`finishmatch job film`: build readings of one layer of a panel are recorded."""

from __future__ import annotations

from collections.abc import Sequence

import click

from finishmatch.cli.common import json_option
from finishmatch.cli.in_use import InJob, needed_without
from finishmatch.cli.recording import replace_options, say_or_emit
from finishmatch.steps.job import film as step
from finishmatch.steps.job.film import builds_typed
from finishmatch.steps.record import InPlaceOf


@click.command(
    "film",
    cls=InJob,
    epilog="""\b
Example:
  finishmatch job film J1 --panel roof --layer primer --position 1 --build 62 --build 58,60
  finishmatch job film J1 --panel roof --layer "colour coat" --build 41,44,39
""",
)
@click.argument("job", metavar="[JOB]")
@click.option("--panel", metavar="TEXT", help="The panel, for example roof.")
@click.option("--layer", metavar="TEXT", help="The layer, for example primer.")
@click.option(
    "--build",
    "builds",
    metavar="UM",
    multiple=True,
    help="Build of this layer alone, µm; repeat, or separate them by commas, semicolons or blanks.",
)
@click.option(
    "--place",
    "places",
    metavar="TEXT",
    multiple=True,
    help="Where on the panel, in words or as X/Y in mm (120/340); once for each --build reading, in order.",
)
@click.option(
    "--position",
    metavar="N",
    type=click.IntRange(min=1, max=99),
    help="Counted from the metal up, 1 lies on it [default: on top of the panel's layers, or the layer's own].",
)
@replace_options
@json_option
def film(
    job: str,
    panel: str | None,
    layer: str | None,
    builds: Sequence[str],
    places: Sequence[str],
    position: int | None,
    supersedes: int | None,
    why: str,
    as_json: bool,
) -> None:
    """Record in JOB the build readings of one layer of a panel, in µm.

    What isn't given of an entry that is replaced is kept of it.
    """
    needed_without(supersedes, "panel", "layer", "builds")
    numbers = [number for text in builds for number in builds_typed(f"--build '{text[:40]}'", text)]
    in_place_of = InPlaceOf(supersedes, why)
    recorded = step.film(job, panel, layer, numbers, places=places, position=position, in_place_of=in_place_of)
    say_or_emit(recorded, as_json)
