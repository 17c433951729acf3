"""What photographs under several lights tell together of two paints side by side.

A camera isn't the eye: two paints of other pigments differ for it in daylight otherwise than for the eye, and no
further photograph in daylight shows by how much. Under a lamp the same pigments betray themselves: what the two differ
by there, beyond what their difference in daylight explains, says how unlike their spectra are, and with that what the
camera makes of them in each light. The spectra thought of are those of the family of paints, bent until the camera
would see them as it saw the two.

References
----------
Wyszecki and Stiles, Color Science (1982), 3.8 (metameric blacks); Rasmussen and Williams, Gaussian Processes for
Machine Learning (2006), A.2 (what one part of normal variables tells of another).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.linalg import block_diag
from scipy.special import chdtrc, softmax

from finishmatch.colour import WAVELENGTHS_NM, Floats, reflectance_to_lab
from finishmatch.colour.bent_to import bent_to, logits
from finishmatch.photo.correct.paints import paint_lab, paint_spectra

NEAR_LAB, NEAR_MANY, MOST_PAINTS = 20.0, 60, 400  # paints this near speak for the two, or as many where none is
HELD = 1e-3  # of the camera's value: a paint that can't be bent to it within this is left out
# How unlike the two may be, as a share of the variance of what two paints of the family differ by that the camera sees
# alike: of the same pigments they don't differ at all. Each is taken for as likely as the others beforehand; measured
# washes and other tints that match them are 0.05 to 1.5 unlike (benchmarks/test_two_lights.py).
UNLIKE = (0.0, 0.01, 0.03, 0.1, 0.3, 1.0, 3.0)
# Real paints aren't the family: of its variances so much more is left open, of what a camera sees and of the colour.
LOOSE_LOOK, LOOSE_COLOUR = 0.03, 0.15
BAND_NM, BAND_WIDE_NM = (440.0, 540.0, 625.0), (45.0, 45.0, 50.0)  # along which paints are bent
# Of the variance of a look's noise so much is the same in the next photograph in that light («measured on rendered
# pictures»: 0.3 to 0.6, pairs that are altogether alike to a fifth unlike).
REPEATED = 0.5
# Chance, of the most unlike two, below which looks aren't taken for one pair's («measured on rendered pictures»: of
# altogether other pigments 0.17 at the least, in 250 pairs; another card under the lamp has 0.01 to 0.1).
TOO_FAR = 0.05
_ANY = 1.0  # SD of the logarithm of what the two differ by, before anything is seen: as good as anything
_STEP = 0.01
_LEAST = 1e-4


@dataclass(frozen=True)
class Look:
    """What the camera of one photograph saw of a standard and a trial.

    Parameters
    ----------
    light : str
        The CIE light the photograph is read for.
    response : ndarray, shape (31, 3)
        What the camera makes of each wavelength, by its chart.
    values : ndarray, shape (2, 3)
        Camera values of the two, in even light, without flare and tone.
    noise : ndarray, shape (3, 3)
        Covariance of the logarithm of the trial's values less that of the standard's, as this photograph has it.
    left_open : ndarray, shape (3, 31, 31)
        Covariance of the response, as far as its chart leaves it open.
    """

    light: str
    response: Floats
    values: Floats
    noise: Floats
    left_open: Floats

    @property
    def apart(self) -> Floats:
        """ln trial/standard of the camera values, shape (3,)."""
        standard, trial = np.log(np.maximum(self.values, _LEAST))
        return np.asarray(trial - standard)


@dataclass(frozen=True)
class Together:
    """What the looks in all lights tell of the difference in each.

    Parameters
    ----------
    alone : dict of str to ndarray, shape (3,)
        ΔL*, Δa*, Δb* by the looks in that light alone, as it is for paints of the same pigments.
    moved : dict of str to ndarray, shape (3,)
        By how much it lies elsewhere by all looks.
    covariance, alike : dict of str to ndarray, shape (3, 3)
        Of the difference then, and were the two of the same pigments.
    unlike : float
        How unlike the two are: share of the variance of two paints of the family; 0 for the same pigments.
    chance : float
        How often the looks at one pair would be as far apart as these are, were the two as unlike as any.
    """

    alone: dict[str, Floats]
    moved: dict[str, Floats]
    covariance: dict[str, Floats]
    alike: dict[str, Floats]
    unlike: float
    chance: float


@dataclass(frozen=True)
class _Seen:
    """What is made of the family's paints in one respect: by the cameras of all looks, or in CIELAB in all lights.

    Parameters
    ----------
    at : ndarray, shape (n, i)
        Of each paint.
    slopes : ndarray, shape (n, 3, i)
        How that moves with the logarithm of the first camera's values.
    slope : ndarray, shape (3, i)
        The mean of the slopes.
    loose : float
        The share by which its variances are left more open.
    """

    at: Floats
    slopes: Floats
    slope: Floats
    loose: float


@dataclass(frozen=True)
class _Family:
    """Paints that the first look's camera sees as it saw the two.

    Parameters
    ----------
    weights : ndarray, shape (n,)
        Of the paints; they sum to 1.
    spectra : ndarray, shape (n, 31)
    looks, labs : _Seen
    """

    weights: Floats
    spectra: Floats
    looks: _Seen
    labs: _Seen

    def unlike(self, one: _Seen, other: _Seen) -> Floats:
        """Return the covariance of how two of the paints differ in two respects, shape (i, j)."""
        found = 2 * self._covariance(one.at, other.at)
        return np.asarray(found + one.loose * np.diag(np.diag(found)) if one is other else found)

    def graded(self, one: _Seen, other: _Seen, apart: Floats) -> Floats:
        """Return the same of two of one paint's pigments, which the first camera sees so far apart, (3,)."""
        return self._covariance(apart @ one.slopes, apart @ other.slopes)

    def _covariance(self, one: Floats, other: Floats) -> Floats:
        middle, its = self.weights @ one, self.weights @ other
        return np.asarray(((one - middle) * self.weights[:, None]).T @ (other - its))


@dataclass(frozen=True)
class _Given:
    """Mean, (3·m,), and covariance of the differences in all lights for two so unlike, and how well that fits."""

    mean: Floats
    covariance: Floats
    log_likelihood: float
    chance: float


def seen_together(looks: Sequence[Look], about: Floats, observer: int) -> Together | None:
    """Return what looks at the same two paints in several lights tell together.

    Parameters
    ----------
    looks : sequence of Look
        The first in the light that counts first. Those in one light are taken for one: what a chart leaves open of the
        camera, and `REPEATED` of their noise, is the same in each.
    about : ndarray, shape (3,)
        CIELAB of the two in that light.
    observer : int

    Returns
    -------
    Together or None
        None where no paint of the family can look so to the first camera.
    """
    lights = tuple(dict.fromkeys(look.light for look in looks))
    looks = [_one_look([look for look in looks if look.light == light]) for light in lights]
    family = _family(looks, lights, about, observer)
    if family is None:
        return None
    apart = np.concatenate([look.apart for look in looks])
    noise = block_diag(*(look.noise for look in looks))
    left_open = _left_open(looks, family)
    given = [_given(family, unlike, noise + unlike * left_open, apart) for unlike in UNLIKE]
    share = softmax([one.log_likelihood for one in given])
    means = np.array([one.mean for one in given])
    mean = share @ means
    off = means - mean
    within = np.einsum("s,sij->ij", share, np.array([one.covariance for one in given]))
    covariance = within + (off * share[:, None]).T @ off
    alone, moved, doubt, alike = {}, {}, {}, {}
    for k, light in enumerate(lights):
        part = slice(3 * k, 3 * k + 3)
        mine = np.repeat([look.light == light for look in looks], 3)
        alone[light] = _alone(family, noise, apart, mine, part)
        moved[light] = mean[part] - alone[light]
        doubt[light], alike[light] = covariance[part, part], given[0].covariance[part, part]
    chance = max(one.chance for one in given)
    return Together(alone, moved, doubt, alike, float(share @ np.array(UNLIKE)), chance)


def _one_look(looks: Sequence[Look]) -> Look:
    """Return several looks in one light as one: their mean, each channel weighted by its noise.

    Each by itself, with errors shared in part, one that is noisier would weigh against the others, and what they differ
    by be taken for more than it is (14 of 19 then went together). A mean has no such weights.
    """
    if len(looks) == 1:
        return looks[0]
    weights = np.array([1 / np.diag(look.noise) for look in looks])
    weights /= weights.sum(axis=0)
    logs = np.array([np.log(np.maximum(look.values, _LEAST)) for look in looks])
    scales = np.exp(logs.mean(axis=1))  # the exposures differ, so responses are held against what each camera saw
    scale = np.exp(np.mean(np.log(scales), axis=0))
    noise, left_open = np.zeros((3, 3)), np.zeros_like(looks[0].left_open)
    for look, weight, its in zip(looks, weights, scale / scales, strict=True):
        both = np.outer(weight, weight)
        noise += look.noise * (REPEATED * np.sqrt(both) + (1 - REPEATED) * both)
        left_open += (weight * its**2)[:, None, None] * look.left_open
    responses = np.array([look.response * its for look, its in zip(looks, scale / scales, strict=True)])
    response = np.einsum("kc,knc->nc", weights, responses)
    apart = np.einsum("kc,kc->c", weights, logs[:, 1] - logs[:, 0])
    values = scale * np.exp(np.outer([-0.5, 0.5], apart))
    return Look(looks[0].light, response, values, noise, left_open)


def _family(looks: Sequence[Look], lights: Sequence[str], about: Floats, observer: int) -> _Family | None:
    first = looks[0]
    away = ((paint_lab(lights[0], observer) - about) ** 2).sum(axis=1)
    nearest = np.argsort(away, kind="stable")[:MOST_PAINTS]
    base = logits(paint_spectra()[nearest])
    seen = np.exp(np.log(np.maximum(first.values, _LEAST)).mean(axis=0))
    bands = np.exp(-0.5 * ((WAVELENGTHS_NM - np.array(BAND_NM)[:, None]) / np.array(BAND_WIDE_NM)[:, None]) ** 2)

    def read_as(values: Floats) -> tuple[Floats, Floats]:
        return bent_to(base, first.response, values, bands)

    spectra, misses = read_as(seen)
    reach = max(NEAR_LAB**2, float(away[nearest[min(NEAR_MANY, len(nearest) - 1)]]))
    share = np.exp(-away[nearest] / (2 * reach)) * (misses < HELD * float(seen.mean()))
    if share.sum() <= 0:
        return None
    share /= share.sum()
    responses = np.hstack([look.response for look in looks])

    def looks_of(spectra: Floats) -> Floats:
        return np.asarray(np.log(np.maximum(spectra @ responses, _LEAST)))

    def labs_of(spectra: Floats) -> Floats:
        return np.hstack([reflectance_to_lab(spectra, light, observer) for light in lights])

    beside = [read_as(seen * np.exp(_STEP * axis))[0] for axis in np.eye(3)]

    def made_of(what: Callable[[Floats], Floats], loose: float) -> _Seen:
        at = what(spectra)
        slopes = np.stack([(what(moved) - at) / _STEP for moved in beside], axis=1)
        return _Seen(at, slopes, np.einsum("n,nji->ji", share, slopes), loose)

    return _Family(share, spectra, made_of(looks_of, LOOSE_LOOK), made_of(labs_of, LOOSE_COLOUR))


def _left_open(looks: Sequence[Look], family: _Family) -> Floats:
    """Return what the responses leave open of how two of the paints differ, as logarithms, shape (3·k, 3·k)."""
    off = family.spectra - family.weights @ family.spectra
    found = []
    for look in looks:
        values = np.maximum(look.values.mean(axis=0), _LEAST)
        squared = [2 * family.weights @ ((off @ left) * off).sum(axis=1) for left in look.left_open]
        found.append(np.maximum(squared, 0) / values**2)
    return np.diag(np.concatenate(found))


def _alone(family: _Family, noise: Floats, apart: Floats, mine: Floats, part: slice) -> Floats:
    """Return the difference in a light by the looks in it alone, as it is for paints of the same pigments."""
    slope, towards = family.looks.slope[:, mine], family.labs.slope[:, part]
    seen = _ANY**2 * slope.T @ slope + noise[np.ix_(mine, mine)]
    return np.asarray(_ANY**2 * towards.T @ slope @ np.linalg.solve(seen, apart[mine]))


def _given(family: _Family, unlike: float, noise: Floats, apart: Floats) -> _Given:
    def together(one: _Seen, other: _Seen) -> Floats:
        wide = _ANY**2 * one.slope.T @ other.slope
        return np.asarray(wide + unlike * family.unlike(one, other) + family.graded(one, other, apart[:3]))

    seen = together(family.looks, family.looks) + noise
    cross, own = together(family.labs, family.looks), together(family.labs, family.labs)
    gain = np.linalg.solve(seen, cross.T).T
    squared = float(apart @ np.linalg.solve(seen, apart))
    _, volume = np.linalg.slogdet(seen)
    chance = float(chdtrc(max(apart.size - 3, 1), squared))
    return _Given(gain @ apart, own - gain @ cross.T, -0.5 * (squared + float(volume)), chance)
