"""`finishmatch compare`: the difference of two colours."""

from __future__ import annotations

from typing import Any

import click

from finishmatch.cli.common import (
    emit_json,
    gloss_options,
    job_option,
    json_option,
    light_options,
    request_from,
    say_recorded,
    say_warnings,
    swatch,
    table,
)
from finishmatch.cli.typed_numbers import NUMBER
from finishmatch.colour.display import lab_to_hex
from finishmatch.colour.told_within import told_within
from finishmatch.correct.verdict import Verdict
from finishmatch.errors import InputError
from finishmatch.readings import Reading, typed_lab
from finishmatch.steps.colour_inputs import LIGHTS, light_list
from finishmatch.steps.compare import CompareRequest, compare

EXAMPLE = """\b
Examples:
  finishmatch compare 52.1,-3.0,4.2 51.8,-2.6,4.9
  finishmatch compare swatches/evidence.csv@tin swatches/card1.csv --tolerance 0.5 --light D65 --light A

STANDARD and TRIAL are L,a,b or a readings file; FILE@NAME picks one name of a file. Exit status: 0 within the
tolerance in every light, 1 outside.
"""


@click.command(epilog=EXAMPLE)
@click.argument("standard", required=False)
@click.argument("trial", required=False)
@click.option(
    "--lab",
    "labs",
    multiple=True,
    metavar="L,a,b",
    help="A typed colour in place of TRIAL (under the first --light), or of both when repeated.",
)
@click.option(
    "--tolerance",
    type=NUMBER,
    help="Largest ΔE00 that passes in every light.  [default: the standard file's own, else 1.0]",
)
@gloss_options(with_index=True)
@light_options(LIGHTS)
@job_option
@json_option
def compare_command(
    standard: str | None, trial: str | None, labs: tuple[str, ...], job: str | None, as_json: bool, **options: Any
) -> int:
    """Show how TRIAL differs from STANDARD, in numbers and in words, and whether it passes."""
    request = request_from(CompareRequest, options)
    texts = [text for text in (standard, trial) if text is not None]
    if len(texts) + len(labs) != 2:
        raise InputError("compare", f"{len(texts) + len(labs)} colours were given", "give two: STANDARD and TRIAL")
    light = light_list(request.lights)[0]
    typed = [typed_lab(text, light, request.observer) for text in labs]
    colours: list[str | Reading] = [*texts, *typed]
    compared = compare(colours[0], colours[1], request, job=job)
    if as_json:
        emit_json(compared.as_dict())
    else:
        _show(compared.verdict)
        say_recorded(job, compared.recorded)
    return 0 if compared.within else 1


def _show(verdict: Verdict) -> None:
    reference = next(iter(verdict.lights))
    rows = [
        [swatch(lab_to_hex(lab)), name, *(f"{value:.2f}" for value in lab)]
        for name, lab in (("standard", verdict.standard_lab), ("trial", verdict.trial_lab))
    ]
    click.echo("\n".join(table(["", f"{reference}, {verdict.observer}°", "L*", "a*", "b*"], rows)))
    delta = verdict.delta
    known = "" if verdict.u95 is None else f" ±{told_within(verdict.u95):g}"
    click.echo(
        f"\n  ΔE00 {verdict.de00:.2f}{known}   ΔE*ab {verdict.de76:.2f}   ΔL* {delta.L:+.2f}  Δa* {delta.a:+.2f}  "
        f"Δb* {delta.b:+.2f}  ΔC* {delta.C:+.2f}  ΔH* {delta.H:+.2f}"
    )
    words = ", ".join(verdict.words) or "no difference the eye can see"
    click.echo(f"  the trial is {words}" if verdict.words else f"  {words}")
    if len(verdict.lights) > 1:
        by_light = "   ".join(f"{light} {de:.2f}" for light, de in verdict.lights.items())
        click.echo(f"  ΔE00 by light: {by_light}")
    if verdict.metamerism is not None:
        click.echo(f"  metamerism index {verdict.metamerism:.2f}")
    side = "within" if verdict.within else "outside"
    where = "" if len(verdict.lights) == 1 else f" (worst light {verdict.worst_light})"
    click.echo(f"  {side} the tolerance of {verdict.tolerance:g}{where}")
    say_warnings(verdict.warnings)
