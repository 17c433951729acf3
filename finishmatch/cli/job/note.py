"""`finishmatch job note`: anything else worth remembering is recorded."""

from __future__ import annotations

import click

from finishmatch.cli.common import json_option
from finishmatch.cli.in_use import InJob
from finishmatch.cli.recording import replace_options, say_or_emit
from finishmatch.steps.job import note as step
from finishmatch.steps.record import InPlaceOf


@click.command(
    "note",
    cls=InJob,
    epilog="""\b
Example:
  finishmatch job note J1 "Leftover tin found under the bench, half dried."
""",
)
@click.argument("job", metavar="[JOB]")
@click.argument("text")
@replace_options
@json_option
def note(job: str, text: str, supersedes: int | None, why: str, as_json: bool) -> None:
    """Record in JOB anything else worth remembering."""
    say_or_emit(step.note(job, text, in_place_of=InPlaceOf(supersedes, why)), as_json)
