"""`finishmatch plan air`: dew point, the window of the data sheets, and the day's timetable."""

from __future__ import annotations

from typing import Any

import click

from finishmatch.cli.common import request_from
from finishmatch.cli.plan.options import FILE, plan_options, quantity, share_of, written
from finishmatch.cli.plan.shown import show_plan
from finishmatch.readings.quantities import TEMPERATURE, TIME
from finishmatch.steps.plan.air import AirRequest, minute_of_day, plan_air


@click.command(
    "air",
    short_help="Dew point, the sheet's window, the day's timetable.",
    epilog="""\b
Examples:
  finishmatch plan air --temperature 72F --humidity 60%
  finishmatch plan air swatches/plan/surfacer.toml swatches/plan/single-stage.toml --temperature 22C --humidity 55% \\
        --surface 20C --start 08:30

Exit status: 0 when the air will do, 1 when it won't.
""",
)
@click.argument("products", nargs=-1, type=FILE)
@click.option(
    "--temperature",
    "temperature_c",
    callback=quantity(TEMPERATURE),
    metavar="QUANTITY",
    required=True,
    help="Of the booth's air, as 22C or 72F.",
)
@click.option("--humidity", callback=share_of(), metavar="SHARE", help="Relative humidity, as 55% or 0.55.")
@click.option(
    "--dew-point",
    "dew_point_c",
    callback=quantity(TEMPERATURE),
    metavar="QUANTITY",
    help="The dew point, in place of --humidity.",
)
@click.option(
    "--surface",
    "surface_c",
    callback=quantity(TEMPERATURE),
    metavar="QUANTITY",
    help="Of the panel.  [default: as the air]",
)
@click.option("--coats", type=click.IntRange(1, 50), help="Coats of each product.  [default: the sheet's, or 1]")
@click.option(
    "--start",
    "start_minute",
    callback=written(minute_of_day),
    metavar="HH:MM",
    default="08:00",
    show_default=True,
    help="When the first coat goes on.",
)
@click.option(
    "--coat-time",
    "coat_minutes",
    callback=quantity(TIME, above=0),
    metavar="TIME",
    help="To spray one coat, as 10min.  [default: 10min]",
)
@plan_options
def air(units: str, job: str | None, as_json: bool, **options: Any) -> int:
    """See whether the booth's air will do, and when each coat goes on, for data sheets (PRODUCTS) in their order."""
    found = plan_air(request_from(AirRequest, options), units=units, job=job)
    return show_plan(found, units, job, as_json)
