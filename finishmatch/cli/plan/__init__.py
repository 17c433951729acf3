"""`finishmatch plan`: how much paint, over what, how glossy, whether it may be sprayed there, and when."""

from __future__ import annotations

import click

from finishmatch.cli.plan.air import air
from finishmatch.cli.plan.angles import angles
from finishmatch.cli.plan.hiding import hiding
from finishmatch.cli.plan.law import law
from finishmatch.cli.plan.page import page
from finishmatch.cli.plan.quantity import quantity
from finishmatch.cli.plan.sheen import sheen


@click.group(
    "plan",
    epilog="""\b
Examples:
  finishmatch plan quantity --area 3.4m2 --build 50um --solids 0.42 --ratio 4:1:1
  finishmatch plan air --temperature 22C --humidity 60%
  finishmatch plan page swatches/plan/plan.toml
""",
)
def plan_command() -> None:
    """From the colour to the panel: quantity, hiding, sheen, law, booth air and the day; or all of it on one page.

    A quantity is written with its unit (2.1m2, 22ft2, 25um, 1mil, 20C, 68F); one without, that could be either, is
    refused.
    """


for verb in (quantity, hiding, sheen, law, air, angles, page):
    plan_command.add_command(verb)
