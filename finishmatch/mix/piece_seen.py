"""What a photographed piece is, by what the camera saw of it and by what it sees of the bank's tints.

A colour read of a photograph is that of most paints which the camera sees so. A bank knows its own tints better: the
piece is taken for one of their mixtures, bent at random over wavelength as other pigments would bend it, and all of
these are held against the camera's values in each light. What the camera misreads of a mixture is known, so what it
misreads of the piece is too, as far as the two are alike; and what it looks like in lights in which it wasn't seen.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from finishmatch.colour import Floats, reflectance_to_lab, reflectance_to_lab_slope
from finishmatch.evidence.target import ColourTarget
from finishmatch.mix.likely_pieces import BENDS, DARKEST, LIGHTEST, LikelyPieces, gloss_read, likely_pieces
from finishmatch.mix.looks_posterior import SHARED, Guessed, alike, guessed, seen_of
from finishmatch.optics import TintOptics
from finishmatch.optics.camera_look import CameraLook

ROUNDS = 2  # the mixtures are sought about what was found, since what was read may be far from it
_STANDS_FOR = 60  # so many spectra stand for what the piece may be


@dataclass(frozen=True)
class PieceSeen:
    """What a piece is, as far as a bank's camera tells.

    Parameters
    ----------
    lab : ndarray, shape (3,)
        CIELAB without gloss, in the light and for the observer of the target.
    covariance : ndarray, shape (3, 3)
        How surely that is known.
    spectra : ndarray, shape (m, 31)
        What it may be, as the bank's instrument would read it, each as likely as the next.
    """

    lab: Floats
    covariance: Floats
    spectra: Floats


def piece_seen(target: ColourTarget, looks: Sequence[CameraLook], optics: TintOptics) -> PieceSeen | None:
    """Return what a piece is that was photographed; None where no mixture of the tints can stand for it.

    Parameters
    ----------
    target : ColourTarget
        Its colour as it was read, as the bank's instrument would have read it.
    looks : sequence of CameraLook
        What the camera saw of it, in each photograph.
    optics : TintOptics
        Of the tints, with the draws of what the bank leaves open where there are any.
    """
    found = None
    for _ in range(ROUNDS):
        likely = likely_pieces(target, optics)
        if likely is None:
            return None
        found = _posterior(likely, looks, target, optics)
        if found is None:
            return None
        moved = reflectance_to_lab(found.spectra, target.lights[0], target.observer).mean(axis=0)
        target = replace(target, labs=moved[None])
    return found


def _posterior(
    likely: LikelyPieces, looks: Sequence[CameraLook], target: ColourTarget, optics: TintOptics
) -> PieceSeen | None:
    """Return what is left of what a piece may be once the camera's values are known; None where it is none of that."""
    # what one light's photographs are off by they are off by alike
    noise = alike(looks, np.where(np.eye(len(looks), dtype=bool), 1.0, SHARED))
    seen = seen_of(likely.spectra[:, None], [(0, look) for look in looks], noise, target.lights[0])
    found = guessed(likely.chance, likely.spectra, [likely.bent(sd) for sd in BENDS], seen)
    return None if found is None else _summed(found, target, gloss_read(optics))


def _summed(found: Guessed, target: ColourTarget, gloss: float) -> PieceSeen:
    """Return the colour over all that a piece may be, how surely it is known, and spectra that stand for it.

    The mixtures were sought for the colour that the values in its own light gave, so these speak for small bends more
    than is right: what is left open, and which mixtures stand for it, goes by what was seen under lamps alone.
    """
    means, spreads, open_chance = found.means, found.spreads, found.open_chance
    light, observer = target.lights[0], target.observer
    # evenly over the chances in the order of the mixtures, which is the same on every machine
    at = np.searchsorted(np.cumsum(open_chance), (np.arange(_STANDS_FOR) + 0.5) / _STANDS_FOR)
    at = np.minimum(at, len(open_chance) - 1)
    drawn = np.random.default_rng(37).standard_normal((_STANDS_FOR, means.shape[1]))
    values, vectors = np.linalg.eigh(spreads[at])
    # the one root that is symmetric: which way eigenvectors point is left to chance
    away = np.einsum("mwe,me,mve,mv->mw", vectors, np.sqrt(np.maximum(values, 0)), vectors, drawn)
    spectra = np.clip(means[at] + away, DARKEST, LIGHTEST)
    labs, slopes = reflectance_to_lab(means, light, observer), reflectance_to_lab_slope(means, light, observer)
    middle = found.chance @ labs
    between, within = labs - middle, slopes @ spreads @ np.swapaxes(slopes, 1, 2)
    covariance = np.einsum("m,mij->ij", open_chance, within + between[:, :, None] * between[:, None])
    return PieceSeen(np.asarray(middle), np.asarray(covariance), spectra + gloss)
