"""`finishmatch mix`: a recipe in grams for a target colour."""

from __future__ import annotations

from typing import Any

import click

from finishmatch.cli.common import emit_json, replace_option, request_from, say_recorded, stage
from finishmatch.cli.in_use import needed_without, say_taken
from finishmatch.cli.inputs import letdowns_option, match_options, target_of, target_options
from finishmatch.cli.mix.shown import show_mixed, show_tins
from finishmatch.cli.typed_numbers import AMOUNT, MICRONS, NUMBER
from finishmatch.dossier.lights_plot import lights_png
from finishmatch.errors import InputError
from finishmatch.outputs import check_output, write_output
from finishmatch.readings.volumes import Volume
from finishmatch.steps.mix import Mixed, MixRequest, mix

_LAB_ONLY = "the target is Lab only, so other lights are not known"
EXAMPLE = """\b
Examples:
  finishmatch mix swatches/evidence.csv@tin --bank swatches/bank --grams 500
  finishmatch mix --lab 45.2,-6.1,-14.0 --bank swatches/bank --grams 250 --max-tints 4

Exit status: 0 when a recipe is within the tolerance in every light, 1 when the colour can't be reached: the
nearest is given then, and the reason.
"""


@click.command(epilog=EXAMPLE)
@target_options
@click.option("--bank", metavar="FOLDER", help="The bank of tints to mix from.  [default: the job's]")
@click.option("--grams", type=AMOUNT, help="Weight of the batch, or its volume, as 2L.  [default: the last recipe's]")
@click.option("--max-tints", type=int, default=5, show_default=True, help="Most tints in a recipe, 1 to 5.")
@click.option(
    "--tolerance",
    type=NUMBER,
    help="ΔE00 that counts as reached.  [default: the target file's own, else the job's, else 1.0]",
)
@click.option("--recipes", type=int, default=5, show_default=True, help="How many recipes are shown.")
@click.option("--must", multiple=True, metavar="TINT", help="A tint every recipe must hold; repeat for several.")
@click.option("--without", multiple=True, metavar="TINT", help="A tint no recipe may hold; repeat for several.")
@click.option(
    "--near", metavar="FILE", help="A batch file to stay near: its tints, and at most one other, are mixed with."
)
@click.option("--like", metavar="JOB", help="A job whose formula is stayed near, as with --near.")
@click.option("--ground", metavar="NAME", help="Match the film over this ground of the bank, at --build.")
@click.option("--build", "build_um", type=MICRONS, metavar="UM", help="Dry build of the film over --ground, µm.")
@click.option(
    "--coat",
    "coat_um",
    type=MICRONS,
    default=25.0,
    show_default=True,
    metavar="UM",
    help="Dry build of a coat, µm, to count coats.",
)
@click.option(
    "--unseen",
    "unseen_de00",
    type=NUMBER,
    metavar="DE00",
    help="A film hides when the ground makes no more than this ΔE00.  [default: contrast ratio 0.98; a ground 0.3]",
)
@click.option("--plot", metavar="FILE", help="Draw the first recipe and the target in every light, to this PNG file.")
@letdowns_option
@replace_option
@click.option(
    "--explain", is_flag=True, help="Say why the first recipe was put first, and how it fares in every light."
)
@match_options
def mix_command(
    bank: str | None,
    grams: float | Volume | None,
    plot: str | None,
    replace: bool,
    explain: bool,
    job: str | None,
    **options: Any,
) -> int:
    """Propose recipes in grams for TARGET (L,a,b, a readings file, or FILE@NAME) from a bank of tints.

    Every subset of up to five tints is searched, in a bank of up to a hundred tints or so. Listed, best match first,
    is every recipe that no other beats in worst-light difference, metamerism, number of tints, cost and sensitivity
    to weighing.
    """
    request = request_from(MixRequest, options)
    target = target_of("mix", options, job)
    needed_without(job, "bank", "grams")
    if plot is not None and target is not None and not target.is_spectral:
        raise InputError("--plot", _LAB_ONLY, "give its spectrum")
    check_output(plot, replace)
    drawn = None if plot is None else lambda mixed: _draw(plot, mixed, replace)
    mixed = mix(target, bank, grams, request, job=job, progress=stage, before_recording=drawn)
    if options["as_json"]:
        emit_json(mixed.as_dict())
    else:
        say_taken(mixed.match.taken)
        show_tins(mixed.match.tins)
        show_mixed(mixed, request, explain, job)
        if plot is not None:
            click.echo(f"  drawn: {plot}")
        say_recorded(job, mixed.recorded)
    return 0 if mixed.within else 1


def _draw(plot: str, mixed: Mixed, replace: bool) -> None:
    goal, first = mixed.target, mixed.recipes[0]
    if goal.reflectance is None:
        raise InputError("--plot", _LAB_ONLY, "give its spectrum")
    write_output(plot, lights_png(mixed.every_light, goal.name, goal.reflectance, first.reflectance), replace)
