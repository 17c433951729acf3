"""`finishmatch bank`: fit the optics of a bank of tints, and look at them."""

from __future__ import annotations

import click

from finishmatch.cli.lazy_group import LazyGroup

COMMANDS = {
    "fit": ("bank.fit:fit_command", "Fit the optics of every tint on the panels of the bank, and keep the fit."),
    "photo": ("bank.photo:photo_command", "Read the colours of panels from photographs into the bank."),
    "plan": ("bank.plan:plan_command", "Say which panels to draw next, the most telling first."),
    "show": ("bank.show:show_command", "Show the tints: role, stock, price, masstone and letdown colours."),
}
EXAMPLE = """\b
Example:
  finishmatch bank show swatches/bank
"""


@click.group(cls=LazyGroup, table=COMMANDS, epilog=EXAMPLE)
def bank_command() -> None:
    """A bank of tints: the tins on the shelf and the panels they were characterised from."""
