"""Plain Kubelka-Munk and Saunderson, in closed form: what the film model with an entering beam is compared with."""

from __future__ import annotations

import numpy as np

from finishmatch.colour import Floats
from finishmatch.optics.surface import Surface

SMALLEST_REFLECTANCE = 1e-4  # of a film within its surface; keeps K/S finite for the blackest reading
_LEAST_RATIO = 1e-9  # of K to S, below which the formulae lose their digits


def hiding_reflectance(k_over_s: Floats) -> Floats:
    """Return the internal reflectance of a film that hides, from K/S.

    Parameters
    ----------
    k_over_s : array_like, any shape
        Absorption over scattering, 0 or more.

    Returns
    -------
    ndarray, the same shape

    References
    ----------
    Kubelka and Munk 1931: R = 1 + q - sqrt(q² + 2q), written as 1 / (1 + q + sqrt(q² + 2q)), which keeps its digits
    for large q.
    """
    q = np.asarray(k_over_s, dtype=float)
    r: Floats = 1 / (1 + q + np.sqrt(q * (q + 2)))
    return r


def k_over_s(internal: Floats) -> Floats:
    """Return K/S of a hiding film from its internal reflectance (clipped to 1e-4 … 1), (1 - R)² / 2R."""
    r = np.clip(np.asarray(internal, dtype=float), SMALLEST_REFLECTANCE, 1.0)
    q: Floats = (1 - r) ** 2 / (2 * r)
    return q


def layer(K: Floats, S: Floats, build_um: Floats) -> tuple[Floats, Floats]:
    """Return the diffuse reflectance and transmittance of a layer by itself.

    Parameters
    ----------
    K, S : array_like
        Absorption and scattering, 1/µm; the shapes broadcast.
    build_um : array_like
        Thickness, µm, above 0.

    Returns
    -------
    reflectance, transmittance : ndarray

    References
    ----------
    Kubelka, J. Opt. Soc. Am. 38 (1948) 448, the hyperbolic solution written with decaying exponentials.
    """
    S = np.maximum(np.asarray(S), 1e-30)
    K = np.maximum(np.asarray(K), _LEAST_RATIO * S)
    q = K / S
    root = np.sqrt(q * (q + 2))
    rho = 1 / (1 + q + root)
    through = np.exp(-np.minimum(S * root * build_um, 600.0))
    bottom = 1 - (rho * through) ** 2
    return rho * (1 - through**2) / bottom, (1 - rho**2) * through / bottom


def film_over_ground(K: Floats, S: Floats, build_um: Floats, ground: Floats) -> Floats:
    """Return the internal reflectance of a film over a ground for diffuse light.

    Parameters
    ----------
    K, S : array_like
        1/µm.
    build_um : array_like
    ground : array_like
        Reflectance of the ground in contact with the film.

    Returns
    -------
    ndarray, the shapes broadcast

    References
    ----------
    Kubelka and Munk 1931; Kubelka 1948.
    """
    r, t = layer(K, S, build_um)
    over: Floats = r + t**2 * ground / (1 - r * ground)
    return over


def measured(internal: Floats, surface: Surface) -> Floats:
    """Return what an instrument reads of a film whose reflectance for diffuse light inside is known.

    Parameters
    ----------
    internal : array_like, any shape
        Reflectance of the film within its surface, 0 to 1.
    surface : Surface

    Returns
    -------
    ndarray, the same shape

    References
    ----------
    Saunderson, J. Opt. Soc. Am. 32 (1942) 727; ISO 18314-2.
    """
    inner = np.asarray(internal, dtype=float)
    k1, k2 = surface.k1, surface.k2
    through: Floats = (1 - k1) * (1 - k2) * inner / (1 - k2 * inner)
    return through + k1 if surface.specular else through
