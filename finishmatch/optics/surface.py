"""The surface of a paint film: what is reflected there before and after the light has been in the paint."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from finishmatch.colour import Floats
from finishmatch.colour.grid import GEOMETRIES
from finishmatch.errors import InputError


@dataclass(frozen=True)
class Surface:
    """The constants a bank's films share: those of Saunderson, and how the entering beam is turned back.

    Parameters
    ----------
    k1 : float
        Reflected at the surface from outside, of light near the normal; 0 to 1.
    k2 : float
        Reflected at the surface from inside, of diffuse light; 0 to 1.
    specular : bool
        True when the reading includes the specular part (di8).
    beam_back : float
        Scattering of the entering beam into the backward flux, per diffuse scattering S; about 0.39 when pigments
        scatter alike in all directions, towards 0 when they scatter forward.
    """

    k1: float
    k2: float
    specular: bool = True
    beam_back: float = 0.39


def specular_included(geometry: str) -> bool:
    """Whether a geometry (CIE 15: di8, de8, 45/0) includes the specular part; `InputError` for another name."""
    if geometry not in GEOMETRIES:
        raise InputError(f"geometry {geometry!r}", "is not known", "use one of " + ", ".join(GEOMETRIES))
    return geometry == "di8"


def fresnel_normal(index: float) -> float:
    """Return the reflection at normal incidence of a surface of a refractive index (0.04 at 1.5)."""
    return ((index - 1) / (index + 1)) ** 2


def usual_surface(index: float, geometry: str) -> Surface:
    """Return the surface that films of a binder are taken to have before a panel is fitted, in a geometry."""
    return Surface(fresnel_normal(index), 0.575, specular_included(geometry))


@cache
def fresnel_diffuse(index: float) -> float:
    """Return the reflection of diffuse light at a surface from the thinner side (0.0918 at 1.5).

    References
    ----------
    Fresnel's equations averaged over the hemisphere with cosine weights (Gauss-Legendre, 64 points).
    """
    nodes, weights = np.polynomial.legendre.leggauss(64)
    mu = (nodes + 1) / 2
    inside = np.sqrt(1 - (1 - mu**2) / index**2)
    parallel = (index * mu - inside) / (index * mu + inside)
    across = (mu - index * inside) / (mu + index * inside)
    return float((weights / 2 * (parallel**2 + across**2) / 2 * 2 * mu).sum())


def fresnel_diffuse_internal(index: float) -> float:
    """Return the reflection of diffuse light at a surface from the denser side (0.5963 at 1.5).

    References
    ----------
    What enters diffusely leaves so by reciprocity: 1 - k2 = (1 - k1) / n².
    """
    return 1 - (1 - fresnel_diffuse(index)) / index**2


def internal(reading: Floats, surface: Surface) -> Floats:
    """Return the reflectance for diffuse light within the surface from what was read.

    Readings darker than the surface itself give values at or below 0, which no film has: clip where it matters.

    References
    ----------
    Saunderson, J. Opt. Soc. Am. 32 (1942) 727; ISO 18314-2.
    """
    r = np.asarray(reading, dtype=float)
    k1, k2 = surface.k1, surface.k2
    through = r - k1 if surface.specular else r
    inner: Floats = through / ((1 - k1) * (1 - k2) + k2 * through)
    return inner


def ground_in_contact(reading: Floats, index: float, specular: bool) -> Floats:
    """Return the reflectance of a ground where paint lies on it, from its reading bare.

    Parameters
    ----------
    reading : array_like, any shape
        Of the bare, glossy ground.
    index : float
        Of the ground's own binder and of the paint, taken to be alike: between them nothing is reflected.
    specular : bool
        Whether the reading includes the specular part.

    Returns
    -------
    ndarray, the same shape, 0 to 1
    """
    bare = Surface(fresnel_normal(index), fresnel_diffuse_internal(index), specular)
    return np.clip(internal(reading, bare), 0.0, 1.0)
