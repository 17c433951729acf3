"""`finishmatch plan angles`: metallics and pearls, angle by angle, and their flop."""

from __future__ import annotations

from typing import Any

import click

from finishmatch.cli.common import LIGHT, request_from
from finishmatch.cli.plan.options import plan_options
from finishmatch.cli.plan.shown import show_plan
from finishmatch.cli.typed_numbers import NUMBER
from finishmatch.steps.plan.angles import AnglesRequest, plan_angles


@click.command(
    "angles",
    short_help="Metallics and pearls, angle by angle, and their flop.",
    epilog="""\b
Example:
  finishmatch plan angles swatches/plan/metallic.csv@standard swatches/plan/metallic.csv@"card 1"

Exit status: 0 within the tolerance at every angle, 1 outside.
""",
)
@click.argument("standard")
@click.argument("trial")
@click.option("--tolerance", type=NUMBER, default=1.0, show_default=True, help="ΔE00 that passes, at every angle.")
@click.option("--light", default="D65", show_default=True, help=f"{LIGHT}.")
@click.option(
    "--observer",
    type=click.Choice(["2", "10"]),
    default="10",
    show_default=True,
    callback=lambda _context, _param, degrees: int(degrees),
    help="CIE observer.",
)
@plan_options
def angles(units: str, job: str | None, as_json: bool, **options: Any) -> int:
    """Compare STANDARD and TRIAL (FILE or FILE@NAME), read at several angles, at each of them and as flop."""
    found = plan_angles(request_from(AnglesRequest, options), job=job)
    return show_plan(found, units, job, as_json)
