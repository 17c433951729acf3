"""`finishmatch defect log`: a defect is recorded in a job."""

from __future__ import annotations

from typing import Any

import click

from finishmatch.cautions import REWORK
from finishmatch.cli.common import emit_json, json_option, request_from, say_cautions
from finishmatch.cli.defect.input import in_unit
from finishmatch.cli.defect.options import evidence_options, place_options
from finishmatch.cli.in_use import job_in_use_option, needed_without
from finishmatch.cli.recording import replace_options, show_recorded
from finishmatch.steps.defect import log as step
from finishmatch.steps.record import InPlaceOf


@click.command(
    "log",
    epilog="""\b
Example:
  finishmatch job new "Tarnbeck Six, Saltmarsh Blue"
  finishmatch defect log --job J1 crater --panel roof --count 12 --size-mm 1.5 --reached primer --exposure "air line=2"
""",
)
@click.argument("kind", required=False)
@job_in_use_option("The job it is recorded in.")
@click.option("--panel", metavar="TEXT", help="The panel, for example roof.")
@click.option("--place", metavar="TEXT", default="", help="Where on the panel.")
@click.option("--count", metavar="N", type=int, help="How many there are.")
@click.option("--size-mm", metavar="MM", callback=in_unit("mm"), help="How wide one is, mm.")
@click.option(
    "--depth-um", metavar="UM", callback=in_unit("µm"), help="How deep it goes below the surface beside it, µm."
)
@click.option("--reached", metavar="LAYER", help="The layer that lies bare at its bottom (or metal), if not the depth.")
@click.option(
    "--exposure",
    "exposures",
    metavar="KIND=VALUE",
    multiple=True,
    help="What the panel met: air line, gun, cloth, polish in the room, …; with its day: air line=2@DATE; repeat.",
)
@place_options
@evidence_options
@click.option("--rating", metavar="N(SN)", help="Its rating by ISO 4628-1, 0 to 5: quantity and size, or intensity.")
@click.option("--seen-on", metavar="DATE", help="The day it was seen, YYYY-MM-DD [default: today].")
@replace_options
@json_option
def log(**options: Any) -> None:
    """Record a defect in a job of the ledger; KIND is its trade name or what the shop calls it (defect kinds)."""
    needed_without(options["supersedes"], "kind")
    in_place_of = InPlaceOf(options["supersedes"], options["why"])
    logged = step.log(request_from(step.LogRequest, options), job=options["job"], in_place_of=in_place_of)
    if options["as_json"]:
        emit_json(logged.as_dict())
        return
    show_recorded(logged)
    click.echo(f"  next: finishmatch defect advise --job {logged.job.ref}")
    say_cautions(REWORK, logged.job.ref, [view.number for view in logged.entries])
