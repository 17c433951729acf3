"""`finishmatch plan sheen`: how much flattening base a wanted gloss takes."""

from __future__ import annotations

from typing import Any

import click

from finishmatch.cli.common import request_from
from finishmatch.cli.plan.options import FILE, plan_options, quantity
from finishmatch.cli.plan.shown import show_plan
from finishmatch.cli.typed_numbers import NUMBER
from finishmatch.readings.quantities import WEIGHT
from finishmatch.steps.plan.sheen import SheenRequest, plan_sheen


@click.command(
    "sheen",
    short_help="The flattening base for a gloss.",
    epilog="""\b
Examples:
  finishmatch plan sheen swatches/plan/ladder.csv --gloss 35
  finishmatch plan sheen swatches/plan/ladder.csv --sheen eggshell --weight 500g
""",
)
@click.argument("ladder", type=FILE)
@click.option("--gloss", type=NUMBER, metavar="GU", help="The gloss wanted, gloss units at 60°.")
@click.option("--sheen", metavar="NAME", help="Its name: flat, eggshell, satin, semi-gloss, gloss.")
@click.option(
    "--weight",
    "grams",
    callback=quantity(WEIGHT, above=0),
    metavar="QUANTITY",
    help="Weight of the paint to be flattened, as 500g or 18oz.",
)
@plan_options
def sheen(units: str, job: str | None, as_json: bool, **options: Any) -> int:
    """Work out how much flattening base brings a paint to a gloss, from a LADDER of panels that were read."""
    found = plan_sheen(request_from(SheenRequest, options), units=units, job=job)
    return show_plan(found, units, job, as_json)
