"""A list of recipes on the page: what each promises, what to weigh, what it takes to hide."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from finishmatch.cautions import mixing_cautions
from finishmatch.cli.common import harmful, hazard_line, say_cautions, say_warnings, swatch, table

if TYPE_CHECKING:
    from finishmatch.cli.inputs import Film
    from finishmatch.colour.inconstancy import LightRow
    from finishmatch.evidence.target import ColourTarget
    from finishmatch.mix.hiding_build import GroundChoice
    from finishmatch.mix.recipe import Recipe, RecipeList
    from finishmatch.optics import Tint


def weigh_out_rows(parts: tuple[tuple[str, float], ...]) -> list[list[str]]:
    """Return rows of a weigh-out table: tint, grams, and what the scale shows when poured on top of one another."""
    rows, running = [], 0.0
    for tint, grams in parts:
        running += grams
        rows.append([tint, _grams(grams), _grams(running)])
    return rows


def _grams(grams: float) -> str:
    """Return a weight to a tenth of a gram, or to what a finer scale gave."""
    return f"{grams:.1f}" if abs(grams * 10 - round(grams * 10)) < 1e-6 else f"{round(grams, 4):g}"


def show_recipes(
    goal: ColourTarget,
    found: RecipeList,
    film: Film,
    tints: Sequence[Tint],
    choices: tuple[GroundChoice, ...],
    warnings: list[str],
    shown: int,
    tolerance: float,
    explain: bool,
    unseen: float | None = None,
) -> None:
    from finishmatch.colour.display import lab_to_hex
    from finishmatch.mix.recipe import why_first

    lab = goal.labs[0]
    click.echo(
        f"  {swatch(lab_to_hex(lab))} target {goal.name}: L* {lab[0]:.2f}  a* {lab[1]:.2f}  b* {lab[2]:.2f} "
        f"({goal.lights[0]}, {goal.observer}°)"
    )
    click.echo(f"  {found.searched.in_words}")
    if film.optics.backing is not None:
        backing = film.optics.backing
        click.echo(f"  matched as a film of {backing.build_um:g} µm over {backing.name}")
    for rank, recipe in enumerate(found.recipes[:shown], start=1):
        click.echo()
        show_recipe(rank, recipe, hazards_of(recipe, tints), unseen)
    left = len(found.recipes) - shown
    if left > 0:
        click.echo(f"\n  {left} more with --recipes {len(found.recipes)}")
    if explain:
        click.echo("\n  why the first is first")
        for line in why_first(found):
            click.echo(f"     {line}")
        _show_every_light(goal, found.recipes[0])
    _show_grounds(choices)
    if warnings or not found.within:
        click.echo()
    if not found.within:
        click.echo(f"  outside the tolerance of {tolerance:g}: {found.why}")
    say_warnings(warnings)
    say_cautions(recipe_cautions(found, tints, shown))


def hazards_of(recipe: Recipe, tints: Sequence[Tint]) -> tuple[Tint, ...]:
    """Return the tints of a recipe that hold what harms, in its order."""
    return harmful((name for name, _ in recipe.parts), tints)


def recipe_cautions(found: RecipeList, tints: Sequence[Tint], shown: int | None = None) -> tuple[str, ...]:
    """Return the cautions that bear on the recipes shown, or on all."""
    return mixing_cautions(
        word for recipe in found.recipes[:shown] for tint in hazards_of(recipe, tints) for word in tint.hazards
    )


def every_light(goal: ColourTarget, recipe: Recipe) -> tuple[LightRow, ...]:
    """Return how a recipe fares in every light there is; nothing without the target's spectrum."""
    from finishmatch.colour.inconstancy import in_every_light

    if goal.reflectance is None:
        return ()
    return in_every_light(goal.reflectance, recipe.reflectance, goal.lights[0], goal.observer)


def _show_every_light(goal: ColourTarget, recipe: Recipe) -> None:
    """Print the first recipe in every light, with how much target and recipe change in it by themselves."""
    rows = [
        [
            row.light,
            f"{row.de00:.2f}",
            f"{row.metamerism:.2f}",
            f"{row.target_inconstancy:.2f}",
            f"{row.recipe_inconstancy:.2f}",
        ]
        for row in every_light(goal, recipe)
    ]
    if rows:
        click.echo(f"\n  the first in every light, against {goal.lights[0]}")
        header = ["light", "ΔE00", "metamerism", "target changes", "recipe changes"]
        click.echo("\n".join(table(header, rows, indent="     ")))


def _show_grounds(choices: tuple[GroundChoice, ...]) -> None:
    """Print what each ground of the shelf asks for."""
    if not choices:
        return
    click.echo()
    rows = [
        [c.ground, "-" if c.build_um is None else f"{c.build_um:.0f}", "-" if c.coats is None else str(c.coats)]
        for c in choices
    ]
    header = ["over the ground", "no longer seen from µm", "coats"]
    click.echo("\n".join(table(header, rows)))
    if saved := _saved(choices):
        click.echo(f"  {saved}")


def _saved(choices: tuple[GroundChoice, ...]) -> str:
    """Return what the best ground saves against the one that asks most; "" when there is nothing to tell."""
    hidden = [choice for choice in choices if choice.build_um is not None and choice.coats is not None]
    shows = [choice.ground for choice in choices if choice.build_um is None]
    if hidden and shows:
        return f"over {hidden[0].ground} it hides; {', '.join(shows)} shows through at any build"
    if len(hidden) < 2:
        return ""
    best, most = hidden[0], hidden[-1]
    less = (most.build_um or 0) - (best.build_um or 0)
    coats = (most.coats or 0) - (best.coats or 0)
    if less < 1:
        return ""
    told = f"over {best.ground} the film can be {less:.0f} µm thinner than over {most.ground}"
    return f"{told}, {coats} coat{'s' if coats > 1 else ''} less" if coats else told


def show_recipe(rank: int, recipe: Recipe, harming: Sequence[Tint] = (), unseen: float | None = None) -> None:
    """Print one recipe: what it promises and what to weigh."""
    from finishmatch.colour.display import lab_to_hex

    click.echo(f"  {rank}. {swatch(lab_to_hex(recipe.lab))} {_merits(recipe)}")
    click.echo("\n".join(table(["tint", "grams", "on the scale"], weigh_out_rows(recipe.parts), indent="     ")))
    for note in recipe.notes:
        click.echo(f"     {note}")
    if recipe.intervals:
        told = "   ".join(f"{light} {low:.2f} to {high:.2f}" for light, (low, high) in recipe.intervals.items())
        click.echo(f"     the first card, 95 times in 100: ΔE00 {told}")
    if recipe.hiding_build_um is not None:
        by = "contrast ratio 0.98" if unseen is None else f"black and white within ΔE00 {unseen:g}"
        click.echo(f"     hides ({by}) from {recipe.hiding_build_um:.0f} µm dry")
    if recipe.contrast_ratio is not None:
        click.echo(f"     contrast ratio of the film {recipe.contrast_ratio:.3f}")
    for tint in harming:
        click.echo(f"     ! {hazard_line(tint)}")


def _merits(recipe: Recipe) -> str:
    told = "  ".join(f"{light} {de:.2f}" for light, de in recipe.lights.items())
    metamerism = "" if recipe.metamerism is None else f"   metamerism {recipe.metamerism:.2f}"
    return (
        f"{recipe.grams:g} g   predicted ΔE00 {told}{metamerism}   cost {recipe.cost:.2f}   "
        f"weighing ±{recipe.sensitivity_de00_p95:.2f}"
    )
