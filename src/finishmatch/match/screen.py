"""The relaxed problem: mixtures near a target, linear in the amounts, over every subset of the tints."""

from __future__ import annotations

import numpy as np

from finishmatch.colour import Floats
from finishmatch.match.refine import Candidates, candidate_reflectance, joined, refine
from finishmatch.match.subsets import ShareLimits, search_subsets
from finishmatch.match.target import ColourTarget
from finishmatch.optics import TintOptics, internal, k_over_s
from finishmatch.optics.film import hiding_reflectance, hiding_reflectance_slope
from finishmatch.optics.surface import measured_slope

KEEP_PER_SIZE = 150
_SPECTRAL_ROWS = 10.0  # as in the refinement: ΔE00 counted for a root-mean-square misfit of one


def linear_rows(
    target: ColourTarget, centre: Floats, optics: TintOptics, scattering: Floats | None = None
) -> tuple[Floats, Floats]:
    """Return the rows whose product with the amounts is about the difference from the target.

    Parameters
    ----------
    target : ColourTarget
    centre : ndarray, shape (31,)
        The spectrum around which it is made linear: the target's own, or one that looks like it.
    optics : TintOptics
    scattering : ndarray, shape (31,), or None
        S of the mixture expected, up to a factor; None for flat.

    Returns
    -------
    rows : ndarray, shape (3·lights + 31, tints)
    scale : ndarray, shape (tints,)
        Mean S of each tint as it counts here: scale·x = 1 makes the mixture scatter like `scattering`.

    Notes
    -----
    With q the K/S of the centre, q_mix - q = Σ x_i (K_i - q S_i) / S_mix exactly; the row of ΔE00 in a light is that
    times dR/dq and the light's slope of ΔE00 with the spectrum.
    """
    q = k_over_s(internal(centre, optics.surface))
    per_q = measured_slope(hiding_reflectance(q), optics.surface) * hiding_reflectance_slope(q)
    expected = np.ones_like(q) if scattering is None else scattering / scattering.mean()
    change = per_q / expected * (optics.K - q * optics.S)  # (tints, 31): change of R per amount
    _, per_r = target.vectors_and_slope(centre)
    colour = per_r.reshape(-1, centre.size) @ change.T
    spectrum = (_SPECTRAL_ROWS / np.sqrt(centre.size)) * change.T
    weight = (per_r**2).sum(axis=(0, 1))
    scale = ((optics.S / expected) * weight).sum(axis=1) / weight.sum()
    return np.concatenate([colour, spectrum]), np.maximum(scale, 1e-6)


def screen(target: ColourTarget, optics: TintOptics, largest: int, limits: Floats) -> tuple[Candidates, int]:
    """Return the candidates worth refining, already refined once, and how many subsets were solved.

    Parameters
    ----------
    target : ColourTarget
    optics : TintOptics
    largest : int
        Most tints in a recipe.
    limits : ndarray, shape (tints,)
        Largest share of the weight each tint may take.

    Notes
    -----
    The search runs around the target with flat scattering, then around what was found (its scattering and, when only
    CIELAB is known, its spectrum), and once more within the limits when they bind.
    """
    largest = min(largest, len(optics.names))
    per_amount = 1 / optics.dry_ml_per_g
    searched = 0

    def search(centre: Floats, scattering: Floats | None, held: ShareLimits | None) -> Candidates:
        nonlocal searched
        rows, scale = linear_rows(target, centre, optics, scattering)
        found = search_subsets(rows, scale, largest, KEEP_PER_SIZE, held)
        searched = found.searched
        weight = found.amounts * per_amount[found.members] * (found.members >= 0)
        return refine(
            Candidates(found.members, weight / weight.sum(axis=1, keepdims=True)), optics, target, limits, rounds=12
        )

    centre = target.reflectance if target.reflectance is not None else likely_spectrum(target)
    parts = [search(centre, None, None)]
    for _ in range(1 if target.reflectance is not None else 2):
        best = _best(parts[-1], target, optics)
        if target.reflectance is None:
            centre = candidate_reflectance(best, optics)[0]
        parts.append(search(centre, _scattering(best, optics), None))
    if (limits < 1).any():
        parts.append(
            search(centre, _scattering(_best(parts[-1], target, optics), optics), ShareLimits(per_amount, limits))
        )
    return joined(parts), searched


def _best(candidates: Candidates, target: ColourTarget, optics: TintOptics) -> Candidates:
    worst = target.differences(candidate_reflectance(candidates, optics)).max(axis=1)
    return candidates[[int(np.argmin(worst))]]


def _scattering(candidate: Candidates, optics: TintOptics) -> Floats:
    amounts = candidate.shares[0] * optics.dry_ml_per_g[candidate.members[0]]
    s: Floats = amounts @ optics.S[candidate.members[0]]
    held: Floats = np.maximum(s, 1e-3 * s.max())
    return held


def likely_spectrum(target: ColourTarget) -> Floats:
    """Return the smoothest spectrum, shape (31,), that has the target's CIELAB in its reference light.

    The logarithm of K/S-like odds R/(1-R) is made smooth (least squared steps) and moved by Newton's method until the
    colour is met; colours no real spectrum has are approached as far as that goes.
    """
    size = 31
    difference = np.diff(np.eye(size), axis=0)
    roughness = difference.T @ difference + 1e-6 * np.eye(size)
    inverse = np.linalg.inv(roughness)
    middle = np.clip((target.labs[0, 0] / 100) ** 2.4, 0.01, 0.97)
    logit = np.full(size, np.log(middle / (1 - middle)))
    for _ in range(40):
        r = 1 / (1 + np.exp(-logit))
        vectors, slope = target.vectors_and_slope(r)
        jacobian = slope[0] * (r * (1 - r))
        # least roughness of the whole curve subject to the linearised colour
        reach = jacobian @ inverse @ jacobian.T + 1e-6 * np.eye(3)
        goal = jacobian @ logit - vectors[0]
        wanted = inverse @ jacobian.T @ np.linalg.solve(reach, goal)
        step = np.clip(wanted - logit, -1, 1)
        logit = np.clip(logit + step, -7, 7)
        if np.abs(step).max() < 1e-6:
            break
    spectrum: Floats = 1 / (1 + np.exp(-logit))
    return spectrum
