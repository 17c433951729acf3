"""Which strong tints of a recipe are poured by a letdown, so that its first card comes nearer."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import compress

import numpy as np

from finishmatch.colour import Floats
from finishmatch.evidence.target import ColourTarget
from finishmatch.mix.expected_difference import drawn_differences
from finishmatch.mix.letdowns import MOST_LETDOWNS, OF_A_RECIPE, LetdownScale, letdowns_of_recipe, worth_de00
from finishmatch.mix.weighing import Scale
from finishmatch.optics import TintOptics


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
    """

    own: TintOptics
    grams: Floats
    stock: Floats
    covariance: Floats | None


def let_down(poured: Poured, target: ColourTarget, tolerance: float, scale: Scale) -> LetdownScale | None:
    """Return the scale with the letdowns that are worth their work; None where none is.

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
    of that. The tint whose letdown brings the card nearest on the average is taken first, by the same draws of bank,
    tins and pours that the card's range rests on: where these leave more open than the pour does, none is worth it.
    """
    grams = poured.grams
    others = grams < grams.max()
    if not scale.letdowns or not others.any():
        return None
    chosen, best = np.zeros(len(grams), dtype=bool), _on_average(poured, target, scale)
    least = worth_de00(tolerance)
    if best - _on_average(poured, target, _scale(others, scale)) < least:
        return None  # nor would all of them together be
    for _ in range(MOST_LETDOWNS):
        tried = {int(i): _with(chosen, int(i), scale) for i in np.flatnonzero(others & ~chosen)}
        there = {i: fine for i, fine in tried.items() if _can_be(poured, fine)}
        came = {i: _on_average(poured, target, fine) for i, fine in there.items()}
        nearest = min(came, key=lambda i: came[i], default=None)
        if nearest is None or best - came[nearest] < least:
            break
        chosen[nearest], best = True, came[nearest]
    return _scale(chosen, scale) if chosen.any() else None


def _scale(chosen: Floats, scale: Scale) -> LetdownScale:
    return LetdownScale(scale.step_g, scale.smallest_g, let_down=tuple(map(bool, chosen)), most_taken=OF_A_RECIPE)


def _with(chosen: Floats, i: int, scale: Scale) -> LetdownScale:
    return _scale(chosen | (np.arange(len(chosen)) == i), scale)


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
