"""A list of recipes on the page: what each promises, what to weigh, what it takes to hide."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import click

from finishmatch.cli.common import BY_LETDOWN, NO_THIN_PANELS, ranges, say_cautions, say_warnings, swatch, table
from finishmatch.cli.letdowns_shown import show_letdowns
from finishmatch.cli.option_names import with_options
from finishmatch.cli.other_lights import risks_said
from finishmatch.colour.display import lab_to_hex
from finishmatch.colour.inconstancy import LightRow
from finishmatch.ledger import describe_strengths, share_words
from finishmatch.mix.hiding_build import GroundChoice
from finishmatch.mix.recipe import Recipe
from finishmatch.optics import Tint
from finishmatch.steps.hazards import cautions_by, hazard_line
from finishmatch.steps.mix import Mixed, MixRequest
from finishmatch.steps.tins_to_try import TinToTry, to_try_in_words
from finishmatch.steps.todays_tins import TodaysTins


def weigh_out_rows(
    parts: tuple[tuple[str, float], ...], running: float = 0.0, by_letdown: Collection[str] = ()
) -> list[list[str]]:
    """Return rows of a weigh-out table: tint, grams, and what the scale shows when poured on top of one another.

    `running` grams are in the tin already; what is poured by a letdown comes last and stands on no scale.
    """
    rows = []
    for tint, grams in sorted(parts, key=lambda part: part[0] in by_letdown):
        if tint in by_letdown:
            rows.append([tint, _grams(grams), BY_LETDOWN])
            continue
        running += grams
        rows.append([tint, _grams(grams), _grams(running)])
    return rows


def _grams(grams: float) -> str:
    """Return a weight to a tenth of a gram, or to what a finer scale gave."""
    return f"{grams:.1f}" if abs(grams * 10 - round(grams * 10)) < 1e-6 else f"{round(grams, 4):g}"


def show_tins(tins: TodaysTins) -> None:
    """Print what the bank as of today is, and which strengths of today's tins are used, where some are."""
    if tins.bank is not None and tins.bank.words:
        click.echo(f"  {tins.bank.words}")
    if tins.of_panels:
        others = [tint for tint in tins.lots if tint not in tins.of_panels]
        which = f", all but {', '.join(others)}" if others else ""
        if len(others) > len(tins.of_panels):
            which = f": {', '.join(tins.of_panels)}"
        click.echo(f"  poured from the tins that the panels were drawn from{which}")
    if tins.prior is None or not tins.sprayed:
        return
    cards = [one for one in tins.spray_outs if one not in tins.letdowns]
    letdowns = [one for one in tins.spray_outs if one in tins.letdowns]
    shown = " and ".join(_numbered(*of) for of in (("spray-out", cards), ("letdown", letdowns)) if of[1])
    prior = tins.prior.among(tins.sprayed)
    known = describe_strengths(prior.names, prior.log_mean.tolist(), prior.sd.tolist())
    click.echo(f"  strengths of today's tins from {shown} are used: {known}")


def _numbered(what: str, entries: Sequence[tuple[str, int]]) -> str:
    """Return "spray-outs #2, #5 and #7 of J1"."""
    *others, last = [f"#{number}" + (f" of {job}" if job else "") for job, number in entries]
    return f"{what}s {', '.join(others)} and {last}" if others else f"{what} {last}"


def show_mixed(mixed: Mixed, request: MixRequest, explain: bool, job: str | None = None) -> None:
    """Print the recipes, what each ground asks for, and what is to be borne in mind."""
    goal, found, shown = mixed.target, mixed.found, request.recipes
    lab = goal.labs[0]
    click.echo(
        f"  {swatch(lab_to_hex(lab))} target {goal.name}: L* {lab[0]:.2f}  a* {lab[1]:.2f}  b* {lab[2]:.2f} "
        f"({goal.lights[0]}, {goal.observer}°)"
    )
    click.echo(f"  {found.searched.in_words}")
    if mixed.by_record.words_of_ranges:
        click.echo(f"  {mixed.by_record.words_of_ranges}")
    backing = mixed.film.optics.backing
    if backing is not None:
        click.echo(f"  matched as a film of {backing.build_um:g} µm over {backing.name}")
    for rank, recipe in enumerate(found.recipes[:shown], start=1):
        click.echo()
        show_recipe(rank, recipe, mixed.harmful_in(recipe), mixed.target.u95)
        if rank == 1:
            _show_about_first(recipe, mixed.why_harder, mixed.tins_to_try)
    left = len(found.recipes) - shown
    if left > 0:
        click.echo(f"\n  {left} more with --recipes {len(found.recipes)}")
    if explain:
        click.echo("\n  why the first is first")
        for line in mixed.why_first:
            click.echo(f"     {line}")
        _show_every_light(goal.lights[0], mixed.every_light)
    _show_grounds(mixed.grounds)
    if not mixed.film.optics.per_um:
        click.echo(f"\n  {NO_THIN_PANELS}")
    if mixed.warnings or not found.within:
        click.echo()
    if not found.within:
        click.echo(with_options(f"  outside the tolerance of {mixed.match.tolerance:g}: {found.why}"))
    say_warnings(mixed.warnings)
    say_cautions(mixed.cautions(shown), job, mixed.recorded, cautions_by(mixed.tints))


def _show_about_first(recipe: Recipe, why_harder: str, to_try: Sequence[TinToTry]) -> None:
    """Print what to pour of the first recipe before its card, or to try, and why it stands before simpler ones."""
    pour = recipe.first_pour
    if pour is None:
        show_letdowns(recipe.letdowns, recipe.parts)
    else:
        straight, cups = [], {one.tint for one in pour.letdowns}
        for tint, grams in sorted(pour.parts, key=lambda part: part[0] in cups):
            straight.append(f"{tint} {grams:g}" + (" by a letdown" if tint in cups else ""))
        click.echo(f"     at first pour {', '.join(straight)}")
        click.echo(
            f"     that is {share_words(pour.share)} of it, for tins not known well: spray a card, and judge tells "
            f"how to pour the rest (without a job: correct --fill-to {recipe.grams:g}); the batch outgrows its weight "
            f"by {pour.growth:.0%} on the average then, all at once by {pour.growth_at_once:.0%}"
        )
        click.echo(f"     that card: expect {ranges(pour.intervals)}")
        show_letdowns(pour.letdowns, pour.parts)
    if to_try:
        click.echo(
            f"     or try the tins before anything is poured, by a letdown beside its panel: {to_try_in_words(to_try)} "
            "(finishmatch job tin PANEL --seen PHOTO, or --read), and mix again"
        )
    if why_harder:
        click.echo(f"     why this one: {why_harder}")


def _show_every_light(reference: str, every_light: Sequence[LightRow]) -> None:
    """Print the first recipe in every light, with how much target and recipe change in it by themselves."""
    rows = [
        [
            row.light,
            f"{row.de00:.2f}",
            f"{row.metamerism:.2f}",
            f"{row.target_inconstancy:.2f}",
            f"{row.recipe_inconstancy:.2f}",
        ]
        for row in every_light
    ]
    if rows:
        click.echo(f"\n  the first in every light, against {reference}")
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
    """Return what the best ground saves against the one that asks most; "" when it saves nothing."""
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
    thinner = f"over {best.ground} the film can be {less:.0f} µm thinner than over {most.ground}"
    return f"{thinner}, {coats} coat{'s' if coats > 1 else ''} less" if coats else thinner


def show_recipe(rank: int, recipe: Recipe, harming: Sequence[Tint] = (), u95: float | None = None) -> None:
    """Print one recipe: what it promises and what to weigh; `u95` is what the target's colour is known to."""
    click.echo(f"  {rank}. {swatch(lab_to_hex(recipe.lab))} {_merits(recipe)}")
    rows = weigh_out_rows(recipe.parts, by_letdown=[one.tint for one in recipe.letdowns])
    click.echo("\n".join(table(["tint", "grams", "on the scale"], rows, indent="     ")))
    for note in recipe.notes:
        click.echo(with_options(f"     {note}"))
    if recipe.intervals:
        click.echo(f"     the first card: expect {ranges(recipe.intervals)}")
    if recipe.intervals_itself and u95 is not None:
        itself = f"against the colour itself, which the target tells to ±{u95:.1f}"
        click.echo(f"     {itself}: {ranges(recipe.intervals_itself)}")
    if said := risks_said(recipe.risks):
        click.echo(f"     {said}")
    if recipe.hiding_build_um is not None:
        within = recipe.hides_within_de00
        by = "contrast ratio 0.98" if within is None else f"black and white within ΔE00 {within:g}"
        click.echo(f"     hides ({by}) from {recipe.hiding_build_um:.0f} µm dry")
    if recipe.contrast_ratio is not None:
        click.echo(f"     contrast ratio of the film {recipe.contrast_ratio:.3f}")
    for tint in harming:
        click.echo(f"     ! {hazard_line(tint)}")


def _merits(recipe: Recipe) -> str:
    by_light = "  ".join(f"{light} {de:.2f}" for light, de in recipe.lights.items())
    metamerism = "" if recipe.metamerism is None else f"   metamerism {recipe.metamerism:.2f}"
    return (
        f"{recipe.grams:g} g   predicted ΔE00 {by_light}{metamerism}   cost {recipe.cost:.2f}   "
        f"weighing ±{recipe.sensitivity_de00_p95:.2f}"
    )
