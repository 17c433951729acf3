"""`finishmatch mix`: a recipe in grams for a target colour."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from finishmatch.cautions import MIXING
from finishmatch.cli.common import (
    emit_json,
    job_option,
    json_option,
    light_options,
    say_cautions,
    say_recorded,
    say_warnings,
    stage,
    swatch,
    table,
)
from finishmatch.cli.inputs import scale_options
from finishmatch.errors import InputError

if TYPE_CHECKING:
    from finishmatch.cli.inputs import FittedBank
    from finishmatch.match.recipe import Recipe, RecipeList
    from finishmatch.match.target import ColourTarget
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
@click.option("--tolerance", type=float, default=1.0, show_default=True, help="ΔE00 that counts as reached.")
@click.option("--recipes", "shown", type=int, default=5, show_default=True, help="How many recipes are shown.")
@scale_options
@light_options(("D65", "A", "F11"))
@job_option
@json_option
def mix_command(
    target: str | None,
    lab: str | None,
    bank: str,
    grams: float,
    max_tints: int,
    tolerance: float,
    shown: int,
    scale_step: float,
    smallest: float | None,
    lights: tuple[str, ...],
    observer: str,
    job: str | None,
    as_json: bool,
) -> int:
    """Propose recipes in grams for TARGET (L,a,b, a readings file, or FILE@NAME) from a bank of tints.

    Every subset of up to five tints is searched. The list is what no other recipe beats in worst-light difference,
    metamerism, number of tints, cost and sensitivity to weighing, best match first.
    """
    from finishmatch.cli.inputs import light_list, open_bank, reading_of, scale_of
    from finishmatch.match.recipe import propose_recipes
    from finishmatch.match.target import colour_target

    if (target is None) == (lab is None):
        raise InputError("mix", "one target is needed", "give TARGET or --lab L,a,b")
    if shown < 1:
        raise InputError("--recipes", f"{shown} recipes can't be shown", "give 1 or more")
    if job:
        from finishmatch.cli.recording import check_job

        check_job(job)
    names = light_list(lights)
    reading = reading_of(target or lab or "", names[0], int(observer))
    goal = colour_target(reading, names, int(observer))
    fitted = open_bank(bank)
    usable = [name for name in fitted.fit.optics.names if name in fitted.fit.usable]
    with stage(f"searching the recipes of {len(usable)} tints"):
        found = propose_recipes(
            goal,
            fitted.fit.optics.chosen(usable),
            fitted.bank.tints,
            grams,
            scale_of(scale_step, smallest),
            max_tints,
            tolerance,
        )
    warnings = [*found.warnings, *fitted.fit.warnings, *fitted.warnings]
    recorded = _record(job, reading, goal, fitted, found, tolerance, shown) if job else []
    if as_json:
        emit_json(as_document(found, warnings))
    else:
        _show(goal, found, warnings, shown, tolerance)
        say_recorded(job, recorded)
    return 0 if found.within else 1


def as_document(found: RecipeList, warnings: list[str]) -> dict[str, Any]:
    """Return the JSON object of a list of recipes."""
    from finishmatch.colour import WAVELENGTHS_NM

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
                "metamerism": recipe.metamerism,
                "cost": recipe.cost,
                "sensitivity_de00_p95": recipe.sensitivity_de00_p95,
                "hiding_build_um": recipe.hiding_build_um,
                "notes": list(recipe.notes),
            }
            for recipe in found.recipes
        ],
        "within": found.within,
        "why": found.why,
        "subsets_searched": found.subsets_searched,
        "warnings": warnings,
    }


def weigh_out_rows(parts: tuple[tuple[str, float], ...]) -> list[list[str]]:
    """Return rows of a weigh-out table: tint, grams, and what the scale shows when poured on top of one another."""
    rows, running = [], 0.0
    for tint, grams in parts:
        running += grams
        rows.append(
            [tint, f"{grams:.1f}" if abs(grams * 10 - round(grams * 10)) < 1e-6 else f"{grams:g}", f"{running:.1f}"]
        )
    return rows


def _grams(grams: float) -> str:
    """Return a weight to a tenth of a gram, or to what a finer scale gave."""
    return f"{grams:.1f}" if abs(grams * 10 - round(grams * 10)) < 1e-6 else f"{round(grams, 4):g}"


def _show(goal: ColourTarget, found: RecipeList, warnings: list[str], shown: int, tolerance: float) -> None:
    from finishmatch.colour.screen import lab_to_hex

    lab = goal.labs[0]
    click.echo(
        f"  {swatch(lab_to_hex(lab))} target {goal.name}: L* {lab[0]:.2f}  a* {lab[1]:.2f}  b* {lab[2]:.2f} "
        f"({goal.lights[0]}, {goal.observer}°)"
    )
    click.echo(f"  {found.subsets_searched:,} subsets of the tints searched")
    for rank, recipe in enumerate(found.recipes[:shown], start=1):
        click.echo()
        show_recipe(rank, recipe)
    left = len(found.recipes) - shown
    if left > 0:
        click.echo(f"\n  {left} more with --recipes {len(found.recipes)}")
    click.echo()
    if not found.within:
        click.echo(f"  outside the tolerance of {tolerance:g}: {found.why}")
    say_warnings(warnings)
    say_cautions(MIXING)


def show_recipe(rank: int, recipe: Recipe) -> None:
    """Print one recipe: what it promises and what to weigh."""
    from finishmatch.colour.screen import lab_to_hex

    click.echo(f"  {rank}. {swatch(lab_to_hex(recipe.lab))} {_merits(recipe)}")
    click.echo("\n".join(table(["tint", "grams", "on the scale"], weigh_out_rows(recipe.parts), indent="     ")))
    for note in recipe.notes:
        click.echo(f"     {note}")


def _merits(recipe: Recipe) -> str:
    told = "  ".join(f"{light} {de:.2f}" for light, de in recipe.lights.items())
    metamerism = "" if recipe.metamerism is None else f"   metamerism {recipe.metamerism:.2f}"
    return (
        f"{recipe.grams:g} g   predicted ΔE00 {told}{metamerism}   cost {recipe.cost:.2f}   "
        f"weighing ±{recipe.sensitivity_de00_p95:.2f}"
    )


def _record(
    job: str,
    reading: Reading,
    goal: ColourTarget,
    fitted: FittedBank,
    found: RecipeList,
    tolerance: float,
    shown: int,
) -> list[int]:
    from finishmatch.cli.entries import reading_entry, recipe_entry, sources_of, target_entry
    from finishmatch.cli.recording import record_to

    recipes = [
        recipe_entry(recipe, rank, fitted.bank, goal) for rank, recipe in enumerate(found.recipes[:shown], start=1)
    ]
    entries = [reading_entry(reading, "evidence"), target_entry(goal, tolerance), *recipes]
    return record_to(job, entries, {0: sources_of(reading)})
