"""Colour differences: CIEDE2000 with its parts, and ΔE*ab with ΔL* Δa* Δb* ΔC* ΔH*."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from finishmatch.colour.grid import Floats

Complex = NDArray[np.complex128]

_POW25_7 = 25.0**7
_TURNED = np.exp(1j * np.radians([-30, 0, 6, -63]))
_T1, _T2, _T3, _T4 = map(complex, np.array([-0.17, 0.24, 0.32, -0.20]) * _TURNED)  # of T, by powers of e^(ih)
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


def _hue_chord(turn: Complex, product: Floats) -> Floats:
    """Return 2·sqrt(C1·C2)·sin(Δh/2), signed, without angles (Sève 1991); each form where it keeps its digits.

    `turn` is C1·C2·e^(iΔh).
    """
    dot, cross = turn.real, turn.imag
    acute = dot >= 0
    chord: Floats = cross / np.sqrt(np.maximum((product + dot) / 2, 1e-200))
    if acute.all():
        return chord
    return np.where(acute, chord, np.copysign(np.sqrt(np.maximum(2 * (product - dot), 0)), cross))


def _for_opposite_hues(
    opposite: NDArray[np.bool_], colours: tuple[Complex, Complex], found: tuple[Complex, Floats]
) -> tuple[Complex, Floats]:
    """Return bisector and hue chord with those of opposite hues set as the standard has it, from hues in 0 to 360°."""
    h1, h2 = (np.angle(np.broadcast_to(x, np.shape(opposite))[opposite]) % (2 * np.pi) for x in colours)
    along = np.array(np.broadcast_to(found[0], np.shape(opposite)))
    dh = np.array(np.broadcast_to(found[1], np.shape(opposite)))
    turn = h2 - h1
    folded = turn - 2 * np.pi * np.sign(turn) * (np.abs(turn) > np.pi)
    along[opposite] = np.exp(1j * (h1 + folded / 2))
    dh[opposite] = np.copysign(dh[opposite], folded)
    return along, dh


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
    one, other, product = a1 + 1j * b1, a2 + 1j * b2, c1 * c2
    dh = _hue_chord(one.conj() * other, product)  # (11), and (7) and (10) without angles
    # (14): the mean hue lies along the bisector; where a colour is neutral it counts for nothing
    along = one * c2 + other * c1
    length = np.abs(along)
    opposite = length <= 1e-9 * product
    if opposite.any():
        along, dh = _for_opposite_hues(opposite & (product > 0), (one, other), (along, dh))
        length = np.abs(along)
    length = np.maximum(length, 1e-200)
    s_l, s_c, s_h, rotation = weighting((L1 + L2) / 2, (c1 + c2) / 2, along / length)  # (12), (13)
    return De00Parts((L2 - L1) / s_l, (c2 - c1) / s_c, dh / s_h, rotation)  # (8), (9) and the terms of (22)


def red_stretch(chroma: Floats) -> Floats:
    """Return 1 + G, by which CIEDE2000 stretches a*, of the mean C*ab of two colours."""
    mean7 = _seventh(chroma)
    stretch: Floats = 1.5 - 0.5 * np.sqrt(mean7 / (mean7 + _POW25_7))  # (4)
    return stretch


def weighting(lightness: Floats, chroma: Floats, along: Complex) -> tuple[Floats, Floats, Floats, Floats]:
    """Return SL, SC, SH and RT of CIEDE2000 at the mean L* and C' of two colours.

    `along` is e^(ih') of their mean hue h'; of a neutral, which has none, it may be 0.
    """
    # (15): T = 1 - 0.17cos(h - 30°) + 0.24cos(2h) + 0.32cos(3h + 6°) - 0.20cos(4h - 63°)
    t = 1 + (along * (_T1 + along * (_T2 + along * (_T3 + along * _T4)))).real
    l50 = (lightness - 50) ** 2
    s_l = 1 + 0.015 * l50 / np.sqrt(20 + l50)  # (18)
    s_c = 1 + 0.045 * chroma  # (19)
    s_h = 1 + 0.015 * chroma * t  # (20)
    c7 = _seventh(chroma)
    hue = np.arctan2(along.imag, along.real)
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
    standard, trial = np.asarray(standard, float), np.asarray(trial, float)
    if standard.size * trial.size <= 9 * _BLOCK:  # few, however they broadcast
        return _combine(de00_parts(standard, trial))
    standard, trial = np.broadcast_arrays(standard, trial)
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
    one, other = (x[..., 1] + 1j * x[..., 2] for x in (standard, trial))
    dh = _hue_chord(one.conj() * other, c1 * c2)
    return CielabDelta(d[..., 0], d[..., 1], d[..., 2], c2 - c1, dh, np.sqrt((d * d).sum(axis=-1)))
