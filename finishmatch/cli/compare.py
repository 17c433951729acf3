"""`finishmatch compare`: the difference of two colours."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import click

from finishmatch.cli.common import (
    emit_json,
    gloss_options,
    job_option,
    json_option,
    light_options,
    say_recorded,
    say_warnings,
    swatch,
    table,
)
from finishmatch.errors import InputError

if TYPE_CHECKING:
    from finishmatch.correct.verdict import Verdict
    from finishmatch.readings import Reading

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
    type=float,
    help="Largest ΔE00 that passes in every light.  [default: the standard file's own, else 1.0]",
)
@gloss_options(with_index=True)
@light_options(("D65", "A", "F11"))
@job_option
@json_option
def compare_command(
    standard: str | None,
    trial: str | None,
    labs: tuple[str, ...],
    tolerance: float | None,
    gloss: float | None,
    binder_index: float,
    lights: tuple[str, ...],
    observer: str,
    job: str | None,
    as_json: bool,
) -> int:
    """Tell how TRIAL differs from STANDARD, in numbers and in words, and whether it passes."""
    from finishmatch.cli.inputs import check_tolerance, light_list, reading_of, tolerance_of
    from finishmatch.cli.likewise import brought_to, check_gloss, converted_document
    from finishmatch.correct.verdict import judge
    from finishmatch.readings import typed_lab

    names = light_list(lights)
    texts = [text for text in (standard, trial) if text is not None]
    if len(texts) + len(labs) != 2:
        raise InputError("compare", f"{len(texts) + len(labs)} colours were given", "give two: STANDARD and TRIAL")
    check_tolerance(tolerance)
    check_gloss(gloss, binder_index)
    if job is not None:
        from finishmatch.steps.record import check_job

        check_job(job)
    one, two = (
        *(reading_of(text, names[0], int(observer)) for text in texts),
        *(typed_lab(text, names[0], int(observer)) for text in labs),
    )
    likewise, conversions = brought_to(one.geometry, binder_index, gloss, names[0], int(observer), two)
    tolerance, own = tolerance_of(tolerance, one, 1.0)
    verdict = judge(one, likewise[0], names, int(observer), tolerance)
    verdict = replace(verdict, warnings=(*own, *verdict.warnings))
    if any(conversion.u95_de00 > tolerance for conversion in conversions):
        told = "the conversion leaves more open than the tolerance: read both the same way to be sure"
        verdict = replace(verdict, warnings=(*verdict.warnings, told))
    recorded = _record(job, one, two, verdict) if job is not None else []
    if as_json:
        emit_json(as_document(verdict) | {"converted": converted_document(conversions)})
    else:
        _show(verdict)
        say_recorded(job, recorded)
    return 0 if verdict.within else 1


def as_document(verdict: Verdict) -> dict[str, Any]:
    """Return the JSON object of a verdict."""
    delta = verdict.delta
    return {
        "de00": verdict.de00,
        "de76": verdict.de76,
        "delta": {"L": delta.L, "a": delta.a, "b": delta.b, "C": delta.C, "H": delta.H},
        "lights": verdict.lights,
        "metamerism": verdict.metamerism,
        "words": list(verdict.words),
        "verdict": "within" if verdict.within else "outside",
        "tolerance": verdict.tolerance,
        "warnings": list(verdict.warnings),
    }


def _show(verdict: Verdict) -> None:
    from finishmatch.colour.display import lab_to_hex

    reference = next(iter(verdict.lights))
    rows = [
        [swatch(lab_to_hex(lab)), name, *(f"{value:.2f}" for value in lab)]
        for name, lab in (("standard", verdict.standard_lab), ("trial", verdict.trial_lab))
    ]
    click.echo("\n".join(table(["", f"{reference}, {verdict.observer}°", "L*", "a*", "b*"], rows)))
    delta = verdict.delta
    click.echo(
        f"\n  ΔE00 {verdict.de00:.2f}   ΔE*ab {verdict.de76:.2f}   ΔL* {delta.L:+.2f}  Δa* {delta.a:+.2f}  "
        f"Δb* {delta.b:+.2f}  ΔC* {delta.C:+.2f}  ΔH* {delta.H:+.2f}"
    )
    words = ", ".join(verdict.words) or "no difference the eye can see"
    click.echo(f"  the trial is {words}" if verdict.words else f"  {words}")
    if len(verdict.lights) > 1:
        told = "   ".join(f"{light} {de:.2f}" for light, de in verdict.lights.items())
        click.echo(f"  ΔE00 by light: {told}")
    if verdict.metamerism is not None:
        click.echo(f"  metamerism index {verdict.metamerism:.2f}")
    side = "within" if verdict.within else "outside"
    where = "" if len(verdict.lights) == 1 else f" (worst light {verdict.worst_light})"
    click.echo(f"  {side} the tolerance of {verdict.tolerance:g}{where}")
    say_warnings(verdict.warnings)


def _record(job: str, standard: Reading, trial: Reading, verdict: Verdict) -> list[int]:
    from finishmatch.cli.entries import reading_entry, sources_of, verdict_entry
    from finishmatch.steps.record import record_to

    return record_to(
        job,
        [
            reading_entry(standard, "standard"),
            reading_entry(trial, "trial"),
            verdict_entry(standard, trial, verdict),
        ],
        {0: sources_of(standard), 1: sources_of(trial)},
    )
