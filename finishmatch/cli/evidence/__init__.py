"""`finishmatch evidence`: weigh what survives of a colour, and show what is taken of each kind of evidence."""

from __future__ import annotations

import click

from finishmatch.cli.lazy_group import LazyGroup

COMMANDS = {
    "weigh": ("evidence.weigh:weigh", "Find the colour from samples that are evidence of it."),
    "kinds": ("evidence.kinds:kinds_command", "Show the kinds of evidence, and what is assumed of each."),
}


@click.group(
    "evidence",
    cls=LazyGroup,
    table=COMMANDS,
    epilog="""\b
Example:
  finishmatch evidence weigh swatches/survivors.csv
""",
)
def evidence_command() -> None:
    """Weigh evidence that disagrees: what the colour was, how certain that is, and how near a match must come."""
