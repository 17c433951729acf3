"""`finishmatch correct`: what to add to a poured tin."""

from __future__ import annotations

from typing import Any

import click

from finishmatch.cli.common import emit_json, request_from, say_cautions, say_recorded, stage
from finishmatch.cli.correct.shown import show_corrected, show_look_first
from finishmatch.cli.in_use import needed_without, say_taken
from finishmatch.cli.inputs import (
    anyway_option,
    fill_to_option,
    letdowns_option,
    match_options,
    max_growth_option,
    target_of,
    target_options,
)
from finishmatch.cli.mix.shown import show_tins
from finishmatch.cli.seen_options import seen_card, seen_options
from finishmatch.cli.typed_numbers import NUMBER
from finishmatch.steps.correct import correct
from finishmatch.steps.corrected import CorrectRequest
from finishmatch.steps.hazards import cautions_by

EXAMPLE = """\b
Example:
  finishmatch correct swatches/evidence.csv@tin --bank swatches/bank --batch swatches/batch1.csv \\
      --sprayed swatches/card1.csv
  finishmatch correct swatches/evidence.csv@tin --bank swatches/bank --batch swatches/batch1.csv \\
      --difference 0.3,-0.1,-1.4

Exit status: 0 when the tolerance is reached (or was already), 1 when adding can't reach it: what a fresh batch would
need is given then.
"""


@click.command(epilog=EXAMPLE)
@target_options
@click.option("--bank", metavar="FOLDER", help="The bank the tin was mixed from.  [default: the job's]")
@click.option("--batch", metavar="FILE", help="What was poured: a CSV of tint,grams.  [default: the job's last batch]")
@click.option(
    "--sprayed", metavar="READING", help="The spray-out: FILE, FILE@NAME or L,a,b.  [default: the job's last]"
)
@seen_options
@click.option(
    "--tolerance",
    type=NUMBER,
    help="ΔE00 to reach in every light.  [default: the target file's own, else the job's, else 0.5]",
)
@max_growth_option
@fill_to_option
@letdowns_option
@anyway_option
@match_options
def correct_command(bank: str | None, batch: str | None, sprayed: str | None, job: str | None, **options: Any) -> int:
    """Find the smallest addition that brings a poured tin to TARGET (L,a,b, a readings file, or FILE@NAME).

    Nothing is ever taken out of a tin: the answer only adds. The strength of today's tins is
    estimated from the spray-out, used and shown. Without an instrument, --difference says how the spray-out differs
    from the standard beside it.
    """
    seen = seen_card(options, sprayed)
    request, target = request_from(CorrectRequest, options), target_of("correct", options, job)
    needed_without(job, "bank", "batch", *(() if seen else ("sprayed",)))
    corrected = correct(target, bank, batch, seen or sprayed, request, job=job, progress=stage)
    if options["as_json"]:
        emit_json(corrected.as_dict())
    else:
        say_taken(corrected.match.taken)
        show_look_first(corrected)
        show_tins(corrected.match.tins)
        show_corrected(corrected)
        say_cautions(corrected.cautions, job, corrected.recorded, cautions_by(corrected.tints))
        say_recorded(job, corrected.recorded)
    return 0 if corrected.reachable else 1
