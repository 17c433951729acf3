"""What else a standard may be of which only CIELAB is known, and how a recipe would then part from it in other lights.

The standards thought of are the mixtures of the bank's own tints that look like it in its one light, bent at random
over wavelength as other pigments would bend them, and held to the colour that is known. How far they are bent is so
chosen that measured watercolours part from recipes of a bank that holds none of them as often as is said
(`benchmarks/test_metamers.py`).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from finishmatch.colour import Floats, metamerism_index, weights
from finishmatch.colour.bent_to import bent_to, logits
from finishmatch.colour.grid import SIZE
from finishmatch.evidence.target import ColourTarget
from finishmatch.mix.refine import Candidates, candidate_reflectance
from finishmatch.mix.relaxed_search import search_relaxed
from finishmatch.optics import TintOptics, mixture_reflectance

Indices = NDArray[np.intp]
MOST_PIGMENTS = 4  # a shop's or a maker's colour holds no more besides («common practice»)
ALIKE_DE00 = 0.5  # from the colour that is known
OF_EACH_SIZE, COPIES, DRAWS = 20, 2, 4
BEND_SD, BEND_STEPS = 0.35, 3.0  # of ln R/(1 - R), alike over so many steps of 10 nm
_HELD = 1e-3  # to hold the colour that is known; in tristimulus values of a white of 1
WITHIN = 0.9  # of the standards and of what the recipe may be


@dataclass(frozen=True)
class LightRisk:
    """Special metamerism index, ΔE00, that a recipe may show in a light: half are within `median`, 9 in 10 `most`."""

    light: str
    median: float
    most: float


@dataclass(frozen=True)
class Metamers:
    """Spectra that a standard may have, shape (m, 31), and the lights in which it may part from a recipe."""

    target: ColourTarget
    spectra: Floats

    def risks(self, optics: TintOptics, grams: Floats) -> tuple[LightRisk, ...]:
        """Return how a recipe may part from the standard in each further light.

        Parameters
        ----------
        optics : TintOptics
            Of the recipe's k tints, with the draws of what the bank leaves open where there are any.
        grams : ndarray, shape (k,)
        """
        amounts = grams * optics.dry_ml_per_g
        K, S = (optics.K, optics.S) if optics.draws is None else np.moveaxis(optics.draws[:DRAWS], 1, 0)
        mixed = np.atleast_2d(mixture_reflectance(amounts, K, S, optics.surface, optics.backing))
        reference, observer = self.target.lights[0], self.target.observer
        found = []
        for light in self.target.unseen_lights:
            index = metamerism_index(self.spectra[:, None], mixed, reference, light, observer)
            found.append(LightRisk(light, float(np.median(index)), float(np.quantile(index, WITHIN))))
        return tuple(found)


def risks_document(risks: tuple[LightRisk, ...]) -> dict[str, dict[str, float]]:
    """Return the risks in further lights in their JSON form."""
    return {risk.light: {"median": risk.median, "most": risk.most} for risk in risks}


def metamers(target: ColourTarget, candidates: Candidates, optics: TintOptics) -> Metamers | None:
    """Return what a standard of which only CIELAB is known may be; None where its spectrum is known, or no more lights.

    Parameters
    ----------
    target : ColourTarget
    candidates : Candidates
        The mixtures of the search, refined.
    optics : TintOptics

    Notes
    -----
    Each number of pigments up to `MOST_PIGMENTS` counts alike, by up to `OF_EACH_SIZE` mixtures, taken evenly from all
    that are within `ALIKE_DE00`. Where none is, the nearest stand for it.
    """
    if target.reflectance is not None or not target.unseen_lights:
        return None
    if target.likely is not None:
        return Metamers(target, target.likely)
    spectra = candidate_reflectance(candidates, optics)
    kept = evenly_kept(candidates, target.distances(spectra).max(axis=1))
    return Metamers(target, _bent(spectra[kept], target.lights[0], target.observer))


def evenly_kept(candidates: Candidates, away: Floats) -> Indices:
    """Return the places of up to `OF_EACH_SIZE` mixtures of each number of pigments, all about as near as can be.

    Parameters
    ----------
    candidates : Candidates
    away : ndarray, shape (m,)
        ΔE00 of each from the colour.
    """
    size = (candidates.members >= 0).sum(axis=1)
    near = (away <= max(ALIKE_DE00, float(away.min()) + ALIKE_DE00)) & (size <= MOST_PIGMENTS)
    if not near.any():
        near = away <= float(away.min()) + ALIKE_DE00
    # which of those alike lies nearest is noise: by their tints they are in one order on every machine
    order = np.lexsort(np.sort(candidates.members, axis=1).T)
    order = order[near[order]]
    return np.concatenate([_evenly(order[size[order] == each]) for each in np.unique(size[order])])


def _evenly(places: Indices) -> Indices:
    """Return up to `OF_EACH_SIZE` of some places, evenly spread over them."""
    if len(places) <= OF_EACH_SIZE:
        return places
    taken: Indices = places[np.linspace(0, len(places) - 1, OF_EACH_SIZE).round().astype(int)]
    return taken


def likely_metamers(target: ColourTarget, optics: TintOptics) -> Metamers | None:
    """Return what a standard may be of which only CIELAB is known, by a search of its own among the tints."""
    if target.reflectance is not None or not target.unseen_lights:
        return None
    candidates, _ = search_relaxed(target, optics, MOST_PIGMENTS, np.ones(len(optics.names)))
    return metamers(target, candidates, optics) if len(candidates) else None


def _bent(spectra: Floats, light: str, observer: int) -> Floats:
    """Return copies of spectra, bent over wavelength, that look the same in a light, shape (about copies·m, 31)."""
    sensitivity = weights(light, observer)
    base = np.clip(np.repeat(spectra, COPIES, axis=0), 0.005, 0.995)
    found, misses = bent_to(logits(base) + BEND_SD * _bends(len(base)), sensitivity, base @ sensitivity)
    held = misses < _HELD * sensitivity.sum(axis=0).max()
    return found[held] if held.any() else base


@cache
def _bends(count: int) -> Floats:
    """Return draws of SD 1 that are alike over `BEND_STEPS`, shape (count, 31), the same every time."""
    draws: Floats = np.random.default_rng(36).standard_normal((count, SIZE)) @ np.linalg.cholesky(smooth_bends()).T
    draws.setflags(write=False)
    return draws


@cache
def smooth_bends() -> Floats:
    """Return the covariance, shape (31, 31), of bends of SD 1 that are alike over `BEND_STEPS`."""
    step = np.arange(SIZE)
    alike: Floats = np.exp(-0.5 * ((step[:, None] - step) / BEND_STEPS) ** 2) + 1e-9 * np.eye(SIZE)
    alike.setflags(write=False)
    return alike
