"""Recipes in grams for a target: search, refine, weigh, and the Pareto list of what is left."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np

from finishmatch.colour import Floats
from finishmatch.errors import InputError
from finishmatch.evidence.target import ColourTarget
from finishmatch.mix.letdowns import fewest_for_a_cup_g
from finishmatch.mix.metamers import Metamers, metamers
from finishmatch.mix.recipe import Recipe, RecipeList
from finishmatch.mix.refine import Candidates, candidate_reflectance, joined, refine, without_traces
from finishmatch.mix.relaxed_search import Searched, search_relaxed
from finishmatch.mix.shortlist import Bench, shortlist
from finishmatch.mix.unreachable import more_than_there, why_not
from finishmatch.mix.weighed import LARGEST_ENLARGEMENT, Batch, Weighed, weigh
from finishmatch.mix.weighed_recipe import recipe_of, straight_recipe, with_all_told
from finishmatch.mix.weighing import Scale
from finishmatch.mix.wishes import MAX_TINTS, RecipeRequest
from finishmatch.optics import Tint, TintOptics

FAR_DE00 = 6.0  # beyond it CIEDE2000 no longer says which of two colours is the nearer («common practice»: about 5)
MOST_G = 1e6  # of a batch
_FINALISTS, _FINALISTS_FOR_ONE = 90, 25  # of a list, and where the first of it alone is wanted


def propose_recipes(
    target: ColourTarget,
    optics: TintOptics,
    tints: tuple[Tint, ...],
    grams: float,
    request: RecipeRequest | None = None,
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
    request : RecipeRequest or None
        Scale, number of tints, tolerance and wishes; None: as usual.

    Returns
    -------
    RecipeList
        The Pareto set of worst-light difference, metamerism, effort, cost and sensitivity to weighing.

    Raises
    ------
    InputError
        When grams, scale, stock or tints leave nothing to mix.

    Notes
    -----
    Every subset of up to `max_tints` tints is solved in the relaxed problem (`search_relaxed`); the best few hundred
    are refined on ΔE00 in all lights and the spectral misfit, the best of those on the worst light, then in whole scale
    steps. A target further off than ΔE00 6 from all of them is searched again by ΔE*ab. What is matched is the film
    that hides, or the film over a ground that the optics' backing says.
    """
    request = request or RecipeRequest()
    batch, warnings = _batch(target, optics, tints, grams, request)
    listed, candidates, searched = _listed(batch)
    within = any(recipe.worst_de00 <= request.tolerance for recipe in listed)
    best, most, scale = listed[0], request.tolerance, request.scale
    why = "" if within else why_not(best, target, batch.optics, candidates, batch.limits, most, scale)
    return RecipeList(listed, within, why, searched, warnings)


def first_recipe(
    target: ColourTarget, optics: TintOptics, tints: tuple[Tint, ...], grams: float, request: RecipeRequest
) -> Recipe:
    """Return the first of the recipes that `propose_recipes` returns, without why there is none nearer."""
    batch, _ = _batch(target, optics, tints, grams, request)
    return _listed(batch, _FINALISTS_FOR_ONE)[0][0]


def _listed(batch: Batch, most: int = _FINALISTS) -> tuple[tuple[Recipe, ...], Candidates, Searched]:
    """Return the recipes worth a look, best first, all candidates, and which subsets were solved."""
    candidates, weighed, searched = _searched(batch, most)
    if min(each.distance for each in weighed) > FAR_DE00:
        batch = replace(batch, target=replace(batch.target, far=True))
        candidates, weighed, searched = _searched(batch, most)
    weighed = _with_risks(weighed, metamers(batch.target, candidates, batch.optics), batch.optics)
    bench = Bench(batch.request.tolerance, batch.request.scale.step_g)
    straight, poured, told = (partial(how, batch=batch) for how in (straight_recipe, recipe_of, with_all_told))
    listed = shortlist(weighed, bench, straight, told, poured)
    return listed, candidates, searched


def _with_risks(weighed: list[Weighed], standards: Metamers | None, optics: TintOptics) -> list[Weighed]:
    """Return what is weighed with how it may part in further lights from a target of which only CIELAB is known."""
    if standards is None:
        return weighed
    own = [(optics.chosen(each.names), each.grams) for each in weighed]
    return [replace(r, risks=standards.risks(*each)) for r, each in zip(weighed, own, strict=True)]


def _batch(
    target: ColourTarget, optics: TintOptics, tints: tuple[Tint, ...], grams: float, request: RecipeRequest
) -> tuple[Batch, tuple[str, ...]]:
    """Return the batch to be mixed, of the tints in stock that are wanted, and what is to be borne in mind."""
    scale, wishes, prior = request.scale, request.wishes, request.prior
    _check(grams, scale, request.max_tints)
    wishes.check(optics.names, request.max_tints)
    bank = {tint.name: tint for tint in tints}
    stocked = [name for name in optics.names if bank[name].stock_g >= scale.smallest_g]
    wishes.check_stock(stocked)
    warnings = [*target.warnings, *wishes.notes]
    empty = [name for name in optics.names if name not in stocked]
    if empty:
        warnings.append(f"{', '.join(empty)}: the stock is below the smallest weighable part; left out")
    stocked = [name for name in stocked if name not in wishes.without]
    if not stocked:
        raise InputError("the bank", "has no tint in stock", "enter stock_g in tints.csv")
    today = optics.chosen(stocked) if prior is None else prior.strengthened(optics.chosen(stocked))
    if grams < fewest_for_a_cup_g(scale.step_g):
        request = replace(request, scale=replace(scale, letdowns=False))
    batch = Batch(target, today, bank, grams, request)
    if batch.stock.sum() < grams:
        raise InputError("`grams`", f"{grams:g} g is more than the whole stock of {batch.stock.sum():g} g", "mix less")
    return batch, tuple(warnings)


def _searched(batch: Batch, most: int) -> tuple[Candidates, list[Weighed], Searched]:
    """Return the candidates, what can be weighed of the best of them, and which subsets were solved."""
    wishes, names = batch.request.wishes, batch.optics.names
    candidates, searched = search_relaxed(
        batch.target,
        batch.optics,
        batch.request.max_tints,
        batch.limits,
        lambda members: wishes.accepts(members, names),
    )
    if wishes.must:
        candidates = joined([part for part in (candidates, _locked_in(batch)) if len(part)])
    if not len(candidates):
        raise InputError("`near`", "no mixture of its tints can be made", "allow more tints, or leave it out")
    finalists = _finalists(candidates, batch.optics, batch.target, batch.limits, most)
    must = [names.index(name) for name in wishes.must]
    finalists = without_traces(finalists, batch.request.scale.too_little_g / batch.grams, must)
    weighed = [each for i in range(len(finalists)) for each in weigh(finalists[[i]], batch)]
    if not weighed:
        _see_that_stock_allows(batch, most)
        smallest = batch.request.scale.smallest_g
        raise InputError(
            "`grams`", f"no recipe of {batch.grams:g} g has parts of at least {smallest:g} g", "mix a larger batch"
        )
    return candidates, weighed, searched


def _see_that_stock_allows(batch: Batch, most: int) -> None:
    """See that there is no recipe from an endless stock either, where the stock holds fewer grams than the batch.

    Raises
    ------
    InputError
        Names what runs short in the nearest of that stock.
    """
    if (batch.limits >= 1).all():
        return
    there = batch.tints
    enough = {name: replace(tint, stock_g=LARGEST_ENLARGEMENT * batch.grams) for name, tint in there.items()}
    _, weighed, _ = _searched(replace(batch, tints=enough), most)
    parts = min(weighed, key=lambda each: each.distance).parts
    short = [(name, need, there[name].stock_g) for name, need in parts if need > there[name].stock_g]
    takes = f": it takes {more_than_there(short)}" if short else ""
    raise InputError("`grams`", f"the stock is too small for {batch.grams:g} g{takes}", "mix less, or fill it up")


def _locked_in(batch: Batch) -> Candidates:
    """Return recipes that hold the locked tints where the colour itself wouldn't ask for them."""
    wishes, max_tints, names = batch.request.wishes, batch.request.max_tints, batch.optics.names
    loose = replace(wishes, must=())
    free, _ = search_relaxed(
        batch.target, batch.optics, max_tints, batch.limits, lambda members: loose.accepts(members, names)
    )
    must = [names.index(name) for name in dict.fromkeys(wishes.must)]
    least = 1.2 * batch.request.scale.smallest_g / batch.grams
    rows = []
    for members, shares in zip(free.members, free.shares, strict=True):
        own = {int(m): float(s) for m, s in zip(members, shares, strict=True) if m >= 0}
        own |= {m: max(own.get(m, 0.0), least) for m in must}
        if len(own) <= max_tints:
            filled = sorted(own.items()) + [(-1, 0.0)] * (free.members.shape[1] - len(own))
            rows.append(filled[: free.members.shape[1]] if len(own) <= free.members.shape[1] else filled)
    if not rows:
        shares = {m: 1.0 / len(must) for m in must}
        rows = [sorted(shares.items())]
    width = max(len(row) for row in rows)
    rows = [row + [(-1, 0.0)] * (max_tints - len(row) if width <= max_tints else 0) for row in rows]
    locked = Candidates(
        np.array([[m for m, _ in row] for row in rows]), np.array([[s for _, s in row] for row in rows])
    )
    locked = Candidates(locked.members, locked.shares / locked.shares.sum(axis=1, keepdims=True))
    return joined([refine(locked, batch.optics, batch.target, batch.limits)])


def _check(grams: float, scale: Scale, max_tints: int) -> None:
    if not (np.isfinite(grams) and 0 < grams <= MOST_G):
        mend = f"give the weight of the batch, above 0, up to {MOST_G:,.0f} g"
        raise InputError("`grams`", f"{grams:g} g can't be mixed", mend)
    if not (np.isfinite(scale.step_g) and 0 < scale.step_g <= grams / 10):
        raise InputError("`scale_step`", f"a step of {scale.step_g:g} g can't weigh {grams:g} g", "use a finer scale")
    if not (np.isfinite(scale.smallest_g) and scale.step_g <= scale.smallest_g <= grams):
        raise InputError(
            "`smallest`", f"{scale.smallest_g:g} g can't be the smallest part", "between the scale's step and the batch"
        )
    if not 1 <= max_tints <= MAX_TINTS:
        raise InputError("`max_tints`", f"{max_tints} tints can't be searched", f"use 1 to {MAX_TINTS}")


def _finalists(
    candidates: Candidates, optics: TintOptics, target: ColourTarget, limits: Floats, most: int
) -> Candidates:
    """Refine to the end, on the worst light, the best of each number of tints."""
    worst = target.distances(candidate_reflectance(candidates, optics)).max(axis=1)
    size = (candidates.members >= 0).sum(axis=1)
    order = np.argsort(worst, kind="stable")
    best = order[:most]
    per_size = [order[size[order] == s][: most // 6] for s in np.unique(size)]
    chosen = candidates[np.unique(np.concatenate([best, *per_size]))]
    fair = refine(chosen, optics, target, limits)
    sharp = refine(fair, optics, target, limits, minimax=True, rounds=30, spectral_weight=1.0)
    return _better(fair, sharp, optics, target)


def _better(a: Candidates, b: Candidates, optics: TintOptics, target: ColourTarget) -> Candidates:
    """Return for each candidate the version whose worst light is the nearer."""
    first, second = (target.distances(candidate_reflectance(c, optics)).max(axis=1) for c in (a, b))
    return Candidates(a.members, np.where((second < first)[:, None], b.shares, a.shares))
