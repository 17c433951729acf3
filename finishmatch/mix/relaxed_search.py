"""The relaxed problem: mixtures near a target, linear in the amounts, over every subset of the tints."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats, reflectance_to_lab, reflectance_to_lab_slope
from finishmatch.colour.smoothest_spectrum import smoothest_spectrum
from finishmatch.evidence.target import ColourTarget
from finishmatch.mix.refine import Candidates, candidate_reflectance, joined, refine
from finishmatch.mix.subsets import Accepts, ShareLimits, search_subsets
from finishmatch.optics import TintOptics
from finishmatch.optics.beam import film_reading_slopes, hiding_k_over_s, hiding_reading, hiding_reading_slope

KEEP_PER_SIZE = 150
_SPECTRAL_ROWS = 10.0  # as in the refinement: ΔE00 counted for a root-mean-square misfit of one


@dataclass(frozen=True)
class Searched:
    """How far a search went: subsets solved, of up to `largest` of so many tints; all there are up to `whole_up_to`."""

    subsets: int
    tints: int
    largest: int
    whole_up_to: int

    @property
    def in_words(self) -> str:
        """It in words."""
        if self.whole_up_to == self.largest:
            return f"all {self.subsets:,} combinations of up to {self.largest} of {self.tints} tints tried"
        return (
            f"{self.subsets:,} combinations of up to {self.largest} of {self.tints} tints tried: all of up to "
            f"{self.whole_up_to} tints, the most promising of more"
        )


@dataclass(frozen=True)
class Centre:
    """A mixture around which the problem is made linear: its K and S, shape (31,), S on any scale when it hides."""

    K: Floats
    S: Floats


def hiding_centre(spectrum: Floats, optics: TintOptics) -> Centre:
    """Return the centre of a film that hides and reads like a spectrum."""
    q = hiding_k_over_s(spectrum, optics.surface)
    return Centre(q, np.ones_like(q))


def mixture_centre(candidate: Candidates, optics: TintOptics) -> Centre:
    """Return the centre of a first candidate's mixture."""
    amounts = candidate.shares[0] * optics.dry_ml_per_g[candidate.members[0]]
    amounts = amounts / amounts.sum()
    s = amounts @ optics.S[candidate.members[0]]
    return Centre(amounts @ optics.K[candidate.members[0]], np.maximum(s, 1e-3 * s.max()))


def linear_rows(target: ColourTarget, centre: Centre, optics: TintOptics) -> tuple[Floats, Floats]:
    """Return the rows whose product with the amounts is about the difference from the target.

    Parameters
    ----------
    target : ColourTarget
    centre : Centre
    optics : TintOptics

    Returns
    -------
    rows : ndarray, shape (3·lights + 31, tints)
    scale : ndarray, shape (tints,)
        scale·x = 1 makes the mixture scatter like the centre (hiding), or the volumes sum to 1 (over a ground).

    Notes
    -----
    Hiding: with q the target's K/S, q_mix - q = Σ x_i (K_i - q S_i) / S_mix exactly; the row of ΔE00 in a light is that
    times dR/dq and the light's slope of ΔE00 with the spectrum. Over a ground the reading is made linear in K and S
    around the centre, and what the centre is off by is spread over the volumes, which sum to 1.
    """
    if optics.backing is None:
        spectrum = target.reflectance
        q = centre.K / centre.S if spectrum is None else hiding_k_over_s(spectrum, optics.surface)
        expected = centre.S / centre.S.mean()
        change = hiding_reading_slope(q, optics.surface) / expected * (optics.K - q * optics.S)
        reading = hiding_reading(q, optics.surface)
    else:
        backing = optics.backing
        reading, by_k, by_s = film_reading_slopes(
            centre.K, centre.S, np.asarray(backing.build_um), backing.ground, optics.surface
        )
        change = by_k * (optics.K - centre.K) + by_s * (optics.S - centre.S)
    vectors, per_r = target.vectors_and_slope(reading)
    per_r = per_r.reshape(-1, reading.size)
    colour = per_r @ change.T
    spectrum_rows = (_SPECTRAL_ROWS / np.sqrt(reading.size)) * change.T
    if optics.backing is None:
        weight = (per_r**2).sum(axis=0)
        scale = ((optics.S / expected) * weight).sum(axis=1) / weight.sum()
        return np.concatenate([colour, spectrum_rows]), np.maximum(scale, 1e-9 * scale.max())
    colour = colour + vectors.reshape(-1, 1)
    if target.reflectance is not None:
        left = (_SPECTRAL_ROWS / np.sqrt(reading.size)) * (reading - target.reflectance)
        spectrum_rows = spectrum_rows + left[:, None]
    return np.concatenate([colour, spectrum_rows]), np.ones(len(optics.names))


def search_relaxed(
    target: ColourTarget, optics: TintOptics, largest: int, limits: Floats, accepts: Accepts | None = None
) -> tuple[Candidates, Searched]:
    """Return the candidates worth refining, already refined once, and which subsets were solved.

    Parameters
    ----------
    target : ColourTarget
    optics : TintOptics
    largest : int
        Most tints in a recipe.
    limits : ndarray, shape (tints,)
        Largest share of the weight each tint may take.
    accepts : callable or None
        Which subsets are wanted, as in `search_subsets`; one found empty gives no candidates.

    Notes
    -----
    The search runs around the target with flat scattering, then around what was found (its scattering and, when only
    CIELAB is known, its spectrum), and once more within the limits when they bind.
    """
    largest = min(largest, len(optics.names))
    per_amount = 1 / optics.dry_ml_per_g
    searched = Searched(0, len(optics.names), largest, largest)

    def search(centre: Centre, held: ShareLimits | None) -> Candidates:
        nonlocal searched
        rows, scale = linear_rows(target, centre, optics)
        found = search_subsets(rows, scale, largest, KEEP_PER_SIZE, held, accepts)
        searched = Searched(found.searched, len(optics.names), largest, found.whole_up_to)
        if not len(found.members):
            return Candidates(found.members, np.zeros(found.members.shape))
        weight = found.amounts * per_amount[found.members] * (found.members >= 0)
        return refine(
            Candidates(found.members, weight / weight.sum(axis=1, keepdims=True)), optics, target, limits, rounds=12
        )

    centre = hiding_centre(target.reflectance if target.reflectance is not None else likely_spectrum(target), optics)
    if optics.backing is not None:
        # a film that hides comes near enough to say where to make the thin one linear
        opaque = optics.over(None)
        rows, scale = linear_rows(target, centre, opaque)
        near = search_subsets(rows, scale, min(3, largest), 20)
        weight = near.amounts * per_amount[near.members] * (near.members >= 0)
        start = refine(
            Candidates(near.members, weight / weight.sum(axis=1, keepdims=True)), optics, target, limits, rounds=12
        )
        centre = mixture_centre(_best(start, target, optics), optics)
    parts = [search(centre, None)]
    if not len(parts[0]):
        return parts[0], searched
    for _ in range(1 if target.reflectance is not None and optics.backing is None else 2):
        centre = mixture_centre(_best(parts[-1] if len(parts[-1]) else parts[0], target, optics), optics)
        parts.append(search(centre, None))
    if (limits < 1).any():
        parts.append(search(mixture_centre(_best(parts[0], target, optics), optics), ShareLimits(per_amount, limits)))
    return joined([part for part in parts if len(part)]), searched


def _best(candidates: Candidates, target: ColourTarget, optics: TintOptics) -> Candidates:
    worst = target.distances(candidate_reflectance(candidates, optics)).max(axis=1)
    return candidates[[int(np.argmin(worst))]]


def likely_spectrum(target: ColourTarget) -> Floats:
    """Return the smoothest spectrum, shape (31,), that has the target's CIELAB in its reference light."""
    light, observer, lab = target.lights[0], target.observer, target.labs[0]

    def away(spectrum: Floats) -> tuple[Floats, Floats]:
        # in CIELAB: the vectors of ΔE00 turn too fast about a grey to be followed to it
        return (
            reflectance_to_lab(spectrum, light, observer) - lab,
            reflectance_to_lab_slope(spectrum, light, observer),
        )

    return smoothest_spectrum(float(lab[0]), away)
