"""A recipe a painter can weigh, the list of those worth a look, and why each of them is on it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from finishmatch.colour import Floats, metamerism_index
from finishmatch.evidence.target import ColourTarget
from finishmatch.mix.relaxed_search import Searched

ALIKE_DE00 = 0.02  # recipes no further apart than this are ranked by their other merits
_USELESS_DE00 = 1.0  # recipes this much worse than the best aren't listed
_CLEARLY = 0.005  # differences below this don't show in what is printed


@dataclass(frozen=True)
class Recipe:
    """A recipe a painter can weigh out.

    Parameters
    ----------
    parts : tuple of (tint, grams)
        Largest first.
    reflectance : ndarray, shape (31,)
        Predicted.
    lab : ndarray, shape (3,)
        Predicted, in the reference light.
    lights : dict of str to float
        Predicted ΔE00 to the target in each light.
    metamerism : float or None
        Worst special metamerism index against the target over the further lights; None when it can't be known.
    cost : float
        In the currency of the bank's prices.
    sensitivity_de00_p95 : float
        ΔE00 that weighing alone brings, 95 times in 100 at most.
    distance : float
        By which recipes are ranked: ΔE00 in the worst light, for a far target ΔE*ab.
    intervals : dict of str to (low, high)
        What the spray-out's ΔE00 in each light lies within 95 times in 100, by bank, strength of the tins and weighing.
    notes : tuple of str
        What was done to make it weighable.
    hiding_build_um : float or None
        Dry build from which it hides; None when the bank doesn't know or no build does.
    hides_within_de00 : float or None
        It counts as hiding when black and white ground make no more than this; None: by its contrast ratio, 0.98.
    contrast_ratio : float or None
        Y over black over Y over white of a film of the build that was asked for; None when none was.
    """

    parts: tuple[tuple[str, float], ...]
    reflectance: Floats
    lab: Floats
    lights: dict[str, float]
    metamerism: float | None
    cost: float
    sensitivity_de00_p95: float
    distance: float
    intervals: dict[str, tuple[float, float]] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    hiding_build_um: float | None = None
    hides_within_de00: float | None = None
    contrast_ratio: float | None = None

    @property
    def grams(self) -> float:
        """Weight of the batch."""
        return round(sum(grams for _, grams in self.parts), 6)

    @property
    def worst_de00(self) -> float:
        """Predicted ΔE00 in the worst light."""
        return max(self.lights.values())


@dataclass(frozen=True)
class RecipeList:
    """The recipes, best first; whether the best is within the tolerance, and if not, why; and what was searched."""

    recipes: tuple[Recipe, ...]
    within: bool
    why: str
    searched: Searched
    warnings: tuple[str, ...] = field(default=())


def worst_metamerism(target: ColourTarget, reflectance: Floats) -> float | None:
    """Return the worst special metamerism index over the lights after the first, or None when it can't be known."""
    if target.reflectance is None or len(target.lights) < 2:
        return None
    reference, *others = target.lights
    return max(
        float(metamerism_index(target.reflectance, reflectance, reference, test, target.observer)) for test in others
    )


def shortlist(recipes: list[Recipe], expectations: Callable[[Recipe], Recipe]) -> tuple[Recipe, ...]:
    """Return the Pareto set, best first; alike ones by what tins and pours may bring, tints and cost."""
    # the same parts may come with a note and without: what was left out of them is worth saying
    unique = list({recipe.parts: recipe for recipe in sorted(recipes, key=lambda r: bool(r.notes))}.values())
    least = min(recipe.distance for recipe in unique)
    useful = [recipe for recipe in unique if recipe.distance <= least + _USELESS_DE00]
    merits = np.array([[r.distance, r.metamerism or 0.0, len(r.parts), r.cost, r.sensitivity_de00_p95] for r in useful])
    alike = np.array([0.005, 0.005, 0, 0.005 * merits[:, 3].max(), 0.005])
    front = [expectations(useful[i]) for i in pareto_front(merits, alike)]

    def order(recipe: Recipe) -> tuple[float, ...]:
        as_good = recipe.distance <= least + ALIKE_DE00
        # of recipes as good on paper the one that stays so when tins and pours are off
        expected = max(high for _, high in recipe.intervals.values())
        others = (round(expected, 1), len(recipe.parts), expected + (recipe.metamerism or 0.0), recipe.cost)
        return (0.0, *others) if as_good else (recipe.distance, *others)

    return tuple(sorted(front, key=order))


def pareto_front(merits: Floats, alike: Floats) -> list[int]:
    """Return the rows of `merits` that no other row beats.

    Parameters
    ----------
    merits : ndarray, shape (m, k)
        Each column is better when smaller.
    alike : ndarray, shape (k,)
        Differences no larger than this don't count as better.

    Returns
    -------
    list of int
        A row is left out when another is no worse by more than `alike` anywhere and better somewhere by more; of rows
        alike everywhere the first by the first merit stays.
    """
    order = np.lexsort(merits.T[::-1])
    kept: list[int] = []
    for i in order:
        others = merits[[j for j in order if j != i]]
        no_worse = (others <= merits[i] + alike).all(axis=1)
        better = (others < merits[i] - alike).any(axis=1)
        twin = any((np.abs(merits[j] - merits[i]) <= alike).all() for j in kept)
        if not (no_worse & better).any() and not twin:
            kept.append(int(i))
    return kept


def why_first(found: RecipeList) -> tuple[str, ...]:
    """Return sentences on what put the first recipe first, and on the merits that keep each other one in the list."""
    first, *others = found.recipes
    least = min(recipe.distance for recipe in found.recipes)
    alike = sum(recipe.distance <= least + ALIKE_DE00 for recipe in others)
    nearest = min(recipe.worst_de00 for recipe in found.recipes)
    reasons = [
        f"its worst light is predicted at {first.worst_de00:.2f}; the best of all is {nearest:.2f}, and what lies "
        f"within {ALIKE_DE00:g} of it counts as alike"
    ]
    if alike:
        up_to = max((high for _, high in first.intervals.values()), default=first.worst_de00)
        reasons.append(
            f"{alike} more {'is' if alike == 1 else 'are'} alike; of these it is the one that strength of the tins and "
            f"pouring are least likely to spoil (worst light up to {up_to:.2f}), then the one of fewer tints"
        )
    else:
        reasons.append("none other comes as near")
    reasons += [f"{rank} is listed because it {_merits(recipe, first)}" for rank, recipe in enumerate(others, start=2)]
    return tuple(reasons)


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
    better = [text.format(f"{own:{kind}}", f"{its:{kind}}") for own, its, text, kind in merits if own < its - _CLEARLY]
    return " and ".join(better) if better else "beats another of the list"
