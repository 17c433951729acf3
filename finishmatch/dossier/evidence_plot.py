"""Evidence as a picture: the samples in the a*b* plane and by lightness, as read and as they were, and the target."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from finishmatch.colour import Floats, de00
from finishmatch.dossier.figures import INK, blank_figure, gridded, png_bytes

_KEY = (
    "ring: as read    disc: as it was    cross: set aside    shaded: holds the colour 95 times in 100    "
    "dotted: the tolerance"
)
IN_95_OF_TWO = 2.448  # the 95 % length of two unit normals


@dataclass(frozen=True)
class Mark:
    """A sample: its name, CIELAB as read and as it was, both of shape (3,), its swatch, and whether it counts."""

    name: str
    lab: Floats
    lab_as_it_was: Floats
    hex_colour: str
    counts: bool


@dataclass(frozen=True)
class Ring:
    """A target: its name, CIELAB of shape (3,), covariance (3, 3), tolerance in ΔE00 and swatch."""

    name: str
    lab: Floats
    covariance: Floats
    tolerance: float
    hex_colour: str


def evidence_png(marks: Sequence[Mark], rings: Sequence[Ring], title: str) -> bytes:
    """Return a PNG: left the a*b* plane, right lightness.

    Each sample is a ring as read and a disc as it was, joined by a line; what is set aside is a cross. Each target has
    the ellipse that holds the truth 95 times in 100, and dotted the tolerance.
    """
    figure = blank_figure(10.5, 5.2)
    plane, light = figure.subplots(1, 2, width_ratios=(1.25, 1))
    for axes in (plane, light):
        gridded(axes)
    _plane(plane, marks, rings)
    _lightness(light, marks, rings)
    figure.suptitle(title, fontsize=11, color=INK)
    figure.supxlabel(_KEY, fontsize=8, color="#6a655b")
    return png_bytes(figure)


def _plane(axes: Any, marks: Sequence[Mark], rings: Sequence[Ring]) -> None:
    turn = np.linspace(0, 2 * np.pi, 181)
    circle = np.stack([np.cos(turn), np.sin(turn)])
    for ring in rings:
        root = np.linalg.cholesky(ring.covariance[1:, 1:] + 1e-9 * np.eye(2))
        a, b = ring.lab[1:, None] + IN_95_OF_TWO * root @ circle
        axes.fill(a, b, color=ring.hex_colour, alpha=0.25, lw=0)
        axes.plot(a, b, color=INK, lw=0.9)
        reach = ring.lab[1:, None] + tolerance_reach(ring, circle) * circle
        axes.plot(*reach, color=INK, lw=1, ls=":")
        axes.plot(*ring.lab[1:], "+", color=INK, ms=12, mew=1.4)
    for i, mark in enumerate(marks):
        _mark(axes, mark, mark.lab[1:], mark.lab_as_it_was[1:])
        away = mark.lab_as_it_was[1:] - rings[0].lab[1:]
        away = 11 * away / max(float(np.linalg.norm(away)), 1e-9)  # numbers stand outward, so that they stay apart
        axes.annotate(
            str(i + 1), mark.lab_as_it_was[1:], xytext=tuple(away), textcoords="offset points", fontsize=8,
            ha="center", va="center", zorder=5,
        )  # fmt: skip
    axes.set_xlabel("a*  (green – red)")
    axes.set_ylabel("b*  (blue – yellow)")
    axes.set_aspect("equal", adjustable="datalim")
    axes.margins(0.12)


def tolerance_reach(ring: Ring, directions: Floats) -> Floats:
    """Return how far along each direction of the a*b* plane the tolerance reaches, by halving."""
    low, high = np.zeros(directions.shape[1]), np.full(directions.shape[1], 12.0 * max(ring.tolerance, 0.1))
    for _ in range(40):
        middle = (low + high) / 2
        labs = np.concatenate([np.full((1, low.size), ring.lab[0]), ring.lab[1:, None] + middle * directions]).T
        inside = de00(ring.lab, labs) < ring.tolerance
        low, high = np.where(inside, middle, low), np.where(inside, high, middle)
    return low


def _mark(axes: Any, mark: Mark, read: Floats, was: Floats) -> None:
    axes.plot([read[0], was[0]], [read[1], was[1]], color="#8b867b", lw=0.8, zorder=2)
    axes.plot(*read, "o", ms=8, mfc="none", mec="#8b867b", mew=1, zorder=3)
    axes.plot(*was, "o" if mark.counts else "X", ms=10, mfc=mark.hex_colour, mec=INK, mew=0.9, zorder=4)


def _lightness(axes: Any, marks: Sequence[Mark], rings: Sequence[Ring]) -> None:
    for ring in rings:
        half = 1.96 * float(np.sqrt(ring.covariance[0, 0]))
        axes.axvspan(ring.lab[0] - half, ring.lab[0] + half, color=ring.hex_colour, alpha=0.25, lw=0)
        axes.axvline(ring.lab[0], color=INK, lw=1)
        axes.annotate(
            ring.name, (ring.lab[0], 1), xycoords=("data", "axes fraction"), xytext=(3, -4), va="top", fontsize=8,
            textcoords="offset points",
        )  # fmt: skip
    for i, mark in enumerate(marks):
        at = len(marks) - i
        _mark(axes, mark, np.array([mark.lab[0], at]), np.array([mark.lab_as_it_was[0], at]))
    axes.set_yticks(range(len(marks), 0, -1), [f"{mark.name}  {i + 1}" for i, mark in enumerate(marks)], fontsize=8)
    axes.set_ylim(0.3, len(marks) + 1.2)
    axes.set_xlabel("L*  (dark – light)")
    axes.margins(x=0.1)
