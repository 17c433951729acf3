"""`finishmatch plan quantity`: litres ready to spray and grams of each component."""

from __future__ import annotations

from typing import Any

import click

from finishmatch.cli.common import request_from
from finishmatch.cli.plan.options import FILE, plan_options, share_of, written
from finishmatch.cli.plan.options import quantity as quantity_option
from finishmatch.cli.plan.shown import show_plan
from finishmatch.errors import InputError
from finishmatch.readings.product_sheet import TimeAt, parts_of, times_of
from finishmatch.readings.quantities import AREA, BUILD, DENSITY, TEMPERATURE
from finishmatch.steps.plan.quantity import QuantityRequest, plan_quantity


def _counted(where: str, text: str) -> tuple[str, float]:
    """Return a panel and how many of it, of "front wing=2"."""
    name, equals, count = text.rpartition("=")
    if not equals:
        return text.strip(), 1.0
    try:
        return name.strip(), float(count)
    except ValueError:
        raise InputError(where, f"{count[:40]!r} is not a number of panels", 'write "front wing=2"') from None


def _times(_context: click.Context, param: click.Parameter, texts: tuple[str, ...]) -> tuple[TimeAt, ...]:
    return times_of(f"`{param.name}`", texts)


@click.command(
    "quantity",
    short_help="How much to mix, and of each component.",
    epilog="""\b
Examples:
  finishmatch plan quantity --panel bonnet --panel "front wing=2" --product swatches/plan/single-stage.toml
  finishmatch plan quantity --area 36ft2 --build 1mil --coats 2 --solids 0.42 --ratio 4:1:1 --units us
""",
)
@click.option(
    "--area",
    "area_m2",
    callback=quantity_option(AREA, above=0),
    metavar="QUANTITY",
    help="Area to be painted, as 2.1m2 or 22ft2.",
)
@click.option(
    "--panel",
    "panels",
    callback=written(_counted),
    metavar="NAME[=N]",
    multiple=True,
    help="A panel of the table, or N of them; repeat.",
)
@click.option("--panels", "panels_file", type=FILE, metavar="FILE", help="Your own table of panels.")
@click.option("--product", type=FILE, metavar="FILE", help="The product's data sheet; what is typed comes before it.")
@click.option(
    "--build",
    "build_um",
    callback=quantity_option(BUILD, above=0),
    metavar="QUANTITY",
    help="Dry build of one coat, as 25um or 1mil.",
)
@click.option("--coats", type=click.IntRange(1, 50), help="How many coats.  [default: the sheet's, or 1]")
@click.option(
    "--solids",
    "volume_solids",
    callback=share_of(),
    metavar="SHARE",
    help="Volume solids of the paint ready to spray, as 0.42 or 42%.",
)
@click.option(
    "--transfer",
    callback=share_of(),
    metavar="SHARE",
    help="Share of the sprayed paint that stays on the panel.  [default: 0.55]",
)
@click.option(
    "--waste",
    callback=share_of(whole=False, none=True),
    metavar="SHARE",
    help="Share of the mixed paint that stays in cup, hose and strainer.  [default: 0.10]",
)
@click.option(
    "--ratio", callback=written(parts_of), metavar="PARTS", help="Mixing ratio, as 4:1:1, or shares, as 60%:25%:15%."
)
@click.option(
    "--by", "mix_by", type=click.Choice(["volume", "weight"]), help="What the ratio is of.  [default: volume]"
)
@click.option(
    "--density",
    "densities",
    callback=quantity_option(DENSITY, above=0),
    metavar="QUANTITY",
    multiple=True,
    help="Of each component; repeat in order.",
)
@click.option("--pot-life", callback=_times, metavar="TIME", multiple=True, help='As "4 h at 20 C"; repeat for more.')
@click.option(
    "--temperature",
    "temperature_c",
    callback=quantity_option(TEMPERATURE),
    metavar="QUANTITY",
    help="Of the booth, as 22C or 72F, for the pot life.",
)
@plan_options
def quantity(units: str, job: str | None, as_json: bool, **options: Any) -> int:
    """Work out how much paint to mix for an area: litres ready to spray, and each component in volume and grams.

    Give --area or --panel. What stands in a data sheet (--product) needn't be typed.
    """
    found = plan_quantity(request_from(QuantityRequest, options), units=units, job=job)
    return show_plan(found, units, job, as_json)
