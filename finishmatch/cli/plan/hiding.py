"""`finishmatch plan hiding`: the dry build and the coats that hide, and the ground that saves paint."""

from __future__ import annotations

from typing import Any

import click

from finishmatch.cli.common import request_from, stage
from finishmatch.cli.plan.options import FILE, plan_options, quantity, share_of
from finishmatch.cli.plan.shown import show_plan
from finishmatch.readings.quantities import BUILD
from finishmatch.steps.plan.hiding import HidingRequest, plan_hiding


@click.command(
    "hiding",
    short_help="The dry build, coats and ground that hide.",
    epilog="""\b
Examples:
  finishmatch plan hiding --bank swatches/bank --batch swatches/batch1.csv
  finishmatch plan hiding --contrast 0.93 --at 20um --colour swatches/target.csv
""",
)
@click.option("--bank", type=FILE, metavar="FOLDER", help="The bank the paint is mixed from.")
@click.option("--batch", type=FILE, metavar="FILE", help="What is in the tin, as tint,grams.")
@click.option(
    "--contrast",
    callback=share_of(whole=False),
    metavar="SHARE",
    help="In place of both: a contrast ratio over black and white, as 0.93.",
)
@click.option(
    "--at",
    "at_um",
    callback=quantity(BUILD, above=0),
    metavar="QUANTITY",
    help="The dry build it was read at, as 20um.",
)
@click.option(
    "--colour", metavar="COLOUR", help="The paint where it hides, as L,a,b, FILE or FILE@NAME; narrows the answer."
)
@click.option(
    "--coat",
    "coat_um",
    callback=quantity(BUILD, above=0),
    metavar="QUANTITY",
    help="Dry build of one coat.  [default: the sheet's, or 25um]",
)
@click.option("--product", type=FILE, metavar="FILE", help="The product's data sheet, for the build of a coat.")
@plan_options
def hiding(units: str, job: str | None, as_json: bool, **options: Any) -> int:
    """Find from which dry build a paint hides, in how many coats, and over which ground with the least.

    From the bank's optics (--bank, --batch), or from one reading of a drawdown (--contrast, --at).
    """
    found = plan_hiding(request_from(HidingRequest, options), units=units, job=job, progress=stage)
    return show_plan(found, units, job, as_json)
