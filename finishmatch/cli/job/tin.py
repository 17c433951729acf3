"""`finishmatch job tin`: a newly opened tin is tried by a letdown."""

from __future__ import annotations

from typing import Any

import click

from finishmatch.cli.batch_typed import batch_of
from finishmatch.cli.common import emit_json, gloss_options, json_option, request_from, say_cautions, stage
from finishmatch.cli.in_use import InJob
from finishmatch.cli.inputs import scale_step_option
from finishmatch.cli.recording import show_recorded
from finishmatch.cli.seen_options import seen_card, seen_in_daylight_options
from finishmatch.errors import InputError
from finishmatch.steps.hazards import cautions_by, hazard_line
from finishmatch.steps.job.tin import TinRequest, try_tin
from finishmatch.steps.tins_to_try import or_weaker


@click.command(
    "tin",
    cls=InJob,
    epilog="""\b
Example:
  finishmatch job tin J1 "blue 20/80" --difference 1.9,-1.5,0.2 --bank swatches/bank

In photographs the panel lies where the standard does, the letdown where the spray-out does.
""",
)
@click.argument("job", metavar="[JOB]")
@click.argument("panel", metavar="PANEL", required=False)
@click.option("--read", "reading", metavar="READING", help="The letdown as it was read: FILE, FILE@NAME or L,a,b.")
@seen_in_daylight_options
@click.option(
    "--weighed",
    multiple=True,
    metavar="TINT=GRAMS",
    help="What was weighed into the letdown; repeat it.  [default: as in the panel]",
)
@click.option("--bank", metavar="FOLDER", help="The bank of the panel.  [default: the one the job was mixed from]")
@scale_step_option
@gloss_options(with_index=False)
@click.option(
    "--anyway",
    is_flag=True,
    help="Take a letdown that can't be of these tins as it is; without it such a one is refused.",
)
@json_option
def tin(job: str, panel: str | None, reading: str | None, as_json: bool, **options: Any) -> None:
    """Try a newly opened tin: draw a letdown of it as PANEL of the bank was drawn, and record in JOB how it differs.

    A tin of the same tint may be 20 % stronger or weaker than the one the panels were drawn from. A few grams of it
    tell that before any of it is in a batch; mix then takes the tin for as strong as it is. Read the letdown, or
    photograph it beside the panel. Give the tin a lot of its own in tints.csv, and every job knows it.
    """
    if panel is None:
        raise InputError("PANEL", "is missing", "name the panel of the bank that the letdown was drawn as")
    with or_weaker(job, panel, options["bank"]):
        seen = seen_card(options, reading)
    if seen is None and reading is None:
        raise InputError("the letdown", "is neither read nor seen", "give --read, --seen or --difference")
    weighed = batch_of(options.pop("weighed"))
    request = request_from(TinRequest, {**options, "weighed": weighed or None})
    tried = try_tin(job, panel, seen or reading or "", request, progress=stage)
    if as_json:
        emit_json(tried.as_dict())
        return
    show_recorded(tried.recorded)
    for line in tried.words:
        click.echo(f"  {line}")
    for tint in tried.harmful:
        click.echo(f"  ! {hazard_line(tint)}")
    numbers = [view.number for view in tried.recorded.entries]
    say_cautions(tried.cautions, job, numbers, cautions_by(tried.tints))
