"""`finishmatch judge`: a card is recorded, held against the target, and answered with what to add."""

from __future__ import annotations

from shlex import quote
from typing import Any

import click

from finishmatch.cli.common import (
    emit_json,
    gloss_options,
    json_option,
    light_options,
    request_from,
    say_cautions,
    say_recorded,
    say_warnings,
    show_swatches,
    stage,
    wrapped,
)
from finishmatch.cli.correct.shown import show_corrected, show_look_first, show_seen, within
from finishmatch.cli.in_use import job_in_use_option, say_taken
from finishmatch.cli.inputs import (
    anyway_option,
    fill_to_option,
    letdowns_option,
    max_growth_option,
    scale_step_option,
    smallest_option,
)
from finishmatch.cli.seen_options import is_picture, seen_card, seen_options
from finishmatch.cli.terminal import columns
from finishmatch.cli.typed_numbers import NUMBER, TypedNumber
from finishmatch.colour.display import lab_to_hex
from finishmatch.errors import InputError
from finishmatch.readings.quantities import BUILD
from finishmatch.steps.colour_inputs import LIGHTS
from finishmatch.steps.corrected import CorrectRequest
from finishmatch.steps.hazards import cautions_by
from finishmatch.steps.job.current_job import needed_job
from finishmatch.steps.judge import Judged, judge_card

SURFACES = click.Choice(["as sprayed", "cut and polished"])


@click.command(
    epilog="""\b
Examples:
  finishmatch judge swatches/card1.csv --job J1
  finishmatch judge --difference 0.3,-0.1,-1.4 --job J1

Exit status: 0 when the card is inside the tolerance in every light, 1 when it is outside: what to add is given then.
""",
)
@click.argument("card", required=False)
@seen_options
@click.option("--ground", metavar="TEXT", default="", help="What the card was sprayed over.")
@click.option("--coats", metavar="N", type=click.IntRange(min=1, max=99), help="How many coats.")
@click.option("--build-um", metavar="UM", type=TypedNumber(BUILD, low=0, high=5000), help="Dry film build of them, µm.")
@click.option("--surface", type=SURFACES, default="as sprayed", show_default=True, help="The surface that was read.")
@click.option(
    "--tolerance", type=NUMBER, help="ΔE00 to be within in every light.  [default: that of the job's target, else 0.5]"
)
@max_growth_option
@fill_to_option
@letdowns_option
@anyway_option
@gloss_options(with_index=False)
@scale_step_option
@smallest_option
@light_options(LIGHTS)
@job_in_use_option("The job whose target, bank and batch it is judged by.")
@click.option("--fresh-tins", is_flag=True, help="New tins were opened: leave out what earlier spray-outs showed.")
@json_option
def judge_command(card: str | None, job: str | None, as_json: bool, **options: Any) -> int:
    """Record CARD as a spray-out, hold it against the job's target, and find what to add to the tin, all in one.

    CARD is a readings file, FILE@NAME, a typed L,a,b, or a photograph of the card beside its standard; without it the
    last spray-out of the job is judged again.
    """
    if is_picture(card):
        card, options["seen"] = None, (card, *options["seen"])
    seen = seen_card(options, card)
    try:
        judged = judge_card(seen or card, request_from(CorrectRequest, options), job=needed_job(job), progress=stage)
    except InputError as error:  # there is no TARGET and no --bank here: the job is told them
        once = error.mend.replace("`bank`", f"finishmatch job use {quote(needed_job(job))} --bank")
        once = once.replace("give it as `target`, or record it first", "record it first")
        raise InputError(error.where, error.what, once) from None
    if as_json:
        emit_json(judged.as_dict())
    else:
        _show(judged, needed_job(job))
    return 0 if judged.within else 1


def _show(judged: Judged, job: str) -> None:
    say_taken(judged.corrected.match.taken)
    show_look_first(judged.corrected)
    verdict = judged.verdict
    side = "inside" if verdict.within else "outside"
    words = ", ".join(verdict.words) or "no difference the eye would name"
    told = within(judged.corrected)
    limit = f"{told} of {verdict.tolerance:g}" if told == "the tolerance" else told.rstrip(",")
    said = f"the card is {side} {limit}"
    click.echo(wrapped(click.style(said, bold=True) + f": {words}", "  ", columns()))
    if verdict.within and not judged.corrected.additions:
        show_swatches(("target", lab_to_hex(verdict.standard_lab)), ("card", lab_to_hex(verdict.trial_lab)))
        by_light = "   ".join(f"{light} {de:.2f}" for light, de in verdict.lights.items())
        click.echo(f"  ΔE00 {by_light}")
        show_seen(judged.corrected)
        say_warnings(judged.corrected.noted)
    else:
        show_corrected(judged.corrected)
    say_cautions(judged.cautions, job, judged.recorded, cautions_by(judged.corrected.tints))
    say_recorded(job, judged.recorded)
    click.echo("  what comes next: finishmatch next")
    taken = judged.corrected.match.taken
    if verdict.within and not judged.corrected.additions and taken is not None and taken.in_tin is not None:
        click.echo(f"  more of this paint: finishmatch job pour {quote(job)} --as {taken.in_tin} --grams G")
