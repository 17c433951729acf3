"""`finishmatch plan`: how much paint, over what, how glossy, whether it may be sold or applied there, and when."""

from __future__ import annotations

import click

from finishmatch.cli.lazy_group import LazyGroup

COMMANDS = {
    "quantity": ("plan.quantity:quantity", "How much to mix, and of each component."),
    "hiding": ("plan.hiding:hiding", "The dry build, coats and ground that hide."),
    "sheen": ("plan.sheen:sheen", "The flattening base for a gloss."),
    "law": ("plan.law:law", "Whether a paint may be sold or applied there."),
    "air": ("plan.air:air", "Dew point, the sheet's window, the day's timetable."),
    "angles": ("plan.angles:angles", "Metallics and pearls, angle by angle, and their flop."),
    "page": ("plan.page:page", "A whole plan from one file, on one page."),
}


@click.group(
    "plan",
    cls=LazyGroup,
    table=COMMANDS,
    epilog="""\b
Examples:
  finishmatch plan quantity --area 3.4m2 --build 50um --solids 0.42 --ratio 4:1:1
  finishmatch plan air --temperature 22C --humidity 60%
  finishmatch plan page swatches/plan/plan.toml
""",
)
def plan_command() -> None:
    """From the colour to the panel: quantity, hiding, sheen, law, booth air and the day; or all of it on one page.

    Write a quantity with its unit (2.1m2, 22ft2, 25um, 1mil, 20C, 68F); where the number alone could be metric or US,
    it is refused.
    """
