"""Which recipes are worth a look, and in what order: inside the tolerance the simplest that is as near as is seen."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats
from finishmatch.mix.recipe import Recipe
from finishmatch.mix.weighed_recipe import Weighed

ALIKE_DE00 = 0.02  # recipes out of tolerance no further apart than this are ranked by their other merits
SEEN_DE00 = 0.3  # a painter sees no less than this («common practice»)
# nor, of what the first card is expected to differ by anyway, less than a tenth, and never less than this («common
# practice»)
EXPECTED_SHARE, EXPECTED_LEAST = 0.1, 0.05
RISKS_ALIKE_DE00 = 0.2  # what may be, of a standard without a spectrum, is known no better
RELIABLE_STEPS = 10  # of the scale, from which a pour is good to a tenth («common practice»)
_USELESS_DE00 = 1.0  # recipes this much worse than the best aren't listed
# times the tolerance that may be predicted of what is expected nearer than all inside: of more, corrections leave more
# in the booth
_OUTSIDE = 1.5
_SMALL_PART, _GREYING = 0.5, 1.0  # what a part too small to pour surely, and two tints that grey each other, count


@dataclass(frozen=True)
class Bench:
    """What makes a recipe inconvenient: a tolerance to be inside of, and the step of the scale, grams."""

    tolerance: float
    step_g: float

    def effort(self, recipe: Recipe) -> float:
        """Return the tints of a recipe, a small part counted half as much again, tints that fight as one more."""
        small = sum(grams < RELIABLE_STEPS * self.step_g - 1e-9 for _, grams in recipe.parts)
        return len(recipe.parts) + _SMALL_PART * small + _GREYING * len(recipe.greying)

    def inside(self, recipe: Recipe) -> bool:
        """Return whether a recipe is inside the tolerance."""
        return recipe.worst_de00 <= self.tolerance


def shortlist(
    weighed: list[Weighed],
    bench: Bench,
    expected: Callable[[Weighed], Recipe],
    told: Callable[[Recipe], Recipe],
) -> tuple[Recipe, ...]:
    """Return the Pareto set, best first, and what comes first for its first card.

    Parameters
    ----------
    weighed : list of Weighed
    bench : Bench
    expected : callable
        Makes a recipe of one, with what its first card is expected to differ by.
    told : callable
        Gives it what else is to be told of one that is listed.

    Notes
    -----
    None counts as nearer by less than is seen: in what is predicted (`SEEN_DE00`), or in what the first card is
    expected to show (`EXPECTED_SHARE` of it besides), or in what it may part by in further lights from a target of
    which only CIELAB is known. Of the nearest that are inside the tolerance the one of least effort comes first. Where
    all of these hang more on what tins and scale are off by, one whose first card is expected nearer may do, though it
    is predicted a little outside (`_OUTSIDE`). Where none is inside, the nearest comes first.
    """
    # the same parts may come with a note and without: what was left out of them is worth saying
    unique = list({each.parts: each for each in sorted(weighed, key=lambda w: bool(w.notes))}.values())
    least = min(each.distance for each in unique)
    useful = [expected(each) for each in unique if each.distance <= least + _USELESS_DE00]
    merits = np.array(
        [[r.distance, r.expected_metamerism, bench.effort(r), r.cost, r.sensitivity_de00_p95] for r in useful]
    )
    by_guess = any(r.risks for r in useful)  # how they part in other lights
    alike = np.array([0.005, RISKS_ALIKE_DE00 if by_guess else 0.005, 0, 0.005 * merits[:, 3].max(), 0.005])
    first = as_near(useful, bench)

    def order(recipe: Recipe) -> tuple[float, ...]:
        others = (bench.effort(recipe), round(recipe.expected_de00, 1), recipe.expected_metamerism, recipe.cost)
        if recipe in first:
            return (0.0, *others)
        return (1.0 if bench.inside(recipe) else 2.0, recipe.distance, *others)

    listed = [useful[i] for i in pareto_front(merits, alike)]
    for recipe in (min(first, key=order), min(first, key=lambda r: (r.expected_de00, order(r)))):
        listed += [] if recipe in listed else [recipe]
    return tuple(told(recipe) for recipe in sorted(listed, key=order))


def as_near(recipes: list[Recipe], bench: Bench) -> list[Recipe]:
    """Return the recipes that none comes nearer than by as much as is seen; of those inside where one of them is."""
    nearest = min(recipe.distance for recipe in recipes)
    if not any(bench.inside(recipe) for recipe in recipes):
        return [recipe for recipe in recipes if recipe.distance <= nearest + ALIKE_DE00]
    recipes = [recipe for recipe in recipes if recipe.worst_de00 <= _OUTSIDE * bench.tolerance]
    expected = min(recipe.expected_de00 for recipe in recipes)
    most = expected + float(np.clip(EXPECTED_SHARE * expected, EXPECTED_LEAST, SEEN_DE00))
    near = [recipe for recipe in recipes if recipe.expected_de00 <= most]
    inside = [recipe for recipe in near if bench.inside(recipe)]
    if inside:
        near = [r for r in inside if r.distance <= nearest + SEEN_DE00] or inside
    if any(r.risks for r in near):
        least = min(r.expected_metamerism for r in near)
        near = [r for r in near if r.expected_metamerism <= least + SEEN_DE00]
    return near


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
