"""`finishmatch defect`: log a defect of a finish, decide its rework, find where it came from."""

from __future__ import annotations

import click

from finishmatch.cli.lazy_group import LazyGroup

COMMANDS = {
    "log": ("defect.log:log", "Record a defect in a job of the ledger."),
    "advise": ("defect.advise:advise", "Decide how a defect is reworked, from the build and the film it lies in."),
    "map": ("defect.map:map_command", "Show where a panel may be rubbed, how deep, and where it breaks through."),
    "kinds": ("defect.kinds:kinds", "List the kinds of defect with their looks, or all that is known of one."),
    "checks": ("defect.kinds:checks", "List the checks and signs that tell causes apart."),
    "calibrate": ("defect.calibrate:calibrate", "Learn what sanding and polishing take off in this shop."),
    "trace": ("defect.trace:trace_command", "Find where a defect came from, by the coats of all jobs."),
    "suspect": ("defect.suspect:suspect_command", "Mark an exposure as suspect."),
    "clear": ("defect.suspect:clear_command", "Clear an exposure of suspicion."),
    "suspects": ("defect.suspect:suspects_command", "List the exposures that are suspect now."),
}


@click.group(
    "defect",
    cls=LazyGroup,
    table=COMMANDS,
    epilog="""\b
Example:
  finishmatch defect advise crater --layer primer=62,58,60 --layer colour=98,104,101 --depth-um 35 --count 4
""",
)
def defect_command() -> None:
    """Log a defect of a finish; decide how far it may be rubbed and what to do next."""
