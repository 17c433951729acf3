"""`finishmatch job outcome`: how a decision came out is recorded."""

from __future__ import annotations

import click

from finishmatch.cli.common import json_option
from finishmatch.cli.in_use import InJob
from finishmatch.cli.recording import say_or_emit
from finishmatch.steps.job import outcome as step


@click.command(
    "outcome",
    cls=InJob,
    epilog="""\b
Example:
  finishmatch job outcome J1 "Flatted and recoated; no crater came back." --came right
""",
)
@click.argument("job", metavar="[JOB]")
@click.argument("text")
@click.option(
    "--decision",
    metavar="N",
    type=click.IntRange(min=1),
    help="The decision it is the outcome of [default: the one of the job that has none yet].",
)
@click.option(
    "--came",
    "result",
    type=click.Choice(["right", "failed", "broke through"]),
    help="How the work came out; later advice takes it into account.",
)
@json_option
def outcome(job: str, text: str, decision: int | None, result: str | None, as_json: bool) -> None:
    """Record in JOB how a decision came out: TEXT is added to the decision; its earlier form stays in the history."""
    say_or_emit(step.outcome(job, text, decision=decision, result=result), as_json)
