"""The one mixture that would show slips in a bank whose panels can't show them by themselves."""

from __future__ import annotations

from itertools import combinations

import numpy as np

from finishmatch.colour import Floats, de00, reflectance_to_lab
from finishmatch.optics.mixture import TintOptics, predicted_reflectance
from finishmatch.optics.panel_set import PanelSet

FEW = 2  # panels of a tint: a line through two points fits whatever they are
_MOST_TINTS = 4  # of a check mixture: more hide one another
_LOOKED_AT = 8
_GRAMS = 100.0
_LEAST_G, _STEP_G = 1.0, 0.5
_SLIP = 0.2  # of a weight, whose effect is made the same for all tints of the mixture
_ROUNDS = 6


def unchecked_tints(panels: PanelSet) -> tuple[str, ...]:
    """Return the tints in whose panels a slip can't be seen: two or fewer, none of them with a second tint.

    The tint that all others are let down with is none of them.
    """
    mixed = panels.fractions > 0
    others = np.delete(mixed, panels.anchor, axis=1).sum(axis=1)
    found = []
    for i, tint in enumerate(panels.tints):
        mine = mixed[:, i]
        few = len(np.unique(panels.mixture[mine])) <= FEW
        if i != panels.anchor and few and (others[mine] < 2).all():
            found.append(tint.name)
    return tuple(found)


def check_mixture(panels: PanelSet, optics: TintOptics, names: tuple[str, ...]) -> tuple[tuple[str, float], ...]:
    """Return the mixture, (tint, grams), that would tell most of some tints at once.

    Parameters
    ----------
    panels : PanelSet
        Its anchor is what they are let down with.
    optics : TintOptics
        As fitted.
    names : tuple of str
        Whose panels are to be checked.

    Notes
    -----
    In each mixture thought of, the weights are such that a slip of a fifth in any part shows alike. Of these the one is
    taken in which it shows most.
    """
    anchor = panels.tints[panels.anchor].name
    looked_at = [name for name in names if name in optics.names][:_LOOKED_AT]
    best: tuple[float, tuple[tuple[str, float], ...]] = (-1.0, ())
    for tints in combinations(looked_at, min(_MOST_TINTS, len(looked_at))):
        own = optics.chosen([anchor, *tints])
        grams, shown = _evened(own, len(tints))
        if shown > best[0]:
            best = shown, tuple(zip(own.names, map(float, grams), strict=True))
    return best[1]


def _evened(own: TintOptics, count: int) -> tuple[Floats, float]:
    """Return grams in which a slip of each tint shows alike, and how much it shows at least, ΔE00."""
    grams = np.concatenate([[0.7], np.full(count, 0.3 / count)]) * _GRAMS
    shown = np.ones(count)
    for _ in range(_ROUNDS):
        slipped = grams * (1 + _SLIP * np.eye(count + 1)[1:])
        labs = reflectance_to_lab(predicted_reflectance(own, np.vstack([grams, slipped])))
        shown = np.maximum(de00(labs[0], labs[1:]), 1e-3)
        grams[1:] = np.clip(grams[1:] * np.sqrt(shown.mean() / shown), _LEAST_G, 0.6 * _GRAMS / count)
        grams[0] = _GRAMS - grams[1:].sum()
    return np.round(grams / _STEP_G) * _STEP_G, float(shown.min())
