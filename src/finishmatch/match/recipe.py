"""Recipes in grams for a target: search, refine, weigh, and the Pareto list of what is left."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from finishmatch.colour import Floats, difference_words, metamerism_index, reflectance_to_lab
from finishmatch.errors import InputError
from finishmatch.match.pareto import pareto_front
from finishmatch.match.refine import Candidates, candidate_reflectance, joined, refine
from finishmatch.match.screen import screen
from finishmatch.match.subsets import Ints
from finishmatch.match.target import ColourTarget
from finishmatch.match.weighing import Scale, polished, rounded, weighed_grams, weighing_sensitivity
from finishmatch.optics import Tint, TintOptics, mixture_reflectance

MAX_TINTS = 5
LARGEST_ENLARGEMENT = 2.0
WORTH_ENLARGING_DE00 = 0.1  # what keeping a tiny part must gain before a larger batch is mixed for it
ALIKE_DE00 = 0.02  # recipes no further apart than this are told apart by their other merits
_FINALISTS = 90
_USELESS_DE00 = 1.0  # recipes this much worse than the best aren't listed


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
    notes : tuple of str
        What was done to make it weighable.
    """

    parts: tuple[tuple[str, float], ...]
    reflectance: Floats
    lab: Floats
    lights: dict[str, float]
    metamerism: float | None
    cost: float
    sensitivity_de00_p95: float
    notes: tuple[str, ...] = ()
    hiding_build_um: float | None = None

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
    """The recipes, best first; whether the best is within the tolerance, and if not, why."""

    recipes: tuple[Recipe, ...]
    within: bool
    why: str
    subsets_searched: int
    warnings: tuple[str, ...] = field(default=())


def propose_recipes(
    target: ColourTarget,
    optics: TintOptics,
    tints: tuple[Tint, ...],
    grams: float,
    scale: Scale | None = None,
    max_tints: int = MAX_TINTS,
    tolerance: float = 1.0,
) -> RecipeList:
    """Return the recipes that match a target best, as a painter can weigh them.

    Parameters
    ----------
    target : ColourTarget
    optics : TintOptics
        Of the tints that may be used.
    tints : tuple of Tint
        The bank's, for stock and price.
    grams : float
        Weight of the batch.
    scale : Scale or None
    max_tints : int
        1 to 5.
    tolerance : float
        ΔE00 in the worst light within which the target counts as reached.

    Returns
    -------
    RecipeList
        The Pareto set of worst-light difference, metamerism, number of tints, cost and sensitivity to weighing.

    Raises
    ------
    InputError
        When grams, scale, stock or tints leave nothing to mix.

    Notes
    -----
    Every subset of up to `max_tints` tints is solved in the relaxed problem (`screen`); the best few hundred are
    refined on ΔE00 in all lights and the spectral misfit, the best of those on the worst light, then in whole scale
    steps. Opaque two-constant theory: the film is taken to hide.
    """
    scale = scale or Scale()
    _check(grams, scale, max_tints)
    bank = {tint.name: tint for tint in tints}
    stocked = [name for name in optics.names if bank[name].stock_g >= scale.smallest_g]
    warnings = list(target.warnings)
    empty = [name for name in optics.names if name not in stocked]
    if empty:
        warnings.append(f"{', '.join(empty)}: the stock is below the smallest weighable part; left out")
    if not stocked:
        raise InputError("the bank", "has no tint in stock", "enter stock_g in tints.csv")
    optics = optics.chosen(stocked)
    stock = np.array([bank[name].stock_g for name in stocked])
    if stock.sum() < grams:
        raise InputError("--grams", f"{grams:g} g is more than the whole stock of {stock.sum():g} g", "mix less")
    limits = np.minimum(stock / grams, 1.0)
    candidates, searched = screen(target, optics, max_tints, limits)
    finalists = _finalists(candidates, optics, target, limits)
    weighed = [
        recipe
        for i in range(len(finalists))
        if (recipe := _weigh(finalists[[i]], optics, target, stock, bank, grams, scale)) is not None
    ]
    if not weighed:
        raise InputError(
            "--grams", f"no recipe of {grams:g} g has parts of at least {scale.smallest_g:g} g", "mix a larger batch"
        )
    recipes = _listed(weighed)
    best = recipes[0]
    within = best.worst_de00 <= tolerance
    why = "" if within else _why_not(best, target, optics, candidates, limits, tolerance)
    return RecipeList(recipes, within, why, searched, tuple(warnings))


def _check(grams: float, scale: Scale, max_tints: int) -> None:
    if not (np.isfinite(grams) and 0 < grams <= 1e6):
        raise InputError("--grams", f"{grams:g} g can't be mixed", "give the weight of the batch, above 0")
    if not (np.isfinite(scale.step_g) and 0 < scale.step_g <= grams / 10):
        raise InputError("--scale-step", f"a step of {scale.step_g:g} g can't weigh {grams:g} g", "use a finer scale")
    if not (np.isfinite(scale.smallest_g) and scale.step_g <= scale.smallest_g <= grams):
        raise InputError(
            "--smallest", f"{scale.smallest_g:g} g can't be the smallest part", "between the scale's step and the batch"
        )
    if not 1 <= max_tints <= MAX_TINTS:
        raise InputError("--max-tints", f"{max_tints} tints can't be searched", f"use 1 to {MAX_TINTS}")


def _finalists(candidates: Candidates, optics: TintOptics, target: ColourTarget, limits: Floats) -> Candidates:
    """Refine to the end, on the worst light, the best of each number of tints."""
    worst = target.differences(candidate_reflectance(candidates, optics)).max(axis=1)
    size = (candidates.members >= 0).sum(axis=1)
    order = np.argsort(worst, kind="stable")
    best = order[:_FINALISTS]
    per_size = [order[size[order] == s][:15] for s in np.unique(size)]
    chosen = candidates[np.unique(np.concatenate([best, *per_size]))]
    fair = refine(chosen, optics, target, limits)
    sharp = refine(fair, optics, target, limits, minimax=True, rounds=30, spectral_weight=1.0)
    return _better(fair, sharp, optics, target)


def _better(a: Candidates, b: Candidates, optics: TintOptics, target: ColourTarget) -> Candidates:
    """Return for each candidate the version whose worst light is the nearer."""
    first, second = (target.differences(candidate_reflectance(c, optics)).max(axis=1) for c in (a, b))
    return Candidates(a.members, np.where((second < first)[:, None], b.shares, a.shares))


def _weigh(
    candidate: Candidates,
    optics: TintOptics,
    target: ColourTarget,
    stock: Floats,
    bank: dict[str, Tint],
    grams: float,
    scale: Scale,
) -> Recipe | None:
    """Return a candidate in whole scale steps; tiny parts are dropped, or the batch enlarged where that pays."""
    used = candidate.members[0] >= 0
    members, shares = candidate.members[0][used], candidate.shares[0][used]
    weights = shares * grams
    tiny = weights < scale.smallest_g * (1 - 1e-9)
    if (weights < scale.step_g / 2).any():
        return None  # in truth a recipe of fewer tints, which was searched too
    if not tiny.any():
        return _recipe(members, shares, optics, target, stock, bank, grams, scale, ())
    dropped = None
    if not tiny.all():
        less = refine(
            Candidates(members[None, ~tiny], shares[None, ~tiny]), optics, target, np.minimum(stock / grams, 1)
        )
        if (less.shares * grams >= scale.smallest_g).all():
            note = "; ".join(
                f"{weight:.2g} g of {optics.names[member]} left out, too little to weigh"
                for member, weight in zip(members[tiny], weights[tiny], strict=True)
            )
            dropped = _recipe(less.members[0], less.shares[0], optics, target, stock, bank, grams, scale, (note,))
    factor = float(scale.smallest_g / weights.min())
    larger = float(np.ceil(grams * factor * 1.001 / scale.step_g) * scale.step_g)
    if factor > LARGEST_ENLARGEMENT or (shares * larger > stock[members]).any():
        return dropped
    note = f"batch enlarged from {grams:g} g to {larger:.1f} g, so that the smallest part can be weighed"
    enlarged = _recipe(members, shares, optics, target, stock, bank, larger, scale, (note,))
    if dropped and (enlarged is None or dropped.worst_de00 <= enlarged.worst_de00 + WORTH_ENLARGING_DE00):
        return dropped
    return enlarged


def _recipe(
    members: Ints,
    shares: Floats,
    optics: TintOptics,
    target: ColourTarget,
    stock: Floats,
    bank: dict[str, Tint],
    grams: float,
    scale: Scale,
    notes: tuple[str, ...],
) -> Recipe | None:
    names = [optics.names[int(member)] for member in members]
    own = optics.chosen(names)
    highest = np.floor(stock[members] / scale.step_g + 1e-9).astype(np.int64)
    start = np.minimum(rounded(shares, grams, scale.step_g), highest)
    start[int(np.argmax(highest - start))] += round(grams / scale.step_g) - int(start.sum())
    if (start < scale.smallest_steps).any() or (start > highest).any():
        return None
    steps, _ = polished(start, scale.smallest_steps, highest, own, target)
    weights = weighed_grams(steps.astype(float) * scale.step_g, scale.step_g)
    reflectance = mixture_reflectance(weights * own.dry_ml_per_g, own.K, own.S, own.surface)
    reference = target.lights[0]
    order = np.argsort(-weights, kind="stable")
    return Recipe(
        parts=tuple((names[i], float(weights[i])) for i in order),
        reflectance=reflectance,
        lab=reflectance_to_lab(reflectance, reference, target.observer),
        lights={light: float(de) for light, de in zip(target.lights, target.differences(reflectance), strict=True)},
        metamerism=worst_metamerism(target, reflectance),
        cost=float(sum(w / 1000 * bank[name].price_per_kg for name, w in zip(names, weights, strict=True))),
        sensitivity_de00_p95=weighing_sensitivity(weights, scale.step_g, own, reference, target.observer),
        notes=notes,
    )


def worst_metamerism(target: ColourTarget, reflectance: Floats) -> float | None:
    """Return the worst special metamerism index over the lights after the first, or None when it can't be known."""
    if target.reflectance is None or len(target.lights) < 2:
        return None
    reference, *others = target.lights
    return max(
        float(metamerism_index(target.reflectance, reflectance, reference, test, target.observer)) for test in others
    )


def _listed(recipes: list[Recipe]) -> tuple[Recipe, ...]:
    """Return the Pareto set, best first; alike recipes are ordered by fewer tints, then robustness and cost."""
    unique = list({recipe.parts: recipe for recipe in recipes}.values())
    least = min(recipe.worst_de00 for recipe in unique)
    useful = [recipe for recipe in unique if recipe.worst_de00 <= least + _USELESS_DE00]
    merits = np.array(
        [[r.worst_de00, r.metamerism or 0.0, len(r.parts), r.cost, r.sensitivity_de00_p95] for r in useful]
    )
    front = [
        useful[i] for i in pareto_front(merits, alike=np.array([0.005, 0.005, 0, 0.005 * merits[:, 3].max(), 0.005]))
    ]

    def order(recipe: Recipe) -> tuple[float, ...]:
        as_good = recipe.worst_de00 <= least + ALIKE_DE00
        others = (len(recipe.parts), recipe.sensitivity_de00_p95 + (recipe.metamerism or 0.0), recipe.cost)
        return (0.0, *others) if as_good else (recipe.worst_de00, *others)

    return tuple(sorted(front, key=order))


def _why_not(
    best: Recipe, target: ColourTarget, optics: TintOptics, candidates: Candidates, limits: Floats, tolerance: float
) -> str:
    """Tell what keeps the target out of reach."""
    nearest = f"the nearest is ΔE00 {best.worst_de00:.2f} away in the worst light"
    near = joined([candidates])[:200]

    def least(goal: ColourTarget, held: Floats) -> tuple[float, Floats]:
        free = refine(near, optics, goal, held, minimax=True, rounds=30, spectral_weight=0.0)
        worst = goal.differences(candidate_reflectance(free, optics)).max(axis=1)
        return float(worst.min()), free.shares[int(np.argmin(worst))]

    if (limits < 1).any() and least(target, np.ones_like(limits))[0] <= tolerance:
        short = [
            name
            for name, grams in best.parts
            if grams >= limits[optics.index(name)] * best.grams - 0.5 and limits[optics.index(name)] < 1
        ]
        return (
            f"the stock is too small ({', '.join(short) or 'of some tints'}); {nearest}; a smaller batch may reach it"
        )
    one = ColourTarget(target.name, target.reflectance, target.lights[:1], target.observer, target.labs[:1])
    if len(target.lights) > 1 and least(one, limits)[0] <= tolerance:
        return (
            f"it can be matched in {target.lights[0]} but not in {', '.join(target.lights[1:])} at once, "
            f"since these tints are not those it was made of (metamerism); {nearest}"
        )
    words = difference_words(best.lab, target.labs[0])
    beyond = " and ".join(words[:2]) or "further off in another light"
    return f"the colour is outside what these tints can make: it is {beyond} than any mixture; {nearest}"
