"""The surface of a paint film: what is reflected there before and after the light has been in the paint."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats
from finishmatch.errors import InputError

GEOMETRIES = ("di8", "de8", "45/0")


@dataclass(frozen=True)
class Surface:
    """Saunderson constants and whether the reading holds the specular reflection.

    Parameters
    ----------
    k1 : float
        Reflected at the surface from outside, of light near the normal; 0 to 1.
    k2 : float
        Reflected at the surface from inside, of diffuse light; 0 to 1.
    specular : bool
        True when the reading includes the specular part (di8).
    """

    k1: float
    k2: float
    specular: bool = True


def specular_included(geometry: str) -> bool:
    """Whether a geometry (CIE 15: di8, de8, 45/0) includes the specular part; `InputError` for another name."""
    if geometry not in GEOMETRIES:
        raise InputError(f"geometry {geometry!r}", "is not known", "use one of " + ", ".join(GEOMETRIES))
    return geometry == "di8"


def fresnel_normal(index: float) -> float:
    """Return the reflection at normal incidence of a surface of a refractive index (0.04 at 1.5)."""
    return ((index - 1) / (index + 1)) ** 2


def measured(internal: Floats, surface: Surface) -> Floats:
    """Return what an instrument reads of a film whose reflectance inside is known.

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


def internal(reading: Floats, surface: Surface) -> Floats:
    """Return the reflectance within the surface from what was read; the inverse of `measured`.

    Readings darker than the surface itself give values at or below 0, which no film has: clip where it matters.
    """
    r = np.asarray(reading, dtype=float)
    k1, k2 = surface.k1, surface.k2
    through = r - k1 if surface.specular else r
    inner: Floats = through / ((1 - k1) * (1 - k2) + k2 * through)
    return inner


def measured_slope(internal: Floats, surface: Surface) -> Floats:
    """Return the derivative of `measured` with respect to the internal reflectance."""
    inner = np.asarray(internal, dtype=float)
    slope: Floats = (1 - surface.k1) * (1 - surface.k2) / (1 - surface.k2 * inner) ** 2
    return slope
