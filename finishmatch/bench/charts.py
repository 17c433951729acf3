"""Plots of the page as SVG of our own: the a*b* plane and spectra, in the page's own ink, with a title and a text."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup, escape

WIDE, HIGH = 360.0, 320.0  # of a plot, in the unit of its letters, which are 14 and 16 high
LEFT, RIGHT, TOP, BOTTOM = 52.0, 14.0, 18.0, 46.0
_DASHES = ("", "9 5", "2 5", "9 4 2 4")
_MARKS = ("circle", "square", "triangle", "diamond")
LEAST_SPAN = 2.0  # of the a*b* plane, units: closer up the noise of a reading looks like a difference


@dataclass(frozen=True)
class Dot:
    """A colour in a plot: its name, CIELAB, what a screen shows of it, and its spectrum where it has one."""

    name: str
    lab: Sequence[float]
    screen: str
    wavelengths_nm: Sequence[float] = ()
    reflectance: Sequence[float] = ()


@dataclass(frozen=True)
class Axes:
    """A frame with what it spans, and where a value lies in it."""

    across: tuple[float, float]
    up: tuple[float, float]

    def x(self, value: float) -> float:
        """Return where a value lies across."""
        low, high = self.across
        return LEFT + (value - low) / (high - low) * (WIDE - LEFT - RIGHT)

    def y(self, value: float) -> float:
        """Return where a value lies, from the top."""
        low, high = self.up
        return HIGH - BOTTOM - (value - low) / (high - low) * (HIGH - TOP - BOTTOM)


def ab_plane(name: str, dots: Sequence[Dot], tolerance: float | None = None) -> Markup:
    """Return the a*b* plane with colours in it; around the first a ring of the tolerance, as a guide to the eye.

    Parameters
    ----------
    name : str
        By which the page's labels tell this plot from others.
    dots : sequence of Dot
    tolerance : float or None
        In CIELAB units; differences are judged in ΔE00, which is not round.
    """
    across = [float(dot.lab[1]) for dot in dots]
    up = [float(dot.lab[2]) for dot in dots]
    middle = ((min(across) + max(across)) / 2, (min(up) + max(up)) / 2)
    half = max(LEAST_SPAN, max(across) - min(across), max(up) - min(up), tolerance or 0.0) * 0.75
    tall = half * (HIGH - TOP - BOTTOM) / (WIDE - LEFT - RIGHT)
    if tall < (max(up) - min(up)) * 0.6:
        half, tall = half * 1.3, tall * 1.3
    axes = Axes((middle[0] - half, middle[0] + half), (middle[1] - tall, middle[1] + tall))
    parts = _frame(axes, "a*, green to red", "b*, blue to yellow")
    if tolerance:
        radius = axes.x(tolerance) - axes.x(0)
        at = f'cx="{axes.x(across[0]):.1f}" cy="{axes.y(up[0]):.1f}" r="{radius:.1f}"'
        parts.append(f'<circle {at} fill="none" stroke="currentColor" stroke-width="1.5" stroke-dasharray="3 4"/>')
    for i, dot in enumerate(dots):
        parts.append(_mark(i, axes.x(across[i]), axes.y(up[i]), dot.screen))
        over = 4.0 if axes.x(across[i]) < (LEFT + WIDE - RIGHT) / 2 else -4.0
        anchor = "start" if over > 0 else "end"
        y = axes.y(up[i]) + (-13.0 if i % 2 == 0 else 24.0)
        parts.append(_text(axes.x(across[i]) + over, y, _short(dot.name), anchor=anchor, heavy=True))
    listed = "; ".join(f"{dot.name}: a* {dot.lab[1]:.2f}, b* {dot.lab[2]:.2f}" for dot in dots)
    ring = f" A ring of {tolerance:g} units stands around the first, as a guide to the eye." if tolerance else ""
    return _drawing(f"{name}-ab", "The a*b* plane", f"{listed}.{ring}", parts)


def spectra(name: str, dots: Sequence[Dot]) -> Markup:
    """Return the spectra of those colours that have one.

    Parameters
    ----------
    name : str
        By which the page's labels tell this plot from others.
    dots : sequence of Dot
    """
    shown = [dot for dot in dots if len(dot.reflectance)]
    top = max((max(dot.reflectance) for dot in shown), default=1.0)
    # the names of the curves stand above them
    axes = Axes((400.0, 700.0), (0.0, max(0.05, 1.35 * top)))
    parts = _frame(axes, "wavelength, nm", "reflectance")
    for i, dot in enumerate(shown):
        points = " ".join(
            f"{axes.x(x):.1f},{axes.y(y):.1f}" for x, y in zip(dot.wavelengths_nm, dot.reflectance, strict=True)
        )
        dash = f' stroke-dasharray="{_DASHES[i % 4]}"' if _DASHES[i % 4] else ""
        parts.append(f'<polyline points="{points}" fill="none" stroke="currentColor" stroke-width="2.5"{dash}/>')
        y = TOP + 16 + 20 * i
        line = f'x1="{LEFT + 10}" x2="{LEFT + 46}" y1="{y - 5}" y2="{y - 5}"'
        parts.append(f'<line {line} stroke="currentColor" stroke-width="2.5"{dash}/>')
        parts.append(_text(LEFT + 54, y, _short(dot.name)))
    listed = "; ".join(f"{dot.name}: {_peaks(dot)}" for dot in shown)
    return _drawing(f"{name}-spectra", "The spectra", f"{listed}. The numbers stand in the table below.", parts)


def _peaks(dot: Dot) -> str:
    pairs = sorted(zip(dot.reflectance, dot.wavelengths_nm, strict=True))
    (low, low_nm), (high, high_nm) = pairs[0], pairs[-1]
    return f"from {low:.3f} at {low_nm:g} nm to {high:.3f} at {high_nm:g} nm"


def _drawing(ident: str, title: str, text: str, parts: Sequence[str]) -> Markup:
    head = (
        f'<svg class="plot" viewBox="0 0 {WIDE:g} {HIGH:g}" role="img" '
        f'aria-labelledby="{ident}-title" aria-describedby="{ident}-text">'
        f'<title id="{ident}-title">{escape(title)}</title><desc id="{ident}-text">{escape(text)}</desc>'
    )
    return Markup(head + "".join(parts) + "</svg>")  # every text in it was escaped where it was put in


def _frame(axes: Axes, across: str, up: str) -> list[str]:
    """Return the frame with its ticks."""
    left, right, top, bottom = LEFT, WIDE - RIGHT, TOP, HIGH - BOTTOM
    parts = [
        f'<rect x="{left}" y="{top}" width="{right - left:g}" height="{bottom - top:g}" fill="none" '
        'stroke="currentColor" stroke-width="1" opacity="0.7"/>'
    ]
    for value in _ticks(*axes.across):
        x = axes.x(value)
        parts.append(_grid(f'x1="{x:.1f}" x2="{x:.1f}" y1="{top}" y2="{bottom}"'))
        parts.append(_text(x, bottom + 18, _tick_text(value), anchor="middle"))
    for value in _ticks(*axes.up):
        y = axes.y(value)
        parts.append(_grid(f'x1="{left}" x2="{right}" y1="{y:.1f}" y2="{y:.1f}"'))
        parts.append(_text(left - 6, y + 5, _tick_text(value), anchor="end"))
    parts.append(_text((left + right) / 2, HIGH - 8, across, anchor="middle"))
    parts.append(_text(left + 2, top - 5, up))
    return parts


def _grid(ends: str) -> str:
    return f'<line {ends} stroke="currentColor" stroke-width="0.6" opacity="0.25"/>'


def _text(x: float, y: float, text: str, *, anchor: str = "start", heavy: bool = False) -> str:
    weight = ' font-weight="700"' if heavy else ""
    size = 16 if heavy else 14
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size}" text-anchor="{anchor}" fill="currentColor"{weight}>'
        f"{escape(text)}</text>"
    )


def _mark(i: int, x: float, y: float, screen: str) -> str:
    """Return the sign of a colour: the shape tells them apart, not the colour alone."""
    ink = f'fill="{screen}" stroke="currentColor" stroke-width="2"'
    shape = _MARKS[i % len(_MARKS)]
    if shape == "circle":
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="9" {ink}/>'
    if shape == "square":
        return f'<rect x="{x - 8:.1f}" y="{y - 8:.1f}" width="16" height="16" {ink}/>'
    corners = [(0, -10), (9, 7), (-9, 7)] if shape == "triangle" else [(0, -11), (9, 0), (0, 11), (-9, 0)]
    points = " ".join(f"{x + dx:.1f},{y + dy:.1f}" for dx, dy in corners)
    return f'<polygon points="{points}" {ink}/>'


def _ticks(low: float, high: float) -> list[float]:
    """Return round values between two, four to nine of them."""
    step: Any = 10 ** math.floor(math.log10((high - low) / 4))
    while (high - low) / step > 8:
        step *= 2 if (high - low) / step <= 16 else 5
    first = math.ceil(low / step - 1e-9)
    return [i * step for i in range(first, math.floor(high / step + 1e-9) + 1)]


def _tick_text(value: float) -> str:
    return f"{round(value, 6):g}".replace("-", "−")


def _short(text: str) -> str:
    return text if len(text) <= 24 else f"{text[:23]}…"
