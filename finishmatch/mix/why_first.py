"""Why the first recipe stands first, what a harder one gains, and what each of the others is listed for."""

from __future__ import annotations

from finishmatch.mix.recipe import Recipe, RecipeList
from finishmatch.mix.shortlist import ALIKE_DE00, SEEN_DE00, Bench, as_near

_CLEARLY = 0.005  # differences below this don't show in what is printed


def why_first(found: RecipeList, bench: Bench) -> tuple[str, ...]:
    """Return sentences on what put the first recipe first, and on the merits that keep each other one in the list."""
    first, *others = found.recipes
    nearest = min(recipe.worst_de00 for recipe in found.recipes)
    alike = len(as_near(list(found.recipes), bench)) - 1
    counts = f"what lies within {ALIKE_DE00:g} of it counts as alike"
    if found.within:
        counts = f"less than {SEEN_DE00:g} isn't seen"
    best = f"its worst light is predicted at {first.worst_de00:.2f}; the best of all is {nearest:.2f}"
    reasons = [f"{best}, and {counts}"]
    if found.within and not bench.inside(first):
        reasons = [f"{best}. {_sooner_near(found, bench)}"]
    if alike:
        those = "1 more is" if alike == 1 else f"{alike} more are"
        reasons.append(
            f"{those} as near, as predicted and as the first card may come out; of these it is the simplest: fewest "
            "tints, none too little to pour surely, none fighting another"
        )
    else:
        reasons.append("none other comes as near")
    reasons += [
        f"{rank} is listed because it {_merits(recipe, first, bench)}" for rank, recipe in enumerate(others, start=2)
    ]
    return tuple(reasons)


def why_harder(found: RecipeList, bench: Bench) -> str:
    """Return what the first recipe gains by being harder than another inside the tolerance, or by not being inside.

    Empty where it is neither.
    """
    first, *others = found.recipes
    if found.within and not bench.inside(first):
        return _sooner_near(found, bench)
    fights = " and ".join(f"{one} and {other} grey each other" for one, other in first.greying)
    simpler = [r for r in others if bench.effort(r) < bench.effort(first) and (bench.inside(r) or not found.within)]
    if not simpler:
        only = "nothing simpler is inside the tolerance" if found.within else "nothing simpler comes as near"
        return f"{fights}: {only}" if fights else ""
    least = min(simpler, key=lambda recipe: (bench.effort(recipe), recipe.distance))
    said = [f"number {_rank(found, least)} is simpler ({len(least.parts)} tints), but {_loses(least, first)}"]
    peaceful = [recipe for recipe in simpler if fights and not recipe.greying]
    rival = min(peaceful, key=lambda recipe: (recipe.expected_de00, recipe.distance), default=least)
    if rival is not least:
        said.insert(0, f"the tints of number {_rank(found, rival)} don't, but {_loses(rival, first)}")
    return "; ".join([fights, *said] if fights else said)


def _rank(found: RecipeList, recipe: Recipe) -> int:
    return found.recipes.index(recipe) + 1


def _sooner_near(found: RecipeList, bench: Bench) -> str:
    """Return why a recipe stands first that is predicted a little outside the tolerance."""
    first = found.recipes[0]
    best = min((one for one in found.recipes if bench.inside(one)), key=lambda one: one.expected_de00)
    return (
        f"inside the tolerance the best is number {_rank(found, best)}, predicted at {best.worst_de00:.2f}; "
        "but it hangs more on what tins and scale are off by: its first card is expected at ΔE00 "
        f"{best.expected_de00:.2f} instead of {first.expected_de00:.2f}"
    )


def _loses(simpler: Recipe, first: Recipe) -> str:
    """Return in what a simpler recipe falls short of the first by as much as is seen."""
    worse = {light: de - first.lights[light] for light, de in simpler.lights.items()}
    light = max(worse, key=lambda name: worse[name])
    if worse[light] > SEEN_DE00:
        return f"it is predicted at ΔE00 {simpler.lights[light]:.2f} in {light} instead of {first.lights[light]:.2f}"
    if simpler.risks and simpler.expected_metamerism > first.expected_metamerism + SEEN_DE00:
        risk = max(simpler.risks, key=lambda one: one.median)
        own = next(one for one in first.risks if one.light == risk.light)
        return f"it may part from the standard by ΔE00 {risk.median:.1f} in {risk.light} instead of {own.median:.1f}"
    return f"its first card is expected at ΔE00 {simpler.expected_de00:.2f} instead of {first.expected_de00:.2f}"


def _merits(recipe: Recipe, first: Recipe, bench: Bench) -> str:
    """Return in which respects a recipe beats the first one."""
    metamerism = (recipe.expected_metamerism, first.expected_metamerism)
    shows = "may show" if recipe.risks else "has"
    slips = (recipe.sensitivity_de00_p95, first.sensitivity_de00_p95)
    merits = [
        (len(recipe.parts), len(first.parts), "has {} tints instead of {}", "d"),
        (recipe.cost, first.cost, "costs {} instead of {}", ".2f"),
        (*metamerism, f"{shows} a metamerism of {{}} instead of {{}}", ".2f"),
        (recipe.expected_de00, first.expected_de00, "has a first card expected at {} instead of {}", ".2f"),
        (*slips, "suffers ±{} instead of ±{} from the scale", ".2f"),
        (recipe.worst_de00, first.worst_de00, "is predicted at {} instead of {}", ".2f"),
    ]
    better = [text.format(f"{own:{kind}}", f"{its:{kind}}") for own, its, text, kind in merits if own < its - _CLEARLY]
    easier = bench.effort(recipe) < bench.effort(first) and len(recipe.parts) >= len(first.parts)
    better += ["is easier to pour, or of tints that don't fight"] if easier else []
    return " and ".join(better) if better else "beats another of the list"
