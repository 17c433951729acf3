"""Colour differences: CIEDE2000 with its parts, and ΔE*ab with ΔL* Δa* Δb* ΔC* ΔH*."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from finishmatch.colour.grid import Floats

_POW25_7 = 25.0**7
_COS30, _SIN30 = np.cos(np.radians(30)), np.sin(np.radians(30))
_COS6, _SIN6 = np.cos(np.radians(6)), np.sin(np.radians(6))
_COS63, _SIN63 = np.cos(np.radians(63)), np.sin(np.radians(63))
_PER_25_DEGREES = 180 / np.pi / 25
_BLOCK = 1 << 14  # colours worked on at a time, so that the working arrays stay in cache


class De00Parts(NamedTuple):
    """The signed parts of CIEDE2000, each ΔX'/(kX SX), and the rotation factor; ΔE00² = l² + c² + h² + rotation·c·h."""

    lightness: Floats
    chroma: Floats
    hue: Floats
    rotation: Floats


class CielabDelta(NamedTuple):
    """ΔL*, Δa*, Δb*, ΔC*ab, ΔH*ab (signed: positive is counter-clockwise), and ΔE*ab; trial minus standard."""

    L: Floats
    a: Floats
    b: Floats
    C: Floats
    H: Floats
    E: Floats


def _hue_chord(a1: Floats, b1: Floats, a2: Floats, b2: Floats, product: Floats) -> Floats:
    """Return 2·sqrt(C1·C2)·sin(Δh/2), signed, without angles (Sève 1991); each form where it keeps its digits."""
    dot, cross = a1 * a2 + b1 * b2, a1 * b2 - b1 * a2
    chord: Floats = np.where(
        dot >= 0,
        cross / np.sqrt(np.maximum((product + dot) / 2, 1e-200)),
        np.copysign(np.sqrt(np.maximum(2 * (product - dot), 0)), cross),
    )
    return chord


def _for_opposite_hues(
    opposite: NDArray[np.bool_], colours: tuple[Floats, ...], found: tuple[Floats, Floats, Floats]
) -> tuple[Floats, Floats, Floats]:
    """Return bisector and hue chord with those of opposite hues set as the standard has it, from hues in 0 to 360°."""
    a1, b1, a2, b2 = (np.broadcast_to(x, np.shape(opposite))[opposite] for x in colours)
    u, v, dh = (np.array(np.broadcast_to(x, np.shape(opposite))) for x in found)
    h1, h2 = np.arctan2(b1, a1) % (2 * np.pi), np.arctan2(b2, a2) % (2 * np.pi)
    turn = h2 - h1
    folded = turn - 2 * np.pi * np.sign(turn) * (np.abs(turn) > np.pi)
    mean = h1 + folded / 2
    u[opposite], v[opposite] = np.cos(mean), np.sin(mean)
    dh[opposite] = np.copysign(dh[opposite], folded)
    return u, v, dh


def _seventh(value: Floats) -> Floats:
    cube = value * value * value
    return cube * cube * value


def de00_parts(standard: Floats, trial: Floats) -> De00Parts:
    """Return the weighted lightness, chroma and hue parts of CIEDE2000, kL = kC = kH = 1.

    Parameters
    ----------
    standard, trial : array_like, shape (..., 3)
        CIELAB; the shapes broadcast.

    Returns
    -------
    De00Parts
        Arrays of the broadcast shape less its last axis.

    References
    ----------
    ISO/CIE 11664-6; Sharma, Wu and Dalal, Color Res. Appl. 30 (2005) 21-30. The equations are numbered as in the paper,
    from memory.
    """
    standard, trial = np.asarray(standard, dtype=float), np.asarray(trial, dtype=float)
    L1, a1, b1 = standard[..., 0], standard[..., 1], standard[..., 2]
    L2, a2, b2 = trial[..., 0], trial[..., 1], trial[..., 2]
    stretch = red_stretch((np.sqrt(a1 * a1 + b1 * b1) + np.sqrt(a2 * a2 + b2 * b2)) / 2)  # (2), (3)
    a1, a2 = stretch * a1, stretch * a2  # (5)
    c1, c2 = np.sqrt(a1 * a1 + b1 * b1), np.sqrt(a2 * a2 + b2 * b2)  # (6)
    product = c1 * c2
    dh = _hue_chord(a1, b1, a2, b2, product)  # (11), and (7) and (10) without angles
    # (14): the mean hue lies along the bisector; where a colour is neutral it counts for nothing
    u, v = a1 * c2 + a2 * c1, b1 * c2 + b2 * c1
    length = np.sqrt(u * u + v * v)
    opposite = (length <= 1e-9 * product) & (product > 0)
    if np.any(opposite):
        u, v, dh = _for_opposite_hues(opposite, (a1, b1, a2, b2), (u, v, dh))
        length = np.sqrt(u * u + v * v)
    length = np.maximum(length, 1e-200)
    s_l, s_c, s_h, rotation = weighting((L1 + L2) / 2, (c1 + c2) / 2, u, v, length)  # (12), (13)
    return De00Parts((L2 - L1) / s_l, (c2 - c1) / s_c, dh / s_h, rotation)  # (8), (9) and the terms of (22)


def red_stretch(chroma: Floats) -> Floats:
    """Return 1 + G, by which CIEDE2000 stretches a*, of the mean C*ab of two colours."""
    mean7 = _seventh(chroma)
    stretch: Floats = 1.5 - 0.5 * np.sqrt(mean7 / (mean7 + _POW25_7))  # (4)
    return stretch


def weighting(
    lightness: Floats, chroma: Floats, u: Floats, v: Floats, length: Floats
) -> tuple[Floats, Floats, Floats, Floats]:
    """Return SL, SC, SH and RT of CIEDE2000 at the mean L* and C' of two colours, their mean hue lying along (u, v)."""
    cos1, sin1 = u / length, v / length
    # (15): T = 1 - 0.17cos(h - 30°) + 0.24cos(2h) + 0.32cos(3h + 6°) - 0.20cos(4h - 63°), by multiple-angle identities
    cos2, sin2 = cos1 * cos1 - sin1 * sin1, 2 * sin1 * cos1
    cos3, sin3 = cos2 * cos1 - sin2 * sin1, sin2 * cos1 + cos2 * sin1
    cos4, sin4 = cos2 * cos2 - sin2 * sin2, 2 * sin2 * cos2
    t = (
        1
        - 0.17 * (_COS30 * cos1 + _SIN30 * sin1)
        + 0.24 * cos2
        + 0.32 * (_COS6 * cos3 - _SIN6 * sin3)
        - 0.20 * (_COS63 * cos4 + _SIN63 * sin4)
    )
    l50 = (lightness - 50) ** 2
    s_l = 1 + 0.015 * l50 / np.sqrt(20 + l50)  # (18)
    s_c = 1 + 0.045 * chroma  # (19)
    s_h = 1 + 0.015 * chroma * t  # (20)
    c7 = _seventh(chroma)
    hue = np.arctan2(v, u)
    from_blue = (hue + 2 * np.pi * (hue < 0)) * _PER_25_DEGREES - 11  # (h - 275°) / 25°
    bump = np.exp(-from_blue * from_blue)  # (16), over 30°
    return s_l, s_c, s_h, -2 * np.sqrt(c7 / (c7 + _POW25_7)) * np.sin(np.pi / 3 * bump)  # (17), (21)


def _combine(parts: De00Parts) -> Floats:
    l, c, h, r = parts  # noqa: E741
    de: Floats = np.sqrt(np.maximum(l * l + c * c + h * h + r * c * h, 0))  # (22)
    return de


def de00(standard: Floats, trial: Floats) -> Floats:
    """Return the CIEDE2000 difference of colours, kL = kC = kH = 1.

    Parameters
    ----------
    standard, trial : array_like, shape (..., 3)
        CIELAB; the shapes broadcast.

    Returns
    -------
    ndarray
        ΔE00, the broadcast shape less its last axis.

    References
    ----------
    ISO/CIE 11664-6; Sharma, Wu and Dalal, Color Res. Appl. 30 (2005) 21-30.
    """
    standard, trial = np.broadcast_arrays(np.asarray(standard, float), np.asarray(trial, float))
    shape = standard.shape[:-1]
    if standard.size <= 3 * _BLOCK:
        return _combine(de00_parts(standard, trial))
    flat1, flat2 = standard.reshape(-1, 3), trial.reshape(-1, 3)
    out = np.empty(flat1.shape[0])
    for start in range(0, out.size, _BLOCK):
        cut = slice(start, start + _BLOCK)
        out[cut] = _combine(de00_parts(np.ascontiguousarray(flat1[cut].T).T, np.ascontiguousarray(flat2[cut].T).T))
    return out.reshape(shape)


def cielab_delta(standard: Floats, trial: Floats) -> CielabDelta:
    """Return the CIELAB difference, trial minus standard, with its polar parts.

    Parameters
    ----------
    standard, trial : array_like, shape (..., 3)

    Returns
    -------
    CielabDelta

    References
    ----------
    ISO/CIE 11664-4.
    """
    standard, trial = np.asarray(standard, float), np.asarray(trial, float)
    d = trial - standard
    c1, c2 = np.hypot(standard[..., 1], standard[..., 2]), np.hypot(trial[..., 1], trial[..., 2])
    dh = _hue_chord(standard[..., 1], standard[..., 2], trial[..., 1], trial[..., 2], c1 * c2)
    return CielabDelta(d[..., 0], d[..., 1], d[..., 2], c2 - c1, dh, np.sqrt((d * d).sum(axis=-1)))
