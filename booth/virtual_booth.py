"""The virtual booth: what an instrument reads of a paint film, by radiative transfer.

It stands in for spraying and measuring, and knows nothing of the optics the product uses. The angles, their weights
and the reflection at the film's surface are iadpython's; where that adds thin layers up to thick ones, the same
equations are solved here for all depths at once by their modes. The tests hold it against iadpython's answer.

A film is a homogeneous layer of index 1.5 (by default) under air, with Henyey-Greenstein scattering. Light enters
along the normal and all that comes back is collected, which by reciprocity is d/0, near enough d/8. A ground is a
Lambertian diffuser in optical contact: there is no surface between it and the film.

References
----------
van de Hulst, Multiple Light Scattering (1980); Stamnes and Swanson, J. Atmos. Sci. 38 (1981) 387-399, of solving
by modes («from memory»); Prahl, van Gemert and Welch, Appl. Opt. 32 (1993) 559-568.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

import iadpython
import numpy as np
from numpy.typing import ArrayLike

from booth.pigments import WAVELENGTHS_NM, Floats, Ints, Pigment, random_pigments

__all__ = [
    "WAVELENGTHS_NM",
    "Pigment",
    "bare_ground_reading",
    "dry_volume_fractions",
    "film_reflectance",
    "layer_reflectance",
    "random_pigments",
    "specular_reflectance",
]

INDEX = 1.5
QUAD_PTS = 24  # more angles move no reflectance by 5e-5
_CHUNK = 512  # layers worked on at a time, so that their matrices stay in cache
_DARK = 20.0  # nothing passes a mode that fades by more than e to this power
_FAINT = 1e-9  # what fades by less is counted as not fading
_NO_FILM = 1e12  # 2 over the least depth that is told from none


@dataclass(frozen=True)
class _Angles:
    """The directions within the film and what its surface does to light in each; arrays of shape (n,)."""

    nu: Floats  # cosines; the last is the normal
    flux: Floats  # 2·ν·w, summing to 1
    out: Floats  # transmitted to the air from within; 0 beyond the critical angle
    back: Floats  # reflected within
    specular: float  # reflected outside, at the normal
    legendre: Floats  # (n terms, n·n): P_k(ν_i)·P_k(ν_j)
    sign: Floats  # (n terms,): (-1)^k


@cache
def _angles(index: float, quad_pts: int) -> _Angles:
    sample = iadpython.Sample(a=0.5, b=1, g=0, n=index, n_above=index, n_below=index, quad_pts=quad_pts)
    sample.update_quadrature()
    outer, inner, _, out = iadpython.start.boundary_layer(sample, top=True)
    nu, flux = np.asarray(sample.nu, float), np.asarray(sample.twonuw, float)
    inside = nu <= sample.nu_c()
    terms = np.stack([np.polynomial.legendre.legval(nu, np.eye(quad_pts)[k]) for k in range(quad_pts)])
    return _Angles(
        nu,
        flux,
        np.where(inside, 0.0, out),
        inner / flux,
        float(outer[-1] / flux[-1]),
        (terms[:, :, None] * terms[:, None, :]).reshape(quad_pts, -1),
        np.where(np.arange(quad_pts) % 2, -1.0, 1.0),
    )


@dataclass(frozen=True)
class _Modes:
    """In what forms light fades in films: eigenvectors, shape (m, n, n), and what each loses by depth, (m, n)."""

    form: Floats
    fading: Floats
    depth_scale: Floats  # (m,): of the depth, by what counts as passing straight on


def _modes(at: _Angles, albedo: Floats, g: Floats) -> _Modes:
    """Return how light fades in films of an albedo and an anisotropy, each of shape (m,).

    With the square roots of the flux weights in them, the equations of transfer for the sum and the difference of the
    light going down and going up are `difference' = -A·sum` and `sum' = -B·difference`, A and B symmetric and B
    positive: one symmetric eigenproblem of Lᵀ·A·L, with B = L·Lᵀ, tells all depths at once.
    """
    n = at.nu.size
    peak = albedo * g**n
    scale = 1 - peak
    albedo = (albedo - peak) / scale
    k = np.arange(n)
    moments = (2 * k + 1) * (g[:, None] ** k - g[:, None] ** n) / (1 - g[:, None] ** n)  # delta-M, Wiscombe 1977
    spread = np.sqrt(at.flux[:, None] * at.flux[None, :]) / (at.nu[:, None] * at.nu[None, :])  # = 2·sqrt(w·w/ν·ν)
    share = (albedo / 4)[:, None, None] * spread
    forward = share * (moments @ at.legendre).reshape(-1, n, n)
    backward = share * ((moments * at.sign) @ at.legendre).reshape(-1, n, n)
    loss = np.diag(1 / at.nu)
    lower = np.linalg.cholesky(loss - forward + backward)
    across = np.swapaxes(lower, -1, -2)
    squares, turned = np.linalg.eigh(across @ (loss - forward - backward) @ lower)
    return _Modes(np.linalg.solve(across, turned), np.sqrt(np.maximum(squares, 0.0)), scale)


def _layer(modes: _Modes, of: Ints, depth: Floats) -> tuple[Floats, Floats]:
    """Return R and T, shape (m, n, n), of layers without surfaces, of the films `of`; infinitely deep ones hide.

    R + T answers light that is the same on both faces, R - T light that is opposite.
    """
    if np.isinf(depth).all():  # no light comes through: same and opposite are one, and films alike read alike
        whole = _answer(modes.form, modes.fading)[of]
        return whole, np.zeros_like(whole)
    form, fading = modes.form[of], modes.fading[of]
    half = (depth * modes.depth_scale[of] / 2)[:, None] * np.ones_like(fading)
    # fading·tanh(fading·half) and fading·coth(fading·half), which is 1/half where nothing is lost
    through = np.tanh(np.minimum(fading * half, _DARK))
    same = _answer(form, fading * through)
    with np.errstate(divide="ignore"):
        steep = np.where(fading * half > _FAINT, fading / np.maximum(through, _FAINT / 2), 1 / half)
    opposite = _answer(form, np.minimum(steep, _NO_FILM))
    return (same + opposite) / 2, (same - opposite) / 2


def _answer(form: Floats, each: Floats) -> Floats:
    """Return (1 - M)/(1 + M) for M = form·each·formᵀ."""
    M = (form * each[:, None, :]) @ np.swapaxes(form, -1, -2)
    eye = np.eye(M.shape[-1])
    answer: Floats = 2 * np.linalg.inv(eye + M) - eye
    return answer


def _read(at: _Angles, R: Floats) -> Floats:
    """Return what comes back through the surface, shape (m,), without the specular part, for light along the normal."""
    root = np.sqrt(at.flux)
    entering = (1 - at.specular) / root[-1]
    inner = np.linalg.solve(np.eye(root.size) - R * at.back[None, None, :], R[:, :, -1:] * entering)
    read: Floats = inner[:, :, 0] @ (at.out * root)
    return read


def layer_reflectance(
    albedo: ArrayLike,
    depth: ArrayLike,
    g: ArrayLike,
    ground: ArrayLike | None = None,
    *,
    specular_included: bool = True,
    index: float = INDEX,
    quad_pts: int = QUAD_PTS,
) -> Floats:
    """Return the reflectance of layers under air.

    Parameters
    ----------
    albedo, depth, g : array_like
        Scattered share of what is lost, optical depth (infinity: hiding) and anisotropy; shapes broadcast.
    ground : array_like or None
        Reflectance 0 to 1 of the Lambertian ground in contact; None is black.
    specular_included : bool
    index : float
        Of the film.
    quad_pts : int
        Even number of directions.

    Returns
    -------
    ndarray
        The broadcast shape.
    """
    at = _angles(index, quad_pts)
    under = np.zeros(()) if ground is None else np.asarray(ground, float)
    film = np.broadcast_arrays(np.asarray(albedo, float), np.asarray(depth, float), np.asarray(g, float))
    apart = max(under.ndim - film[0].ndim, 0)  # axes of grounds alone: each film is computed once for all of them
    shape = np.broadcast_shapes(film[0].shape, under.shape[apart:])
    flat = [np.broadcast_to(array, shape).reshape(-1) for array in film]
    grounds = np.broadcast_to(under, (*under.shape[:apart], *shape)).reshape(-1, flat[0].size)
    root = np.sqrt(at.flux)
    read = np.empty(grounds.shape)
    for start in range(0, flat[0].size, _CHUNK):
        chunk = slice(start, start + _CHUNK)
        films, of = np.unique(np.stack([flat[0][chunk], flat[2][chunk]]), axis=1, return_inverse=True)
        R, T = _layer(_modes(at, films[0], films[1]), of.reshape(-1), flat[1][chunk])
        # the ground's matrix is Rg·v·vᵀ with v the roots of the flux weights: adding it has a closed form
        lit, back = T @ root, root @ R @ root
        for ground_read, rg in zip(read, grounds[:, chunk], strict=True):
            gain = rg / (1 - rg * back)
            ground_read[chunk] = _read(at, R + gain[:, None, None] * (lit[:, :, None] * lit[:, None, :]))
    read += at.specular if specular_included else 0.0
    return read.reshape((*under.shape[:apart], *shape))


def film_reflectance(
    volume_fractions: Mapping[str, float] | ArrayLike,
    pigments: Sequence[Pigment],
    build_um: ArrayLike | None = None,
    ground: ArrayLike | None = None,
    specular_included: bool = True,
    index: float = INDEX,
    quad_pts: int = QUAD_PTS,
) -> Floats:
    """Return what an instrument reads of paint films.

    Parameters
    ----------
    volume_fractions : mapping of name to share, or array_like, shape (..., n)
        Dry volume fractions of the n pigments; what is missing to 1 is clear binder.
    pigments : sequence of Pigment, n long
    build_um : float or array_like, shape (...), or None
        Dry build; None is a film that hides, 0 no film but its surface.
    ground : array_like, shape (31,) or (..., 31), or None
        Reflectance of the Lambertian ground *in contact with the film*, not as read bare (see `bare_ground_reading`);
        None is black.
    specular_included : bool
        False leaves out the surface's mirror reflection (de8).
    index : float
    quad_pts : int

    Returns
    -------
    ndarray, shape (..., 31)
    """
    if isinstance(volume_fractions, Mapping):
        unknown = set(volume_fractions) - {p.name for p in pigments}
        if unknown:
            raise KeyError(f"no pigment named {', '.join(sorted(unknown))}")
        shares = np.array([volume_fractions.get(p.name, 0.0) for p in pigments])
    else:
        shares = np.asarray(volume_fractions, dtype=float)
    mu_s = shares @ np.stack([p.mu_s for p in pigments])
    mu_t = shares @ np.stack([p.mu_a for p in pigments]) + mu_s
    with np.errstate(invalid="ignore", divide="ignore"):
        albedo = np.where(mu_t > 0, mu_s / mu_t, 0.0)
        g = np.where(mu_s > 0, (shares @ np.stack([p.mu_s * p.g for p in pigments])) / mu_s, 0.0)
    depth = np.full(mu_t.shape, np.inf) if build_um is None else mu_t * np.asarray(build_um, float)[..., None]
    return layer_reflectance(
        albedo, depth, g, ground, specular_included=specular_included, index=index, quad_pts=quad_pts
    )


def specular_reflectance(index: float = INDEX) -> float:
    """Return the mirror reflection of the surface near the normal, by Fresnel (0.04 at 1.5)."""
    return ((index - 1) / (index + 1)) ** 2


def bare_ground_reading(ground: ArrayLike, specular_included: bool = True, index: float = INDEX) -> Floats:
    """Return what an instrument reads of a bare glossy ground, whose own surface has the film's index.

    Parameters
    ----------
    ground : array_like, shape (..., 31)
        Reflectance in contact with a film, as `film_reflectance` takes it.

    Returns
    -------
    ndarray, shape (..., 31)
    """
    return layer_reflectance(0.0, 0.0, 0.0, ground, specular_included=specular_included, index=index)


def dry_volume_fractions(grams: ArrayLike, density_kg_l: ArrayLike, volume_solids: ArrayLike) -> Floats:
    """Return the dry volume fraction of each tint in the film of a mixture.

    Parameters
    ----------
    grams : array_like, shape (..., n)
        As weighed, wet.
    density_kg_l, volume_solids : array_like, shape (n,)

    Returns
    -------
    ndarray, shape (..., n)
        Summing to 1: grams · volume solids / density, over the sum.
    """
    volume = np.asarray(grams, float) * np.asarray(volume_solids, float) / np.asarray(density_kg_l, float)
    fractions: Floats = volume / volume.sum(axis=-1, keepdims=True)
    return fractions
