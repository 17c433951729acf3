"""Which strong tints of a recipe are poured by a letdown, so that its first card comes nearer."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import compress

import numpy as np

from finishmatch.colour import Floats, de00, reflectance_to_lab
from finishmatch.evidence.target import ColourTarget
from finishmatch.mix.expected_difference import drawn_differences
from finishmatch.mix.letdowns import (
    MOST_LETDOWNS,
    Bools,
    LetdownScale,
    let_down_scale,
    letdowns_of_recipe,
    worth_de00,
)
from finishmatch.mix.weighing import Scale
from finishmatch.optics import TintOptics, predicted_reflectance


@dataclass(frozen=True)
class Poured:
    """What of a recipe is poured before its card is sprayed, and how well its tins are known.

    Parameters
    ----------
    own : TintOptics
        Of its k tints.
    grams : ndarray, shape (k,)
    stock : ndarray, shape (k,)
        Grams there are of each tint.
    covariance : ndarray, shape (k, k), or None
        Of the logarithms of the strengths of their tins; None: they are as the panels' were.
    by_letdown : tuple of str
        Those that are too little to pour otherwise.
    """

    own: TintOptics
    grams: Floats
    stock: Floats
    covariance: Floats | None
    by_letdown: tuple[str, ...] = ()


def let_down(poured: Poured, target: ColourTarget, tolerance: float, scale: Scale) -> LetdownScale | None:
    """Return the scale with the letdowns that are worth their work, or that there is no other way for; None: none is.

    Parameters
    ----------
    poured : Poured
    target : ColourTarget
    tolerance : float
        ΔE00 in the worst light.
    scale : Scale
        That is poured on.

    Notes
    -----
    A hand pour lands within a step or two of the scale, whatever is poured: of the 0.6 g that half a recipe takes of a
    strong tint that is a sixth. In a letdown of one part in ten of what is in the tin already the same slip is a tenth
    of that. The tint of which a slip shows most is taken first. What its letdown is worth is told on the average, by
    the same draws of bank, tins and pours that the card's range rests on: where these leave more open than the pour
    does, none is worth it.
    """
    grams = poured.grams
    others = grams < grams.max()
    if not scale.letdowns or not others.any():
        return None
    chosen = np.isin(poured.own.names, poured.by_letdown)
    so_far = let_down_scale(chosen, scale) if chosen.any() else None
    best, least = _on_average(poured, target, so_far or scale), worth_de00(tolerance)
    if best - _on_average(poured, target, let_down_scale(others, scale)) < least:
        return so_far  # nor would all of them together be
    strongest = [i for i in _by_slip(poured, target, scale) if others[i] and not chosen[i]]
    fitting = (i for i in strongest if _can_be(poured, _with(chosen, i, scale)))
    for _ in range(MOST_LETDOWNS - int(chosen.sum())):
        at = next(fitting, None)
        if at is None:
            break
        came = _on_average(poured, target, _with(chosen, at, scale))
        if best - came < least:
            break
        chosen[at], best = True, came
    return let_down_scale(chosen, scale) if chosen.any() else None


def _by_slip(poured: Poured, target: ColourTarget, scale: Scale) -> list[int]:
    """Return the tints, those first of which a slip of the hand shows most."""
    grams, slips = poured.grams, np.diag(scale.pour_sd_g(poured.grams))
    spectra = predicted_reflectance(poured.own, np.concatenate([grams[None], grams + slips]))
    labs = reflectance_to_lab(spectra, target.lights[0], target.observer)
    return [int(i) for i in np.argsort(-de00(labs[0], labs[1:]), kind="stable")]


def _with(chosen: Bools, i: int, scale: Scale) -> LetdownScale:
    return let_down_scale(chosen | (np.arange(len(chosen)) == i), scale)


def _can_be(poured: Poured, fine: LetdownScale) -> bool:
    """Return whether what is poured straight is enough to fill a cup from, and what there is of a tint to fill it."""
    names, stock = poured.own.names, dict(zip(poured.own.names, poured.stock.tolist(), strict=True))
    parts = tuple(zip(names, poured.grams.tolist(), strict=True))
    letdowns = letdowns_of_recipe(parts, set(compress(names, fine.let_down)), fine.step_g)
    return bool(letdowns) and all(one.straight_g + one.tint_g <= stock[one.tint] for one in letdowns)


def _on_average(poured: Poured, target: ColourTarget, scale: Scale) -> float:
    """Return the ΔE00 of the card in its worst light, on the average."""
    off = drawn_differences(target, poured.own, poured.grams, scale.pour_sd_g(poured.grams), poured.covariance)
    return float(off.max(axis=1).mean())
