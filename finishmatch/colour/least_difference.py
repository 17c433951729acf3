"""The least that a colour differs from any colour of a box of CIELAB: what a search of many boxes goes by."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from finishmatch.colour.grid import Floats

_HAIR = 1e-9  # for what floats lose
_PER_DEGREE = 4  # hues at which T is known
_T_SLACK = 0.006  # by which T may be more between two of them: |dT/dh| ≤ 2.41


class _Range(NamedTuple):
    """The least and the most of something, of each box, shape (n,)."""

    least: Floats
    most: Floats


def least_de00(lab: Floats, low: Floats, high: Floats) -> Floats:
    """Return a ΔE00 below which no colour of a box differs from one.

    Parameters
    ----------
    lab : ndarray, shape (3,)
        CIELAB.
    low, high : ndarray, shape (n, 3)
        Boxes of CIELAB, finite.

    Returns
    -------
    ndarray, shape (n,)
        ΔE00; for a box of one colour very nearly the difference itself.

    Notes
    -----
    Each term of the formula has a range over the box: G from the mean chroma, then C' and h' of both colours, their
    means, S_L, S_C, S_H and |R_T|. With x = |ΔC'|/S_C from x₀ to x₁, y = |ΔH'|/S_H from y₀ to y₁ and r = |R_T| the form
    x² + y² − r·x·y is convex and least at the origin, so over what is left it is least on the edge x = x₀ or y = y₀.
    Where ΔC' and ΔH' have signs that are not alike, R_T adds, by no less than the least of |R_T|. And
    ΔC'² + ΔH'² = Δa'² + Δb'² bounds either by the other.

    References
    ----------
    CIE 142-2001; Sharma, Wu and Dalal 2005 for the form; the bound is derived above.
    """
    lightness = _lightness_term(float(lab[0]), low[:, 0], high[:, 0])
    square = lightness**2 + _plane_terms(lab, low, high)
    return np.maximum(np.sqrt(square) * (1 - _HAIR) - _HAIR, 0.0)


def _gap(at: float | Floats, low: Floats, high: Floats) -> Floats:
    """Return how far a number lies from each interval."""
    return np.maximum(np.maximum(low - at, at - high), 0.0)


def _lightness_term(own: float, low: Floats, high: Floats) -> Floats:
    """Return the least of |ΔL'|/S_L."""
    off = np.maximum(np.abs((own + low) / 2 - 50), np.abs((own + high) / 2 - 50)) ** 2
    return np.asarray(_gap(own, low, high) / (1 + 0.015 * off / np.sqrt(20 + off)))


def _plane_terms(lab: Floats, low: Floats, high: Floats) -> Floats:
    """Return the least of the square of what chroma and hue add."""
    (a, b), low, high = lab[1:], low[:, 1:], high[:, 1:]
    nearest, furthest = _gap(0.0, low, high), np.maximum(np.abs(low), np.abs(high))
    own = np.hypot(a, b)
    mean = _Range((own + np.hypot(*nearest.T)) / 2, (own + np.hypot(*furthest.T)) / 2)
    stretch = _Range(1 + _g(mean.most), 1 + _g(mean.least))
    mine = _Range(*(np.hypot(one * a, b) for one in stretch))
    theirs = _Range(
        np.hypot(stretch.least * nearest[:, 0], nearest[:, 1]), np.hypot(stretch.most * furthest[:, 0], furthest[:, 1])
    )
    apart, turned, middles, spread = _hues(a, b, stretch, low, high)
    chroma = _Range(
        np.maximum(np.maximum(theirs.least - mine.most, mine.least - theirs.most), 0.0),
        np.maximum(theirs.most - mine.least, mine.most - theirs.least),
    )
    hue = _Range(
        2 * np.sqrt(mine.least * theirs.least) * np.sin(apart.least / 2),
        2 * np.sqrt(mine.most * theirs.most) * np.sin(apart.most / 2),
    )
    across = np.hypot(stretch.least * _gap(a, low[:, 0], high[:, 0]), _gap(b, low[:, 1], high[:, 1])) ** 2
    half = _Range((mine.least + theirs.least) / 2, (mine.most + theirs.most) / 2)
    s_c, s_h = 1 + 0.045 * half.most, 1 + 0.015 * half.most * _most_t(middles, spread).max(axis=0)
    x = _Range(
        np.maximum(chroma.least, np.sqrt(np.maximum(across - hue.most**2, 0.0))) / s_c,
        chroma.most / (1 + 0.045 * half.least),
    )
    y = _Range(
        np.maximum(hue.least, np.sqrt(np.maximum(across - chroma.most**2, 0.0))) / s_h,
        hue.most / (1 + 0.015 * half.least * _LEAST_T),
    )
    off_blue = np.abs(_wrapped(middles - np.radians(275)))
    r = _turning(half.most, np.maximum(off_blue.min(axis=0) - spread, 0.0))
    adds = _turning(half.least, off_blue.max(axis=0) + spread)
    grown = np.sign(np.where(chroma.least > 0, theirs.most - mine.most, 0.0))
    against = np.where(grown * turned < 0, -adds, r)
    form = np.minimum(
        _form(x.least, _held(against * x.least / 2, y), against),
        _form(_held(against * y.least / 2, x), y.least, against),
    )
    return np.asarray(np.maximum(form, (1 - r / 2) * across / np.maximum(s_c, s_h) ** 2))


def _turning(mean_chroma: Floats, off_blue: Floats) -> Floats:
    """Return |R_T| of a mean chroma, and of a mean hue so far from 275°, rad."""
    angle = 60 * np.exp(-((np.degrees(off_blue) / 25) ** 2))
    return np.asarray(2 * np.sqrt(_seventh(mean_chroma)) * np.sin(np.radians(angle)))


def _held(at: Floats, within: _Range) -> Floats:
    return np.maximum(np.minimum(at, within.most), within.least)


def _form(x: Floats, y: Floats, r: Floats) -> Floats:
    return np.asarray(x * x + y * y - r * x * y)


def _hues(a: float, b: float, stretch: _Range, low: Floats, high: Floats) -> tuple[_Range, Floats, Floats, Floats]:
    """Return the range of the angle between the hues, its sign or 0, and the ranges of the mean hue.

    Those are two, since it may lie on either side: their middles, shape (2, n), and half the width of both; in radians.
    """
    ends = [np.arctan2(b, one * a) for one in stretch]
    drift = _wrapped(ends[1] - ends[0])
    own, own_half = ends[0] + drift / 2, np.abs(drift) / 2
    left = np.where(low[:, 0] < 0, stretch.most, stretch.least) * low[:, 0]
    right = np.where(high[:, 0] > 0, stretch.most, stretch.least) * high[:, 0]
    centre = np.arctan2((low[:, 1] + high[:, 1]) / 2, (left + right) / 2)
    corners = [np.arctan2(up, to) for up in (low[:, 1], high[:, 1]) for to in (left, right)]
    off = _wrapped(np.stack(corners) - centre)
    first, last = off.min(axis=0), off.max(axis=0)
    whole = (left <= 0) & (right >= 0) & (low[:, 1] <= 0) & (high[:, 1] >= 0)
    half = np.where(whole, np.pi, (last - first) / 2) + own_half
    between = _wrapped(centre + (first + last) / 2 - own)
    apart = _Range(
        np.maximum(np.abs(between) - half, 0.0), np.minimum(np.where(whole, np.pi, np.abs(between) + half), np.pi)
    )
    either = apart.most >= np.pi  # the mean may lie on either side
    sign = np.where(either | (apart.least <= 0), 0.0, np.sign(between))
    quarter = (apart.least + np.pi) / 4
    middles = own + np.where(either, np.stack([quarter, -quarter]), between / 2)
    return apart, sign, middles, np.where(either, (np.pi - apart.least) / 4 + own_half, half / 2)


def _wrapped(angle: Floats) -> Floats:
    """Return an angle from −π to π."""
    return np.asarray(angle - 2 * np.pi * np.rint(angle / (2 * np.pi)))


def _g(mean_chroma: Floats) -> Floats:
    """Return by how much a* is stretched."""
    return np.asarray(0.5 * (1 - np.sqrt(_seventh(mean_chroma))))


def _seventh(chroma: Floats) -> Floats:
    held = np.minimum(chroma, 1e6)
    cube = held * held * held
    seventh = cube * cube * held
    return np.asarray(seventh / (seventh + 25.0**7))


def _t_by_width() -> Floats:
    """Return the most of T over 1, 2, 4 … hues from each, twice around."""
    hue = np.radians(np.arange(720 * _PER_DEGREE) / _PER_DEGREE)
    t = 1 - 0.17 * np.cos(hue - np.radians(30)) + 0.24 * np.cos(2 * hue)
    t += 0.32 * np.cos(3 * hue + np.radians(6)) - 0.2 * np.cos(4 * hue - np.radians(63))
    rows, step = [t + _T_SLACK], 1
    while 2 * step <= 360 * _PER_DEGREE:
        rows.append(np.maximum(rows[-1], np.roll(rows[-1], -step)))
        step *= 2
    return np.stack(rows)


_T = _t_by_width()
_LEAST_T = float(_T[0].min()) - 2 * _T_SLACK


def _most_t(middle: Floats, half: Floats) -> Floats:
    """Return the most that T is over hues, rad, so far to either side of a middle."""
    around = 360 * _PER_DEGREE
    first = np.floor(np.degrees(middle - half) * _PER_DEGREE).astype(int)
    count = np.minimum(np.ceil(np.degrees(middle + half) * _PER_DEGREE).astype(int) - first + 1, around)
    first %= around
    power = np.floor(np.log2(count)).astype(int)
    return np.asarray(np.maximum(_T[power, first], _T[power, first + count - 2**power]))
