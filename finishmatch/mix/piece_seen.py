"""What a photographed piece is, by what the camera saw of it and by what it sees of the bank's tints.

A colour read of a photograph is that of most paints which the camera sees so. A bank knows its own tints better: the
piece is taken for one of their mixtures, bent at random over wavelength as other pigments would bend it, and all of
these are held against the camera's values in each light. What the camera misreads of a mixture is known, so what it
misreads of the piece is too, as far as the two are alike; and what it looks like in lights in which it wasn't seen.

References
----------
Rasmussen and Williams, Gaussian Processes for Machine Learning (2006), A.2 (what one part of normal variables tells of
another); Gelman et al., Bayesian Data Analysis (2013), 7.4 (models weighed by their evidence), from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import chdtrc

from finishmatch.colour import Floats, de00, reflectance_to_lab, reflectance_to_lab_slope
from finishmatch.evidence.target import ColourTarget
from finishmatch.mix.metamers import MOST_PIGMENTS, evenly_kept, smooth_bends
from finishmatch.mix.refine import Candidates, candidate_reflectance
from finishmatch.mix.relaxed_search import search_relaxed
from finishmatch.optics import TintOptics, predicted_reflectance
from finishmatch.optics.camera_look import CameraLook, root_slopes, value_roots

# SD of ln R/(1 - R) by which a piece is bent off a mixture of the bank's tints, each as likely: of the same pigments,
# and of others
# («chosen on rendered pictures of real pigments»: docs/accuracy.md, What the camera saw of a piece)
BENDS = (0.03, 0.1, 0.3)
# ΔE00 in each direction by which the camera's values are off: light, noise, what the chart leaves open («chosen», as
# of the panels of a bank: `OWN_SD`, `SHARED_SD`)
SEEN_SD = 0.4
# Of the variance of that, what photographs in one light share («chosen»)
_SHARED = 0.5
ROUNDS = 2  # the mixtures are sought about what was found, since what was read may be far from it
_DARKEST, _LIGHTEST = 0.004, 0.99
OUT_OF_REACH = 8.0  # ΔE00 of the nearest mixture from the colour, beyond which the tints don't stand for it
_TOO_FAR = 1e-4  # chance of what is seen under lamps below which it isn't the same piece
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


@dataclass(frozen=True)
class _Likely:
    """Spectra that a piece may have, shape (m, 31), without gloss, how likely each was before it was seen, (m,), and
    how they move with what the bank leaves open, (m, d, 31)."""

    spectra: Floats
    chance: Floats
    open_by: Floats


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
        likely = _mixtures(target, optics)
        if likely is None:
            return None
        found = _posterior(likely, looks, target, optics)
        if found is None:
            return None
        moved = reflectance_to_lab(found.spectra, target.lights[0], target.observer).mean(axis=0)
        target = replace(target, labs=moved[None])
    return found


def _mixtures(target: ColourTarget, optics: TintOptics) -> _Likely | None:
    """Return the mixtures of the tints that look like a target, each number of pigments as likely as the next."""
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
    return _Likely(spectra[kept] - _gloss(optics), chance / chance.sum(), open_by)


def _left_open(candidates: Candidates, spectra: Floats, optics: TintOptics) -> Floats:
    """Return by how much mixtures move with each draw of what the bank leaves open, shape (m, draws, 31)."""
    if optics.draws is None:
        return np.zeros((len(spectra), 0, spectra.shape[1]))
    grams = np.zeros((len(candidates), len(optics.names)))
    row, place = np.nonzero(candidates.members >= 0)
    grams[row, candidates.members[row, place]] = candidates.shares[row, place]
    plain = replace(optics, draws=None)
    drawn = [predicted_reflectance(replace(plain, K=K, S=S), grams) - spectra for K, S in optics.draws]
    return np.asarray(np.stack(drawn, axis=1) / np.sqrt(len(drawn)))


def _posterior(
    likely: _Likely, looks: Sequence[CameraLook], target: ColourTarget, optics: TintOptics
) -> PieceSeen | None:
    """Return what is left of what a piece may be once the camera's values are known; None where it is none of that."""
    spectra = np.clip(likely.spectra, _DARKEST, _LIGHTEST)
    slope = spectra * (1 - spectra)
    missing, by_spectrum, noise = _off(spectra, looks)
    sought = np.repeat([look.light == target.lights[0] for look in looks], 3)
    by_all, by_lamps, means, spreads, nearest = [], [], [], [], np.inf
    for sd in BENDS:
        prior = sd**2 * slope[:, :, None] * smooth_bends() * slope[:, None] + np.einsum(
            "mdw,mdv->mwv", likely.open_by, likely.open_by
        )
        seen = by_spectrum @ prior
        total = seen @ np.swapaxes(by_spectrum, 1, 2) + noise
        gain = np.swapaxes(np.linalg.solve(total, seen), 1, 2)
        every, own = _off_by(missing, total), _off_by(missing[:, sought], total[:, sought][:, :, sought])
        nearest = min(nearest, float((every[0] - own[0]).min()))
        by_all.append(np.log(likely.chance) - 0.5 * every.sum(axis=0))
        by_lamps.append(np.log(likely.chance) - 0.5 * (every - own).sum(axis=0))
        means.append(np.clip(spectra + np.einsum("mwr,mr->mw", gain, missing), _DARKEST, _LIGHTEST))
        spreads.append(prior - gain @ seen)
    if not sought.all() and chdtrc(np.count_nonzero(~sought), nearest) < _TOO_FAR:
        return None
    found = np.concatenate(means), np.concatenate(spreads)
    return _summed(_shares(by_all), _shares(by_lamps), *found, target, _gloss(optics))


def _off_by(missing: Floats, covariance: Floats) -> Floats:
    """Return how far misses, shape (m, r), are off for their covariance, (m, r, r), squared, and its log determinant.

    As rows, shape (2, m): half of their sum is the logarithm of how unlikely they are, but for a constant.
    """
    squared = np.einsum("mr,mr->m", missing, np.linalg.solve(covariance, missing[..., None])[..., 0])
    return np.stack([squared, np.linalg.slogdet(covariance)[1]])


def _shares(log_chance: Sequence[Floats]) -> Floats:
    """Return chances that sum to 1 from their logarithms."""
    every = np.concatenate(log_chance)
    chance = np.exp(every - every.max())
    return np.asarray(chance / chance.sum())


def _off(spectra: Floats, looks: Sequence[CameraLook]) -> tuple[Floats, Floats, Floats]:
    """Return by how much a camera's values are off what it would see of spectra, in CIELAB, over all looks.

    Returns
    -------
    missing : ndarray, shape (m, 3·looks)
    by_spectrum : ndarray, shape (m, 3·looks, 31)
        How what it would see moves with the spectrum.
    noise : ndarray, shape (3·looks, 3·looks)
        What one light's photographs are off by they are off by alike.
    """
    missing, by_spectrum, noise = [], [], np.zeros((3 * len(looks), 3 * len(looks)))
    for place, look in enumerate(looks):
        values = spectra @ look.response
        missing.append((value_roots(look.values) - value_roots(values)) @ look.to_lab.T)
        by_spectrum.append(np.einsum("jk,mk,wk->mjw", look.to_lab, root_slopes(values), look.response))
        for beside, other in enumerate(looks):
            if look.light == other.light:
                root = np.linalg.cholesky(look.covariance(SEEN_SD)) @ np.linalg.cholesky(other.covariance(SEEN_SD)).T
                own = 1.0 if place == beside else _SHARED
                noise[3 * place : 3 * place + 3, 3 * beside : 3 * beside + 3] = own * root
    return np.hstack(missing), np.concatenate(by_spectrum, axis=1), noise


def _summed(
    chance: Floats, open_chance: Floats, means: Floats, spreads: Floats, target: ColourTarget, gloss: float
) -> PieceSeen:
    """Return the colour over all that a piece may be, how surely it is known, and spectra that stand for it.

    The mixtures were sought for the colour that the values in its own light gave, so these speak for small bends more
    than is right: what is left open, and which mixtures stand for it, goes by what was seen under lamps alone,
    `open_chance`.
    """
    light, observer = target.lights[0], target.observer
    # evenly over the chances in the order of the mixtures, which is the same on every machine
    at = np.searchsorted(np.cumsum(open_chance), (np.arange(_STANDS_FOR) + 0.5) / _STANDS_FOR)
    at = np.minimum(at, len(open_chance) - 1)
    drawn = np.random.default_rng(37).standard_normal((_STANDS_FOR, means.shape[1]))
    values, vectors = np.linalg.eigh(spreads[at])
    # the one root that is symmetric: which way eigenvectors point is left to chance
    away = np.einsum("mwe,me,mve,mv->mw", vectors, np.sqrt(np.maximum(values, 0)), vectors, drawn)
    spectra = np.clip(means[at] + away, _DARKEST, _LIGHTEST)
    labs, slopes = reflectance_to_lab(means, light, observer), reflectance_to_lab_slope(means, light, observer)
    middle = chance @ labs
    between, within = labs - middle, slopes @ spreads @ np.swapaxes(slopes, 1, 2)
    covariance = np.einsum("m,mij->ij", open_chance, within + between[:, :, None] * between[:, None])
    return PieceSeen(np.asarray(middle), np.asarray(covariance), spectra + gloss)


def _gloss(optics: TintOptics) -> float:
    """Return what the bank's instrument counts of the surface, which a photograph doesn't see."""
    return float(optics.surface.k1) if optics.surface.specular else 0.0
