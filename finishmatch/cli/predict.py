"""`finishmatch predict`: what a batch will look like before it is sprayed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import click

from finishmatch.cli.batch_typed import batch_of
from finishmatch.cli.common import (
    emit_json,
    gloss_options,
    json_option,
    light_options,
    request_from,
    say_cautions,
    say_warnings,
    stage,
    swatch,
    table,
)
from finishmatch.cli.correct.shown import added_to, show_trade
from finishmatch.cli.in_use import job_in_use_option, needed_without, say_taken
from finishmatch.cli.inputs import scale_step_option, smallest_option
from finishmatch.cli.letdowns_shown import show_letdowns
from finishmatch.cli.mix.shown import show_tins, weigh_out_rows
from finishmatch.cli.option_names import with_options
from finishmatch.cli.typed_numbers import MICRONS, NUMBER, SHARE
from finishmatch.colour.display import lab_to_hex
from finishmatch.readings.batch_file import typed_amount
from finishmatch.steps.colour_inputs import LIGHTS
from finishmatch.steps.hazards import cautions_by, hazard_line
from finishmatch.steps.predict import Predicted, PredictRequest, predict
from finishmatch.steps.way_back import HeldAgainst

EXAMPLE = """\b
Examples:
  finishmatch predict swatches/batch1.csv --bank swatches/bank
  finishmatch predict white=300 blue=20 black=9.8 --bank swatches/bank --add black=5
  finishmatch predict white=300 blue=20 black=9.8 --bank swatches/bank --pour black=10.8

Exit status: 0; 1 when no addition within --max-growth brings the batch back.
"""


@click.command(epilog=EXAMPLE)
@click.argument("batch", nargs=-1, metavar="[BATCH | TINT=GRAMS...]")
@click.option("--bank", metavar="FOLDER", help="The bank the batch is mixed from.  [default: the job's]")
@click.option(
    "--add", multiple=True, metavar="TINT=GRAMS", help="What it looks like after this is added; repeat for several."
)
@click.option(
    "--pour",
    multiple=True,
    metavar="TINT=GRAMS",
    help="What a part of it really weighs, where it was meant to be something else; repeat for several.",
)
@click.option(
    "--target",
    metavar="READING",
    help="What it is compared with: FILE, FILE@NAME or L,a,b.  [default: the job's target]",
)
@click.option("--meant", metavar="FILE", help="Compare it with the colour of this batch: what was meant.")
@click.option(
    "--tolerance",
    type=NUMBER,
    help="ΔE00 to come back to in every light.  [default: the target file's own, else the job's, else 0.5]",
)
@click.option(
    "--max-growth",
    type=SHARE,
    default=0.2,
    show_default=True,
    help="Most that may be added to come back, as a share of the batch.",
)
@click.option("--ground", metavar="NAME", help="Predict the film over this ground of the bank, at --build.")
@click.option("--build", "build_um", type=MICRONS, metavar="UM", help="Dry build of the film over --ground, µm.")
@gloss_options(with_index=False)
@scale_step_option
@smallest_option
@light_options(LIGHTS)
@job_in_use_option("Use the tins' strengths, the target and what isn't given of this job; nothing is recorded.")
@click.option("--fresh-tins", is_flag=True, help="New tins were opened: leave out what earlier spray-outs showed.")
@json_option
def predict_command(batch: tuple[str, ...], bank: str | None, job: str | None, as_json: bool, **options: Any) -> int:
    """Predict what a card of a batch will look like, before it is sprayed.

    BATCH is a file of `tint,grams`, or the parts are typed, as in black=9.8; left out, it is the job's last. Held
    against a target, or against what was meant where a part was poured otherwise, it is also said how they will differ,
    and what to add to come back.
    """
    needed_without(job, "batch", "bank")
    typed = {name: tuple(typed_amount(text) for text in options[name]) for name in ("add", "pour")}
    request = request_from(PredictRequest, {**options, **typed})
    predicted = predict(bank, batch_of(batch) if batch else None, request, job=job, progress=stage)
    if as_json:
        emit_json(predicted.as_dict())
    else:
        _show(predicted, job)
    return 0 if predicted.reachable else 1


def _show(predicted: Predicted, job: str | None) -> None:
    say_taken(predicted.taken)
    show_tins(predicted.tins)
    click.echo(f"  {swatch(lab_to_hex(predicted.lab))} a card of these {predicted.grams:g} g")
    rows = [[light, *(f"{value:.2f}" for value in lab)] for light, lab in predicted.lights.items()]
    click.echo("\n".join(table(["light", "L*", "a*", "b*"], rows, indent="     ")))
    if predicted.by_card is not None:
        click.echo(f"  {predicted.by_card.words}")
    click.echo(f"  expect 0 to {predicted.u95:.1f} from this (ΔE00 in D65, 10°), {predicted.u95_words}")
    if record := predicted.by_record.words(predicted.u95):
        click.echo(f"  {record}")
    against, change = predicted.against, predicted.change
    if change is not None and (against is None or not against.as_written):
        click.echo(f"  against the batch as written it comes out {_difference(change.words, change.lights)}")
    if against is not None:
        _show_against(against, predicted.grams)
        for tint in predicted.harmful:
            click.echo(f"     ! {hazard_line(tint)}")
    if predicted.warnings:
        click.echo()
    say_warnings(predicted.warnings)
    say_cautions(predicted.cautions, job, by_tints=cautions_by(predicted.fitted.bank.tints))


def _show_against(against: HeldAgainst, grams: float) -> None:
    """Print how a batch differs from what it is compared with, and the way back."""
    click.echo(f"  against {against.name} it comes out {_difference(against.words, against.lights)}")
    side = "inside" if against.within else "outside"
    where = "" if len(against.lights) == 1 else f" (worst light {against.worst_light})"
    click.echo(f"  {side} the tolerance of {against.tolerance:g}{where}")
    found = against.way_back
    click.echo("\n  the way back" + (": nothing to add" if against.within else ""))
    if against.within:
        return
    click.echo(with_options(f"     {found.why}"))
    if not found.reachable:
        click.echo("     there is none within the growth limit" + ("; the nearest is" if found.additions else ""))
    if found.additions:
        rows = weigh_out_rows(found.additions, grams)
        click.echo("\n".join(table(["add", "grams", "in the tin"], rows, indent="     ")))
        show_letdowns(found.letdowns, found.additions)
        expected = "   ".join(f"{light} {de:.2f}" for light, de in found.lights.items())
        click.echo(f"     {added_to(grams, found.additions, found.growth, found.fills_to)}; predicted ΔE00 {expected}")
    if found.trade:
        show_trade(found.trade)


def _difference(words: Sequence[str], lights: Mapping[str, float]) -> str:
    by_light = "   ".join(f"{light} {de:.2f}" for light, de in lights.items())
    return f"{', '.join(words) or 'the same to the eye'}: ΔE00 {by_light}"
