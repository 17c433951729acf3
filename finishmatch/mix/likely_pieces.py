"""What a piece may be: the mixtures of a bank's tints that look like it, bent as other pigments would bend them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from finishmatch.colour import Floats, de00, reflectance_to_lab
from finishmatch.evidence.target import ColourTarget
from finishmatch.mix.metamers import MOST_PIGMENTS, evenly_kept, smooth_bends
from finishmatch.mix.refine import Candidates, candidate_reflectance
from finishmatch.mix.relaxed_search import search_relaxed
from finishmatch.optics import TintOptics, predicted_reflectance

# SD of ln R/(1 - R) by which a piece is bent off a mixture of the bank's tints, each as likely: of the same pigments,
# and of others
# («chosen on rendered pictures of real pigments»: docs/accuracy.md, What the camera saw of a piece)
BENDS = (0.03, 0.1, 0.3)
DARKEST, LIGHTEST = 0.004, 0.99
OUT_OF_REACH = 8.0  # ΔE00 of the nearest mixture from the colour, beyond which the tints don't stand for it


@dataclass(frozen=True)
class LikelyPieces:
    """Spectra that a piece may have, shape (m, 31), without gloss, how likely each was before it was seen, (m,), and
    how they move with what the bank leaves open, (m, d, 31)."""

    spectra: Floats
    chance: Floats
    open_by: Floats

    def bent(self, sd: float) -> Floats:
        """Return the covariance of each bent by so much, and by what the bank leaves open, shape (m, 31, 31)."""
        slope = self.spectra * (1 - self.spectra)
        bends = sd**2 * slope[:, :, None] * smooth_bends() * slope[:, None]
        return np.asarray(bends + np.einsum("mdw,mdv->mwv", self.open_by, self.open_by))


def likely_pieces(target: ColourTarget, optics: TintOptics) -> LikelyPieces | None:
    """Return the mixtures of the tints that look like a target, each number of pigments as likely as the next.

    None where no mixture can stand for it.

    Parameters
    ----------
    target : ColourTarget
        As the bank's instrument would have read it.
    optics : TintOptics
        Of the tints, with the draws of what the bank leaves open where there are any.
    """
    plain = replace(optics, draws=None)
    candidates, _ = search_relaxed(target, plain, MOST_PIGMENTS, np.ones(len(optics.names)))
    if not len(candidates):
        return None
    spectra = candidate_reflectance(candidates, plain)
    away = np.asarray(de00(reflectance_to_lab(spectra, target.lights[0], target.observer), target.labs[0]))
    if float(away.min()) > OUT_OF_REACH:
        return None
    kept = evenly_kept(candidates, away)
    size = (candidates.members[kept] >= 0).sum(axis=1)
    chance = np.array([1 / np.count_nonzero(size == one) for one in size])
    open_by = _left_open(candidates[kept], spectra[kept], optics)
    without_gloss = np.clip(spectra[kept] - gloss_read(optics), DARKEST, LIGHTEST)
    return LikelyPieces(without_gloss, chance / chance.sum(), open_by)


def _left_open(candidates: Candidates, spectra: Floats, optics: TintOptics) -> Floats:
    """Return by how much mixtures move with each draw of what the bank leaves open, shape (m, draws, 31)."""
    grams = np.zeros((len(candidates), len(optics.names)))
    row, place = np.nonzero(candidates.members >= 0)
    grams[row, candidates.members[row, place]] = candidates.shares[row, place]
    return moved_by_draws(optics, grams, spectra)


def moved_by_draws(optics: TintOptics, grams: Floats, spectra: Floats) -> Floats:
    """Return by how much mixtures move with each draw of what the bank leaves open, shape (..., draws, 31).

    Their squares add up to the covariance. `grams` has shape (..., n), `spectra`, what they are by the bank, (..., 31).
    """
    if optics.draws is None:
        return np.zeros((*spectra.shape[:-1], 0, spectra.shape[-1]))
    plain = replace(optics, draws=None)
    drawn = [predicted_reflectance(replace(plain, K=K, S=S), grams) - spectra for K, S in optics.draws]
    return np.asarray(np.stack(drawn, axis=-2) / np.sqrt(len(drawn)))


def gloss_read(optics: TintOptics) -> float:
    """Return what the bank's instrument counts of the surface, which a photograph doesn't see."""
    return float(optics.surface.k1) if optics.surface.specular else 0.0
