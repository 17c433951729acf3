"""What an instrument reads of a film: a beam that enters near the normal feeds the two diffuse fluxes of Kubelka-Munk.

Plain Kubelka-Munk takes the entering light to be diffuse; instruments and the eye send it in as a beam (d/8 is 8/d by
reciprocity). The beam is scattered and absorbed on its way down, feeding the fluxes up and down; they then behave as
Kubelka and Munk have it, K and S being theirs, and meet the surface as Saunderson has it. The film stays described by
two constants per tint; the beam adds one number per bank, `Surface.beam_back`.

References
----------
Mudgett and Richards, Appl. Opt. 10 (1971) 1485 (many-flux); Maheu, Letoulouzan and Gouesbet, Appl. Opt. 23 (1984) 3353
(four-flux). How strongly the beam is taken up per K and per S was fitted to adding-doubling of films of index 1.5 at
S·build from 0.15 to hiding, over grounds of 0.01 to 0.92 (docs/accuracy.md).
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from finishmatch.colour import Floats
from finishmatch.optics.surface import Surface

BEAM_PER_K = 0.246
BEAM_PER_S = 2.3
_LEAST_RATIO = 1e-9
_DEEPEST = 600.0

Numbers = NDArray[Any]  # real, or complex for the complex step


def hiding_reading(k_over_s: Floats, surface: Surface) -> Floats:
    """Return what is read of a film that hides.

    Parameters
    ----------
    k_over_s : array_like, any shape
        0 or more.
    surface : Surface

    Returns
    -------
    ndarray, the same shape
        Reflectance factor.
    """
    q = np.asarray(k_over_s)
    root = np.sqrt(q * (q + 2))
    rho = 1 / (1 + q + root)
    turned = (surface.beam_back + rho * (BEAM_PER_S - surface.beam_back)) / (root + BEAM_PER_K * q + BEAM_PER_S)
    return _read(turned, rho, surface)


def hiding_reading_slope(k_over_s: Floats, surface: Surface) -> Floats:
    """Return the derivative of `hiding_reading` with respect to K/S, which is negative."""
    return _hiding_with_slope(np.maximum(np.asarray(k_over_s, dtype=float), _LEAST_RATIO), surface)[1]


def hiding_reading_with_slope(k_over_s: Floats, surface: Surface) -> tuple[Floats, Floats]:
    """Return `hiding_reading` and `hiding_reading_slope`, worked out together."""
    q = np.asarray(k_over_s, dtype=float)
    above = np.maximum(q, _LEAST_RATIO)
    reading, slope = _hiding_with_slope(above, surface)
    return (reading if (q == above).all() else hiding_reading(q, surface)), slope


def _hiding_with_slope(q: Floats, surface: Surface) -> tuple[Floats, Floats]:
    """Return what is read of a film that hides, and its derivative, at K/S above 0."""
    root = np.sqrt(q * (q + 2))
    rho = 1 / (1 + q + root)
    forward, under = BEAM_PER_S - surface.beam_back, root + BEAM_PER_K * q + BEAM_PER_S
    turned = (surface.beam_back + rho * forward) / under
    by_rho = -rho / root  # of ρ = 1 + q - root, root' being (1 + q) / root
    by_turned = (by_rho * forward - turned * ((1 + q) / root + BEAM_PER_K)) / under
    within = 1 - surface.k2 * rho
    read = (1 - surface.k1) * (1 - surface.k2) * turned / within
    slope = ((1 - surface.k1) * (1 - surface.k2) * by_turned + read * surface.k2 * by_rho) / within
    return (read + surface.k1 if surface.specular else read), slope


def hiding_k_over_s(reading: Floats, surface: Surface) -> Floats:
    """Return K/S of a film that hides, from its reading; the inverse of `hiding_reading`.

    Readings brighter than a film without absorption give 0, those darker than the surface a large number (1e4).
    """
    r = np.asarray(reading, dtype=float)
    # falling all the way, so bisection in log(K/S) can't fail; Newton then polishes
    low, high = np.full(r.shape, -20.7), np.full(r.shape, 9.3)
    for _ in range(24):
        middle = (low + high) / 2
        brighter = hiding_reading(np.exp(middle), surface) > r
        low, high = np.where(brighter, middle, low), np.where(brighter, high, middle)
    log = (low + high) / 2
    for _ in range(3):
        q = np.exp(log)
        slope = hiding_reading_slope(q, surface) * q
        log = np.clip(log - np.clip((hiding_reading(q, surface) - r) / np.minimum(slope, -1e-300), -1, 1), low, high)
    return np.where(log < -20, 0.0, np.exp(log))


def film_reading(K: Numbers, S: Numbers, build_um: Floats, ground: Floats, surface: Surface) -> Any:
    """Return what is read of a film over a ground.

    Parameters
    ----------
    K, S : array_like, shape (..., 31)
        1/µm; the shapes of all broadcast.
    build_um : array_like
        Dry build, µm, above 0.
    ground : array_like
        Reflectance of the ground in contact with the film (`ground_in_contact`).
    surface : Surface

    Returns
    -------
    ndarray
        Reflectance factor.

    Notes
    -----
    Half-space solutions are subtracted at the ground's depth, which leaves no small denominators: the beam turned back
    by a half-space is (B + ρF) / (α + ε), with α = sqrt(K (K + 2S)), ε the beam's extinction and F, B its scattering
    into the fluxes down and up.
    """
    S = np.maximum(S, 1e-30) if np.isrealobj(S) else S
    K = np.maximum(K, _LEAST_RATIO * S) if np.isrealobj(K) and np.isrealobj(S) else K
    alpha = np.sqrt(K * (K + 2 * S))
    rho = S / (K + S + alpha)
    epsilon = BEAM_PER_K * K + BEAM_PER_S * S
    back, forward = surface.beam_back * S, (BEAM_PER_S - surface.beam_back) * S
    half_space = (back + rho * forward) / (alpha + epsilon)
    beam_left = _decay(epsilon * build_um)
    diffuse_left = _decay(alpha * build_um)
    # downward flux that the beam leaves at the ground's depth of a half-space, and the upward flux there
    down = (forward * (K + S + epsilon) + S * back) / (alpha + epsilon) * _between(epsilon, alpha, build_um)
    up = rho * down + half_space * beam_left
    bottom = 1 - (rho * diffuse_left) ** 2
    r = rho * (1 - diffuse_left**2) / bottom
    t = (1 - rho**2) * diffuse_left / bottom
    beam_up = half_space - t * up
    beam_down = down - r * up
    seen = t * ground / (1 - r * ground)
    return _read(beam_up + seen * (beam_down + beam_left), r + seen * t, surface)


def film_reading_slopes(
    K: Floats, S: Floats, build_um: Floats, ground: Floats, surface: Surface
) -> tuple[Floats, Floats, Floats]:
    """Return `film_reading` and its derivatives with respect to K and to S (complex step)."""
    S = np.maximum(np.asarray(S, dtype=float), 1e-12)
    K = np.maximum(np.asarray(K, dtype=float), 1e-8 * S)
    step = 1e-20
    by_k = film_reading(K + 1j * step, S + 0j, build_um, ground, surface)
    by_s = film_reading(K + 0j, S + 1j * step, build_um, ground, surface)
    return np.real(by_k), np.imag(by_k) / step, np.imag(by_s) / step


def _read(beam_turned: Floats, diffuse: Floats, surface: Surface) -> Floats:
    """Return the reading from what the film turns back of the beam, and of diffuse light from within."""
    out: Floats = (1 - surface.k1) * (1 - surface.k2) * beam_turned / (1 - surface.k2 * diffuse)
    return out + surface.k1 if surface.specular else out


def _decay(depth: Floats) -> Floats:
    """Return exp(-depth), 0 for great depths (real part)."""
    deep = np.real(depth) > _DEEPEST
    if not deep.any():
        return np.asarray(np.exp(-depth))
    return np.where(deep, 0.0, np.exp(-np.where(deep, 0.0, depth)))


def _between(a: Floats, b: Floats, build_um: Floats) -> Floats:
    """Return (exp(-a X) - exp(-b X)) / (b - a), X exp(-a X) where the two are alike."""
    falls = np.real(a) < np.real(b)
    less, more = np.where(falls, a, b), np.where(falls, b, a)
    gap = (more - less) * build_um
    # (1 - exp(-g)) / g: the series keeps the digits, and the complex step, near 0
    near = np.real(gap) < 1e-3
    safe = np.where(near, 1.0, gap)
    ratio = (1 - _decay(safe)) / safe
    if near.any():
        ratio = np.where(near, 1 - gap * (1 / 2 - gap * (1 / 6 - gap / 24)), ratio)
    smooth: Floats = build_um * _decay(less * build_um) * ratio
    return smooth
