"""`finishmatch job spray`: a spray-out is recorded, and what it shows of its tins."""

from __future__ import annotations

import math
from typing import Any

import click

from finishmatch.cautions import SPRAYING
from finishmatch.cli.common import emit_json, gloss_options, json_option, request_from, say_cautions, stage
from finishmatch.cli.in_use import InJob, needed_without
from finishmatch.cli.inputs import anyway_option, scale_step_option
from finishmatch.cli.option_names import with_options
from finishmatch.cli.recording import replace_options, show_recorded
from finishmatch.cli.typed_numbers import TypedNumber
from finishmatch.ledger import describe_strengths, foretold_words
from finishmatch.readings.quantities import BUILD
from finishmatch.steps.job.spray import Learnt, SprayRequest
from finishmatch.steps.job.spray import spray as record_spray_out

SURFACES = click.Choice(["as sprayed", "cut and polished"])


@click.command(
    "spray",
    cls=InJob,
    epilog="""\b
Example:
  finishmatch job spray J1 38.2,-4.1,-20.3 --ground "grey primer" --coats 2 --build-um 45
""",
)
@click.argument("job", metavar="[JOB]")
@click.argument("readings", required=False)
@click.option("--ground", metavar="TEXT", default="", help="What it was sprayed over.")
@click.option("--coats", metavar="N", type=click.IntRange(min=1, max=99), help="How many coats.")
@click.option("--build-um", metavar="UM", type=TypedNumber(BUILD, low=0, high=5000), help="Dry film build of them, µm.")
@click.option("--surface", type=SURFACES, help="The surface that was read [default: as sprayed].")
@click.option(
    "--batch",
    metavar="N",
    type=click.IntRange(min=1),
    help="The batch that was sprayed [default: the last one of the job].",
)
@click.option(
    "--bank",
    metavar="FOLDER",
    help="The bank it was mixed from: the strength of its tins is then estimated [default: the bank the job was "
    "mixed from].",
)
@scale_step_option
@gloss_options(with_index=False)
@anyway_option
@replace_options
@json_option
def spray(job: str, readings: str | None, as_json: bool, **options: Any) -> None:
    """Record in JOB a spray-out and its reading: READINGS is a readings file, FILE@NAME, or a typed L,a,b.

    A colour is judged after it is cut and polished, not as sprayed: say which surface was read. The strength
    of today's tins is estimated from what was poured and the bank; the next recipe and correction use it.
    """
    needed_without(options["supersedes"], "readings")
    sprayed = record_spray_out(job, readings, request_from(SprayRequest, options), progress=stage)
    if as_json:
        emit_json(sprayed.as_dict())
        return
    show_recorded(sprayed.recorded)
    click.echo(f"  {with_options(_learnt(sprayed.learnt))}")
    if sprayed.learnt.foretold is not None:
        click.echo(f"  the card reads {foretold_words(sprayed.learnt.foretold.as_dict())}")
    if (bank := sprayed.learnt.bank) is not None and bank.words:
        click.echo(f"  {bank.words}")
    say_cautions(SPRAYING, job, [view.number for view in sprayed.recorded.entries])


def _learnt(learnt: Learnt) -> str:
    if learnt.strengths is None:
        how = "" if learnt.fitted is None else ": finishmatch job pour"  # the bank is known, the batch isn't
        return f"no strength of the tins was estimated: {learnt.why_not}{how}"
    logarithms = [math.log(factor) for factor, _ in learnt.strengths.values()]
    known = describe_strengths(tuple(learnt.strengths), logarithms, [sd for _, sd in learnt.strengths.values()])
    return f"strength of its tins, used by the next recipe: {known}"
