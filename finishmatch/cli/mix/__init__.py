"""`finishmatch mix`: a recipe in grams for a target colour."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from finishmatch.cli.common import (
    emit_json,
    gloss_options,
    hazards_document,
    job_option,
    json_option,
    light_options,
    say_recorded,
    stage,
)
from finishmatch.cli.inputs import scale_options
from finishmatch.cli.mix.shown import every_light, hazards_of, recipe_cautions, show_recipes
from finishmatch.cli.strengths import fresh_tins_option
from finishmatch.errors import InputError
from finishmatch.files import write_file

if TYPE_CHECKING:
    from finishmatch.cli.inputs import Film, FittedBank
    from finishmatch.cli.strengths import LearntStrengths
    from finishmatch.evidence.target import ColourTarget
    from finishmatch.mix.hiding_build import GroundChoice
    from finishmatch.mix.recipe import Recipe, RecipeList
    from finishmatch.optics import Tint
    from finishmatch.readings import Reading

EXAMPLE = """\b
Examples:
  finishmatch mix swatches/evidence.csv@tin --bank swatches/bank --grams 500
  finishmatch mix --lab 45.2,-6.1,-14.0 --bank swatches/bank --grams 250 --max-tints 4

Exit status: 0 when the best recipe is within the tolerance in every light, 1 when the colour can't be reached: the
nearest is given then, and the reason.
"""


@click.command(epilog=EXAMPLE)
@click.argument("target", required=False)
@click.option("--lab", metavar="L,a,b", help="A typed target in place of TARGET (under the first --light).")
@click.option("--bank", required=True, metavar="FOLDER", help="The bank of tints to mix from.")
@click.option("--grams", type=float, required=True, help="Weight of the batch.")
@click.option("--max-tints", type=int, default=5, show_default=True, help="Most tints in a recipe, 1 to 5.")
@click.option(
    "--tolerance",
    type=float,
    help="ΔE00 that counts as reached.  [default: the target file's own, else the job's, else 1.0]",
)
@click.option("--recipes", "shown", type=int, default=5, show_default=True, help="How many recipes are shown.")
@click.option("--must", multiple=True, metavar="TINT", help="A tint every recipe must hold; repeat for several.")
@click.option("--without", multiple=True, metavar="TINT", help="A tint no recipe may hold; repeat for several.")
@click.option(
    "--near", metavar="FILE", help="A batch file to stay near: its tints, and at most one other, are mixed with."
)
@click.option("--ground", metavar="NAME", help="Match the film over this ground of the bank, at --build.")
@click.option("--build", type=float, metavar="UM", help="Dry build of the film over --ground, µm.")
@click.option(
    "--coat", type=float, default=25.0, show_default=True, metavar="UM", help="Dry build of a coat, µm, to count coats."
)
@click.option(
    "--unseen",
    type=float,
    metavar="DE00",
    help="A film hides when the ground makes no more than this ΔE00.  [default: contrast ratio 0.98; a ground 0.3]",
)
@click.option("--plot", metavar="FILE", help="Draw the first recipe and the target in every light, to this PNG file.")
@click.option(
    "--explain", is_flag=True, help="Say why the first recipe was put first, and how it fares in every light."
)
@gloss_options(with_index=False)
@scale_options
@light_options(("D65", "A", "F11"))
@job_option
@fresh_tins_option
@json_option
def mix_command(
    target: str | None,
    lab: str | None,
    bank: str,
    grams: float,
    max_tints: int,
    tolerance: float | None,
    shown: int,
    must: tuple[str, ...],
    without: tuple[str, ...],
    near: str | None,
    ground: str | None,
    build: float | None,
    coat: float,
    unseen: float | None,
    plot: str | None,
    explain: bool,
    gloss: float | None,
    scale_step: float,
    smallest: float | None,
    lights: tuple[str, ...],
    observer: str,
    job: str | None,
    fresh_tins: bool,
    as_json: bool,
) -> int:
    """Propose recipes in grams for TARGET (L,a,b, a readings file, or FILE@NAME) from a bank of tints.

    Every subset of up to five tints is searched (of a hundred tints and a few more). The list is what no other recipe
    beats in worst-light difference, metamerism, number of tints, cost and sensitivity to weighing, best match first.
    """
    from finishmatch.cli.inputs import (
        check_tolerance,
        film_of,
        keep_fit,
        light_list,
        open_bank,
        scale_of,
        target_of,
        tolerance_of,
    )
    from finishmatch.cli.likewise import brought_to, check_gloss, converted_document
    from finishmatch.cli.strengths import learnt_strengths
    from finishmatch.evidence.target import colour_target
    from finishmatch.finish.flop import NO_FLAKE
    from finishmatch.mix.propose import propose_recipes
    from finishmatch.mix.wishes import RecipeRequest, Wishes
    from finishmatch.readings import read_batch

    check_tolerance(tolerance)
    check_gloss(gloss)
    scale = scale_of(scale_step, smallest)
    if shown < 1:
        raise InputError("--recipes", f"{shown} recipes can't be shown", "give 1 or more")
    if job is not None:
        from finishmatch.steps.record import check_job

        check_job(job)
    names = light_list(lights)
    reading = target_of("mix", target, lab, names[0], int(observer))
    tolerance, told = tolerance_of(tolerance, reading, 1.0, job)
    goal = colour_target(reading, names, int(observer))
    fitted = open_bank(bank)
    likewise, conversions = brought_to(
        fitted.bank.geometry, fitted.bank.binder_index, gloss, names[0], int(observer), reading
    )
    if likewise[0] is not reading:
        goal = colour_target(likewise[0], names, int(observer))
    usable = [name for name in fitted.fit.optics.names if name in fitted.fit.usable]
    film = film_of(fitted, ground, build)
    clears = {tint.name for tint in fitted.bank.tints if tint.role == "clear"}  # they thin, and make no colour
    old = [part for part in read_batch(Path(near)) if part[0] not in clears] if near else []
    if near and not old:
        raise InputError(near, "holds no coloured tint", "name the batch file of a recipe")
    wishes = Wishes(must, without, tuple(old))
    if not coat > 0:
        raise InputError("--coat", f"{coat:g} µm is no coat", "give its dry build in µm, above 0")
    if unseen is not None and not 0 < unseen < 10:
        raise InputError("--unseen", f"{unseen:g} is no difference to hide within", "give a ΔE00 above 0 and below 10")
    if plot is not None and goal.reflectance is None:
        raise InputError("--plot", "the target is Lab only, so other lights are not known", "give its spectrum")
    learnt = learnt_strengths(job, fitted, fresh_tins)
    with stage(f"searching the recipes of {len(usable)} tints"):
        found = propose_recipes(
            goal,
            film.optics.chosen(usable),
            fitted.bank.tints,
            grams,
            RecipeRequest(scale, max_tints, tolerance, wishes, tuple(film.grounds), learnt.prior, unseen),
        )
    if learnt.prior is not None:
        film = replace(film, optics=learnt.prior.strengthened(film.optics))
    choices = _grounds_for(found, film, coat, unseen)
    if plot is not None:
        _write_plot(plot, goal, found.recipes[0])
    recorded = []
    if job is not None:
        recorded = _record(job, reading, goal, fitted, found, tolerance, shown, learnt)
    flake = (NO_FLAKE,) if reading.angles else ()
    warnings = [*flake, *told, *found.warnings, *learnt.warnings, *fitted.fit.warnings, *keep_fit(fitted)]
    if as_json:
        document = as_document(found, goal, fitted.bank.tints, choices, warnings)
        emit_json(
            document
            | {
                **learnt.as_dict(),
                "converted": converted_document(conversions),
            }
        )
    else:
        learnt.say()
        show_recipes(goal, found, film, fitted.bank.tints, choices, warnings, shown, tolerance, explain, unseen)
        if plot is not None:
            click.echo(f"  drawn: {plot}")
        say_recorded(job, recorded)
    return 0 if found.within else 1


def _write_plot(plot: str, goal: ColourTarget, recipe: Recipe) -> None:
    from finishmatch.dossier.lights_plot import lights_png

    assert goal.reflectance is not None  # refused before the search
    write_file(plot, lights_png(every_light(goal, recipe), goal.name, goal.reflectance, recipe.reflectance))


def _grounds_for(found: RecipeList, film: Film, coat_um: float, unseen: float | None) -> tuple[GroundChoice, ...]:
    """Return what each ground of the shelf asks for under the first recipe."""
    import numpy as np

    from finishmatch.mix.hiding_build import UNSEEN_DE00, ground_choices

    parts = found.recipes[0].parts
    own = film.optics.chosen([tint for tint, _ in parts])
    return ground_choices(own, np.array([grams for _, grams in parts]), film.grounds, unseen or UNSEEN_DE00, coat_um)


def as_document(
    found: RecipeList,
    goal: ColourTarget,
    tints: tuple[Tint, ...],
    choices: tuple[GroundChoice, ...],
    warnings: list[str],
) -> dict[str, Any]:
    """Return the JSON object of a list of recipes."""
    from finishmatch.colour import WAVELENGTHS_NM
    from finishmatch.mix.recipe import why_first

    return {
        "recipes": [
            {
                "parts": [{"tint": tint, "grams": grams} for tint, grams in recipe.parts],
                "grams": recipe.grams,
                "predicted": {
                    "wavelengths": WAVELENGTHS_NM,
                    "reflectance": recipe.reflectance,
                    "lab": recipe.lab,
                },
                "lights": recipe.lights,
                "intervals": {light: {"low": low, "high": high} for light, (low, high) in recipe.intervals.items()},
                "metamerism": recipe.metamerism,
                "cost": recipe.cost,
                "sensitivity_de00_p95": recipe.sensitivity_de00_p95,
                "hiding_build_um": recipe.hiding_build_um,
                "contrast_ratio": recipe.contrast_ratio,
                "hazards": hazards_document(hazards_of(recipe, tints)),
                "notes": list(recipe.notes),
            }
            for recipe in found.recipes
        ],
        "within": found.within,
        "why": found.why,
        "why_first": list(why_first(found)),
        "subsets_searched": found.searched.subsets,
        "tints_searched": found.searched.tints,
        "whole_up_to": found.searched.whole_up_to,
        "grounds": [vars(choice) for choice in choices],
        "every_light": [vars(row) for row in every_light(goal, found.recipes[0])],
        "warnings": warnings,
        "cautions": list(recipe_cautions(found, tints)),
    }


def _record(
    job: str,
    reading: Reading,
    goal: ColourTarget,
    fitted: FittedBank,
    found: RecipeList,
    tolerance: float,
    shown: int,
    learnt: LearntStrengths,
) -> list[int]:
    from finishmatch.cli.entries import reading_entry, recipe_entry, sources_of, target_entry
    from finishmatch.cli.teaching import new_tins_entry
    from finishmatch.steps.record import record_to, remember

    recipes = [
        recipe_entry(recipe, rank, fitted.bank, goal) for rank, recipe in enumerate(found.recipes[:shown], start=1)
    ]
    role = "evidence" if reading.target is None else "weighed target"
    entries = [reading_entry(reading, role), target_entry(goal, tolerance, reading.target), *recipes]
    if learnt.forgotten:
        entries.append(new_tins_entry(fitted.bank.name))
    caught_up = record_to(job, learnt.caught_up)
    recorded = record_to(job, entries, {0: sources_of(reading)})
    remember(job, fitted.bank.name, fitted.folder)
    return caught_up + recorded
