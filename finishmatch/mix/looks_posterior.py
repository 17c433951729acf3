"""What spectra may be once a camera's values of them are known: many guesses, each normal, weighed by their evidence.

References
----------
Rasmussen and Williams, Gaussian Processes for Machine Learning (2006), A.2 (what one part of normal variables tells of
another); Gelman et al., Bayesian Data Analysis (2013), 7.4 (models weighed by their evidence), from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy  # its `special`, slow to import, is loaded by the first piece that a camera saw
from numpy.typing import NDArray

from finishmatch.colour import Floats
from finishmatch.mix.likely_pieces import DARKEST, LIGHTEST
from finishmatch.optics.camera_look import CameraLook, root_slopes, value_roots

# ΔE00 in each direction by which the camera's values are off: light, noise, what the chart leaves open («chosen», as
# of the panels of a bank: `OWN_SD`, `SHARED_SD`)
SEEN_SD = 0.4
# Of the variance of that, what photographs in one light share («chosen»)
SHARED = 0.5
_TOO_FAR = 1e-4  # chance of what is seen under lamps below which it isn't the same piece


@dataclass(frozen=True)
class Seen:
    """By how much a camera's values are off what it would see of each of m guesses, in CIELAB, over r axes in all.

    Parameters
    ----------
    missing : ndarray, shape (m, r)
    by_spectrum : ndarray, shape (m, r, w)
        How what it would see moves with the spectra, w values of all that is looked at.
    noise : ndarray, shape (r, r)
    in_first : ndarray of bool, shape (r,)
        Which are in the light that the guesses were sought in.
    """

    missing: Floats
    by_spectrum: Floats
    noise: Floats
    in_first: NDArray[np.bool_]


@dataclass(frozen=True)
class Guessed:
    """What is left of guesses once they were seen.

    Parameters
    ----------
    chance, open_chance : ndarray, shape (n,)
        Of each; the latter by what was seen in other lights alone: guesses that were sought for what the values in
        their own light gave say little by these.
    means : ndarray, shape (n, w)
    spreads : ndarray, shape (n, w, w)
    """

    chance: Floats
    open_chance: Floats
    means: Floats
    spreads: Floats


def seen_of(spectra: Floats, looks: Sequence[tuple[int, CameraLook]], noise: Floats, light: str) -> Seen:
    """Return by how much cameras' values are off what they would see of guesses.

    Parameters
    ----------
    spectra : ndarray, shape (m, k, 31)
        Of k samples.
    looks : sequence of (int, CameraLook)
        Which of the k was looked at, and what was seen of it.
    noise : ndarray, shape (3·looks, 3·looks)
    light : str
        That the guesses were sought in.
    """
    m, samples, size = spectra.shape
    missing, by_spectrum = [], np.zeros((m, 3 * len(looks), samples, size))
    for place, (which, look) in enumerate(looks):
        values = spectra[:, which] @ look.response
        missing.append((value_roots(look.values) - value_roots(values)) @ look.to_lab.T)
        slopes = np.einsum("jk,mk,wk->mjw", look.to_lab, root_slopes(values), look.response)
        by_spectrum[:, 3 * place : 3 * place + 3, which] = slopes
    in_first = np.repeat([look.light == light for _, look in looks], 3)
    return Seen(np.hstack(missing), by_spectrum.reshape(m, -1, samples * size), noise, in_first)


def alike(looks: Sequence[CameraLook], share: Floats) -> Floats:
    """Return the covariance of what looks are off by that are off alike, in CIELAB, shape (3·looks, 3·looks).

    Parameters
    ----------
    looks : sequence of CameraLook
    share : ndarray, shape (looks, looks)
        Of the variance, what two of them share; looks in two lights share none.
    """
    roots = np.array([np.linalg.cholesky(look.covariance(SEEN_SD)) for look in looks])
    one_light = np.array([[one.light == other.light for other in looks] for one in looks])
    whole: Floats = np.einsum("ij,iac,jbc->iajb", share * one_light, roots, roots)
    return whole.reshape(3 * len(looks), 3 * len(looks))


def guessed(chance: Floats, means: Floats, priors: Sequence[Floats], seen: Seen) -> Guessed | None:
    """Return what is left of guesses once they were seen; None where it was none of them, by what lamps show.

    Parameters
    ----------
    chance : ndarray, shape (m,)
        Of each guess beforehand.
    means : ndarray, shape (m, w)
        Their spectra.
    priors : sequence of ndarray, shape (m, w, w)
        Their covariances: each guess may be any of these, each as likely.
    seen : Seen
    """
    by_all, by_others, found, spreads, nearest = [], [], [], [], np.inf
    first, others = seen.in_first, ~seen.in_first
    for prior in priors:
        through = seen.by_spectrum @ prior
        total = through @ np.swapaxes(seen.by_spectrum, 1, 2) + seen.noise
        gain = np.swapaxes(np.linalg.solve(total, through), 1, 2)
        every, own = _off_by(seen.missing, total), _off_by(seen.missing[:, first], total[:, first][:, :, first])
        nearest = min(nearest, float((every[0] - own[0]).min()))
        by_all.append(np.log(chance) - 0.5 * every.sum(axis=0))
        by_others.append(np.log(chance) - 0.5 * (every - own).sum(axis=0))
        found.append(np.clip(means + np.einsum("mwr,mr->mw", gain, seen.missing), DARKEST, LIGHTEST))
        spreads.append(prior - gain @ through)
    if others.any() and scipy.special.chdtrc(np.count_nonzero(others), nearest) < _TOO_FAR:
        return None
    return Guessed(_shares(by_all), _shares(by_others), np.concatenate(found), np.concatenate(spreads))


def chance_of(prior: Floats, seen: Seen) -> float:
    """Return how often the likeliest of some guesses would be seen as far off as it was, or further.

    `prior` has their covariances, shape (m, w, w).
    """
    total = seen.by_spectrum @ prior @ np.swapaxes(seen.by_spectrum, 1, 2) + seen.noise
    return float(scipy.special.chdtrc(seen.missing.shape[1], _off_by(seen.missing, total)[0].min()))


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
