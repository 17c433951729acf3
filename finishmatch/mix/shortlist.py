"""Which recipes are worth a look, and in what order: inside the tolerance the simplest that is as near as is seen."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np

from finishmatch.colour import Floats
from finishmatch.mix.recipe import Recipe
from finishmatch.mix.weighed import Weighed

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
# recipes of which what letdowns do to them is asked, by each of two merits; what they may bring a recipe nearer by
_CONTENDERS, _BY_LETDOWNS = 5, 0.3
# what a part too small to pour surely, or poured by a letdown, and two tints that grey each other, count
_SMALL_PART, _GREYING = 0.5, 1.0


@dataclass(frozen=True)
class Bench:
    """What makes a recipe inconvenient: a tolerance to be inside of, and the step of the scale, grams."""

    tolerance: float
    step_g: float

    def effort(self, recipe: Recipe) -> float:
        """Return the tints of a recipe, one small or by a letdown counted half as much again, fighting as one more."""
        cups = {one.tint for one in recipe.letdowns}
        small = sum(grams < RELIABLE_STEPS * self.step_g - 1e-9 or tint in cups for tint, grams in recipe.parts)
        return len(recipe.parts) + _SMALL_PART * small + _GREYING * len(recipe.greying)

    def inside(self, recipe: Recipe) -> bool:
        """Return whether a recipe is inside the tolerance."""
        return recipe.worst_de00 <= self.tolerance


def shortlist(
    weighed: list[Weighed],
    bench: Bench,
    expected: Callable[[Weighed], Recipe],
    told: Callable[[Recipe], Recipe],
    poured: Callable[[Weighed], Recipe] | None = None,
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
    poured : callable or None
        Makes a recipe of one as it is best poured, which takes longer: of those that may come first, and that are
        listed. None: as `expected` does.

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
    near = [each for each in unique if each.distance <= least + _USELESS_DE00]
    useful = [expected(each) for each in near]
    as_weighed = {recipe.parts: each for recipe, each in zip(useful, near, strict=True)}
    if poured is not None:
        for i in _contenders(useful, bench):
            useful[i] = poured(near[i])
            as_weighed.pop(useful[i].parts, None)
    # and so may they once they are poured by letdowns
    useful = list({each.parts: each for each in sorted(useful, key=lambda r: bool(r.notes))}.values())
    merits = np.array(
        [[r.distance, r.expected_metamerism, bench.effort(r), r.cost, r.sensitivity_de00_p95] for r in useful]
    )
    by_guess = any(r.risks for r in useful)  # how they part in other lights
    alike = np.array([0.005, RISKS_ALIKE_DE00 if by_guess else 0.005, 0, 0.005 * merits[:, 3].max(), 0.005])
    first = as_near(useful, bench)
    order = partial(_order, bench=bench, as_first={each.parts for each in first})

    listed = [useful[i] for i in pareto_front(merits, alike)]
    listed += [min(first, key=order), min(first, key=lambda r: (r.expected_de00, order(r)))]

    def as_poured(recipe: Recipe) -> Recipe:
        later = as_weighed.get(recipe.parts)
        return recipe if poured is None or later is None else poured(later)

    in_order = [as_poured(recipe) for recipe in sorted(listed, key=order)]
    return tuple(told(recipe) for recipe in {recipe.parts: recipe for recipe in in_order}.values())


def _order(recipe: Recipe, bench: Bench, as_first: set[tuple[tuple[str, float], ...]]) -> tuple[float, ...]:
    others = (bench.effort(recipe), round(recipe.expected_de00, 1), recipe.expected_metamerism, recipe.cost)
    if recipe.parts in as_first:
        return (0.0, *others)
    return (1.0 if bench.inside(recipe) else 2.0, recipe.distance, *others)


def _contenders(recipes: list[Recipe], bench: Bench) -> list[int]:
    """Return the places of those of some recipes, poured straight, that may come first once letdowns bring them nearer:
    the nearest by what is predicted, and by what their first cards are expected to be."""
    near = [i for i, recipe in enumerate(recipes) if recipe.worst_de00 <= _OUTSIDE * bench.tolerance + _BY_LETDOWNS]
    by_both = [
        sorted(near, key=key)[:_CONTENDERS]
        for key in (lambda i: recipes[i].expected_de00, lambda i: recipes[i].distance)
    ]
    fewest = sorted(range(len(recipes)), key=lambda i: recipes[i].distance)[:2]
    return list(dict.fromkeys(i for some in (*by_both, fewest) for i in some))


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
