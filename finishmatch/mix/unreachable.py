"""Why a target can't be reached, in the painter's words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from finishmatch.colour import Floats, difference_words
from finishmatch.evidence.target import ColourTarget
from finishmatch.mix.letdowns import fewest_for_a_cup_g
from finishmatch.mix.recipe import Recipe
from finishmatch.mix.refine import Candidates, candidate_reflectance, refine
from finishmatch.mix.relaxed_search import search_relaxed
from finishmatch.mix.weighing import PARTS, Scale
from finishmatch.optics import TintOptics

_TINTS_TRIED = 4  # enough to see whether a colour can be reached at all


def why_not(
    best: Recipe,
    target: ColourTarget,
    optics: TintOptics,
    candidates: Candidates,
    limits: Floats,
    tolerance: float,
    scale: Scale,
) -> str:
    """Return what keeps a target out of reach: stock, scale, pigments (metamerism), ground or gamut.

    Parameters
    ----------
    best : Recipe
        The nearest that can be weighed.
    target : ColourTarget
    optics : TintOptics
    candidates : Candidates
        What was searched and found.
    limits : ndarray, shape (tints,)
        Largest share of the weight each tint may take.
    tolerance : float
        ΔE00 in the worst light.
    scale : Scale
        That it is weighed on.
    """
    nearest = f"the nearest is ΔE00 {best.worst_de00:.2f} away in the worst light"
    near = candidates[np.argsort(target.distances(candidate_reflectance(candidates, optics)).max(axis=1))[:200]]

    def least(goal: ColourTarget, held: Floats) -> tuple[float, Floats]:
        free = refine(near, optics, goal, held, minimax=True, rounds=30, spectral_weight=0.0)
        worst = goal.differences(candidate_reflectance(free, optics)).max(axis=1)
        return float(worst.min()), free.shares[int(np.argmin(worst))]

    if (limits < 1).any() and least(target, np.ones_like(limits))[0] <= tolerance:
        short = ", ".join(_short(best, optics, limits)) or "of some tints"
        return f"the stock is too small ({short}); {nearest}; a smaller batch may reach it"
    unweighed = candidates[target.differences(candidate_reflectance(candidates, optics)).max(axis=1) <= tolerance]
    if len(unweighed):
        enough = _enough_g(unweighed, scale)
        return (
            f"parts of it are too little for a scale of {scale.step_g:g} g: mix {enough:,.0f} g or more, or weigh on a "
            f"finer scale; {nearest}"
        )
    one = replace(target, lights=target.lights[:1], labs=target.labs[:1])
    if len(target.lights) > 1 and least(one, limits)[0] <= tolerance:
        return (
            f"it can be matched in {target.lights[0]} but not in {', '.join(target.lights[1:])} at once, "
            f"since these tints are not those it was made of (metamerism); {nearest}"
        )
    if optics.backing is not None and _reached_hiding(target, optics.over(None), limits, tolerance):
        return (
            f"a film of {optics.backing.build_um:g} µm lets the {optics.backing.name} ground through, and one that "
            f"hides reaches it: lay it on thicker, or over another ground; {nearest}"
        )
    words = difference_words(best.lab, target.labs[0])
    beyond = " and ".join(words[:2]) or "further off in another light"
    return f"the colour is outside what these tints can make: it is {beyond} than any mixture; {nearest}"


def _short(best: Recipe, optics: TintOptics, limits: Floats) -> list[str]:
    """Return the tints of a recipe of which it takes all there is."""
    most = {name: float(limits[optics.index(name)]) for name, _ in best.parts}
    return [name for name, grams in best.parts if most[name] < 1 and grams >= most[name] * best.grams - 0.5]


def _enough_g(found: Candidates, scale: Scale) -> float:
    """Return the least grams of which one of some candidates can be weighed, its least parts by letdowns if need be."""
    least_share = np.where(found.members >= 0, found.shares, np.inf).min(axis=1).max()
    straight = scale.smallest_g / least_share
    by_letdown = max(straight / PARTS, 1.02 * fewest_for_a_cup_g(scale.step_g))
    return float(np.ceil(min(straight, by_letdown) if scale.letdowns else straight))


def more_than_there(short: Iterable[tuple[str, float, float]]) -> str:
    """Return in words what is needed of tints, and what is there: (tint, needed grams, grams in stock)."""
    return ", ".join(f"{need:g} g of {tint} ({have:g} g are there)" for tint, need, have in short)


def _reached_hiding(target: ColourTarget, hiding: TintOptics, limits: Floats, tolerance: float) -> bool:
    """Return whether films that hide reach a target which films over a ground don't."""
    found, _ = search_relaxed(replace(target, far=False), hiding, _TINTS_TRIED, limits)
    return bool(len(found)) and bool(
        target.differences(candidate_reflectance(found, hiding)).max(axis=1).min() <= tolerance
    )
