"""`finishmatch job coat`: a coat was sprayed on a panel, and what it met."""

from __future__ import annotations

from collections.abc import Sequence

import click

from finishmatch.cautions import SPRAYING
from finishmatch.cli.common import emit_json, json_option, say_cautions
from finishmatch.cli.in_use import InJob, needed_without
from finishmatch.cli.recording import replace_options, show_recorded
from finishmatch.steps.job import coat as step
from finishmatch.steps.record import InPlaceOf


@click.command(
    "coat",
    cls=InJob,
    epilog="""\b
Example:
  finishmatch job coat J1 --panel roof --layer colour --exposure "air line=2" --exposure "gun=HVLP 1"
  finishmatch job coat J1 --panel bonnet --panel boot --like last
""",
)
@click.argument("job", metavar="[JOB]")
@click.option("--panel", "panels", metavar="TEXT", multiple=True, help="The panel, for example roof; repeat.")
@click.option("--layer", metavar="TEXT", default="", help="The layer sprayed, for example colour.")
@click.option(
    "--exposure",
    "exposures",
    metavar="KIND=VALUE",
    multiple=True,
    help="What it met: air line, gun, cloth, wipe, polish in the room, booth, painter, …; repeat.",
)
@click.option(
    "--like",
    metavar="N",
    help="Layer and exposures are those of coat N (a number, or 'last' for the last one recorded), but what is given.",
)
@click.option("--sprayed-on", metavar="DATE", help="The day, YYYY-MM-DD [default: today].")
@replace_options
@json_option
def coat(
    job: str,
    panels: Sequence[str],
    layer: str,
    exposures: Sequence[str],
    like: str | None,
    sprayed_on: str | None,
    supersedes: int | None,
    why: str,
    as_json: bool,
) -> None:
    """Record in JOB that panels were sprayed, and what their coats met.

    Good coats as well as bad ones: a defect is traced by what the bad ones met more often than the good ones.
    """
    needed_without(supersedes, "panels")
    recorded = step.coat(
        job,
        panels,
        layer=layer,
        exposures=exposures,
        like=like,
        sprayed_on=sprayed_on,
        in_place_of=InPlaceOf(supersedes, why),
    )
    if as_json:
        emit_json(recorded.as_dict())
        return
    show_recorded(recorded)
    say_cautions(SPRAYING, job, [view.number for view in recorded.entries])
