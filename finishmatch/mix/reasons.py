"""Why the first recipe of a list was put first, and what each of the others is there for."""

from __future__ import annotations

from finishmatch.mix.recipe import ALIKE_DE00, Recipe, RecipeList

_CLEARLY = 0.005  # differences below this don't show in what is printed


def why_first(found: RecipeList) -> tuple[str, ...]:
    """Return sentences on what put the first recipe first, and on the merits that keep each other one in the list."""
    first, *others = found.recipes
    least = min(recipe.distance for recipe in found.recipes)
    alike = sum(recipe.distance <= least + ALIKE_DE00 for recipe in others)
    nearest = min(recipe.worst_de00 for recipe in found.recipes)
    told = [
        f"its worst light is predicted at {first.worst_de00:.2f}; the best of all is {nearest:.2f}, and what lies "
        f"within {ALIKE_DE00:g} of it counts as alike"
    ]
    if alike:
        up_to = max((high for _, high in first.intervals.values()), default=first.worst_de00)
        told.append(
            f"{alike} more {'is' if alike == 1 else 'are'} alike; of these it is the one that strength of the tins and "
            f"pouring are least likely to spoil (worst light up to {up_to:.2f}), then the one of fewer tints"
        )
    else:
        told.append("none other comes as near")
    told += [f"{rank} is listed because it {_merits(recipe, first)}" for rank, recipe in enumerate(others, start=2)]
    return tuple(told)


def _merits(recipe: Recipe, first: Recipe) -> str:
    """Return in which respects a recipe beats the first one."""
    metamerism = (recipe.metamerism or 0.0, first.metamerism or 0.0)
    slips = (recipe.sensitivity_de00_p95, first.sensitivity_de00_p95)
    merits = [
        (len(recipe.parts), len(first.parts), "has {} tints instead of {}", "d"),
        (recipe.cost, first.cost, "costs {} instead of {}", ".2f"),
        (*metamerism, "has a metamerism of {} instead of {}", ".2f"),
        (*slips, "suffers ±{} instead of ±{} from the scale", ".2f"),
        (recipe.worst_de00, first.worst_de00, "is predicted at {} instead of {}", ".2f"),
    ]
    told = [text.format(f"{own:{kind}}", f"{its:{kind}}") for own, its, text, kind in merits if own < its - _CLEARLY]
    return " and ".join(told) if told else "beats another of the list"
