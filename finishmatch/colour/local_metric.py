"""CIEDE2000 as the length of a vector, and its slope: what least squares and propagated errors need of it."""

from __future__ import annotations

import numpy as np

from finishmatch.colour.difference import de00_parts, red_stretch, weighting
from finishmatch.colour.grid import Floats

WITHIN_95 = 2.7955  # the length of a vector of three unit normals stays below it 95 times in 100: chi² of 3, 7.815
_STEP = 1e-4  # of L*, a*, b*: where two colours differ, the slope is taken by differences
_MOVES = _STEP * np.concatenate([np.zeros((1, 3)), np.eye(3)])


def de00_vectors(standard: Floats, trial: Floats) -> Floats:
    """Return differences as vectors whose length is ΔE00.

    Parameters
    ----------
    standard, trial : ndarray, shape (..., 3)
        CIELAB.

    Returns
    -------
    ndarray, shape (..., 3)
        Lightness, chroma turned by the rotation term, and hue: l² + c² + h² + r·c·h = l² + (c + r·h/2)² + (1 - r²/4)h².
    """
    lightness, chroma, hue, rotation = de00_parts(standard, trial)
    vectors = np.empty((*np.shape(lightness), 3))
    vectors[..., 0] = lightness
    vectors[..., 1] = chroma + rotation * hue / 2
    vectors[..., 2] = np.sqrt(np.maximum(1 - rotation * rotation / 4, 0)) * hue
    return vectors


def de00_vectors_and_slope(standard: Floats, trial: Floats) -> tuple[Floats, Floats]:
    """Return `de00_vectors`, shape (..., 3), and their slope with L*, a*, b* of the trial, shape (..., 3, 3)."""
    # the colours themselves and each moved along L*, a* and b*, all in one call
    moved = trial[..., None, :] + _MOVES
    moved_vectors = de00_vectors(standard[..., None, :], moved)
    vectors = moved_vectors[..., 0, :]
    return vectors, np.swapaxes(moved_vectors[..., 1:, :] - vectors[..., None, :], -1, -2) / _STEP


def de00_metric(lab: Floats) -> Floats:
    """Return the matrices M by which |M d| is ΔE00 of a small difference d of CIELAB from a colour.

    Parameters
    ----------
    lab : array_like, shape (..., 3)

    Returns
    -------
    ndarray, shape (..., 3, 3)
        The slope of `de00_vectors` where trial and standard are one colour; a neutral has a hue of 0 there.

    Notes
    -----
    There the weights don't count as moving, since what they divide is zero: the slope of each part is that of ΔL', ΔC'
    or ΔH' over its weight, exactly.
    """
    L, a, b = np.moveaxis(np.asarray(lab, dtype=float), -1, 0)
    stretch = red_stretch(np.hypot(a, b))
    chroma = np.hypot(stretch * a, b)
    coloured = chroma > 0
    cos = np.where(coloured, stretch * a, 1.0) / np.where(coloured, chroma, 1.0)
    sin = np.where(coloured, b, 0.0) / np.where(coloured, chroma, 1.0)
    s_l, s_c, s_h, rotation = weighting(L, chroma, cos + 1j * sin)
    none = np.zeros_like(chroma)
    by_lightness = np.stack([1 / s_l, none, none], axis=-1)
    by_chroma = np.stack([none, stretch * cos, sin], axis=-1) / s_c[..., None]
    by_hue = np.stack([none, -stretch * sin, cos], axis=-1) / s_h[..., None]
    turn = (rotation / 2)[..., None]
    return np.stack([by_lightness, by_chroma + turn * by_hue, np.sqrt(1 - turn**2) * by_hue], axis=-2)
