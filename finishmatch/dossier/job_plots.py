"""The drawings of a job that is handed over: its colours in the a*b* plane, its spectra, the cards light by light."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from finishmatch.colour import WAVELENGTHS_NM, Floats
from finishmatch.dossier.evidence_plot import IN_95_OF_TWO, Ring, tolerance_reach
from finishmatch.dossier.figures import HAIRLINE, INK, QUIET, bare, blank_figure, gridded, in_print, svg_text

_MARKERS = {"evidence": "o", "left out": "X", "card": "s"}
_STYLES = ("-", "--", "-.", ":")
_LINES = (INK, "#a8442a", "#3f6f86", "#8a7a3a")
NEAR = 6.0  # ΔE*ab: colours further from the target are told in a table, and would make the plot too small to read


@dataclass(frozen=True)
class Spot:
    """A colour in the plane: its name, CIELAB of shape (3,), swatch, and what it is: a key of the markers."""

    name: str
    lab: Floats
    hex_colour: str
    what: str


def plane_svg(ring: Ring, spots: Sequence[Spot], light: str) -> str:
    """Return the a*b* plane and lightness about a target, with its uncertainty, the tolerance, evidence and cards."""
    with in_print():
        figure = blank_figure(7.2, 3.9)
        plane, light_axes = figure.subplots(1, 2, width_ratios=(3.2, 1))
        for axes in (plane, light_axes):
            gridded(axes)
            axes.grid(color=HAIRLINE, linewidth=0.5)
        _ring(plane, ring)
        for spot in spots:
            plane.plot(*spot.lab[1:], **_look(spot))
            light_axes.plot(0, spot.lab[0], **_look(spot))
        _name_spots(plane, spots)
        light_axes.axhline(ring.lab[0], color=INK, lw=0.9)
        light_axes.axhspan(*_lightness(ring), color=ring.hex_colour, alpha=0.25, lw=0)
        light_axes.set_xticks([])
        light_axes.set_xlim(-1, 1)
        light_axes.set_ylabel("L*  (dark – light)")
        light_axes.margins(y=0.25)
        plane.set_xlabel(f"a*  (green – red), {light}")
        plane.set_ylabel("b*  (blue – yellow)")
        plane.set_aspect("equal", adjustable="datalim")
        plane.margins(x=0.45, y=0.18)
        return svg_text(figure)


def _look(spot: Spot) -> dict[str, Any]:
    return {
        "marker": _MARKERS[spot.what], "ms": 9, "mfc": spot.hex_colour, "mec": INK, "mew": 0.8, "ls": "none",
        "zorder": 4,
    }  # fmt: skip


def _ring(axes: Any, ring: Ring) -> None:
    turn = np.linspace(0, 2 * np.pi, 121)
    circle = np.stack([np.cos(turn), np.sin(turn)])
    if ring.covariance.any():
        root = np.linalg.cholesky(ring.covariance[1:, 1:] + 1e-9 * np.eye(2))
        axes.fill(*(ring.lab[1:, None] + IN_95_OF_TWO * root @ circle), color=ring.hex_colour, alpha=0.25, lw=0)
    if ring.tolerance > 0:
        axes.plot(*(ring.lab[1:, None] + tolerance_reach(ring, circle) * circle), color=INK, lw=0.9, ls=":")
    axes.plot(*ring.lab[1:], "+", color=INK, ms=12, mew=1.2, zorder=5)


def _lightness(ring: Ring) -> tuple[float, float]:
    half = 1.96 * float(np.sqrt(max(ring.covariance[0, 0], 0.0)))
    return float(ring.lab[0]) - half, float(ring.lab[0]) + half


def _name_spots(axes: Any, spots: Sequence[Spot]) -> None:
    """Write the names of the spots in two columns beside them, none over another, each with a line to its spot."""
    if not spots:
        return
    middle = float(np.median([spot.lab[1] for spot in spots]))
    for left in (True, False):
        side = sorted((spot for spot in spots if (spot.lab[1] < middle) == left), key=lambda spot: float(spot.lab[2]))
        heights = np.linspace(0.1, 0.9, len(side)) if len(side) > 1 else [0.5] * len(side)
        for spot, height in zip(side, heights, strict=True):
            axes.annotate(
                _short(spot.name), spot.lab[1:], xytext=(0.02 if left else 0.98, height), textcoords="axes fraction",
                fontsize=8.5, color=QUIET, ha="left" if left else "right", va="center", zorder=3,
                arrowprops={"arrowstyle": "-", "color": QUIET, "lw": 0.4, "shrinkA": 2, "shrinkB": 5},
            )  # fmt: skip


def _short(name: str, most: int = 26) -> str:
    return name if len(name) <= most else name[: most - 1] + "…"


def spectra_svg(curves: Sequence[tuple[str, Floats]], height_in: float = 2.9) -> str:
    """Return the reflectance of some colours against wavelength, four at most, the first drawn strongest."""
    with in_print():
        figure = blank_figure(7.2, height_in)
        axes = figure.add_subplot()
        gridded(axes)
        axes.grid(color=HAIRLINE, linewidth=0.5)
        for i, (name, reflectance) in enumerate(curves[: len(_STYLES)]):
            axes.plot(
                WAVELENGTHS_NM, reflectance, _STYLES[i], color=_LINES[i], lw=1.6 if i == 0 else 1.2, label=_short(name)
            )
        axes.set_xlim(400, 700)
        axes.set_ylim(0, 1.12 * max(float(np.max(reflectance)) for _, reflectance in curves))
        axes.set_xlabel("wavelength, nm")
        axes.set_ylabel("reflectance factor")
        axes.legend(frameon=False, fontsize=8.5, ncols=2)
        return svg_text(figure)


def lights_of_cards_svg(cards: Sequence[tuple[str, Mapping[str, float]]], tolerance: float) -> str:
    """Return how far each card lay from the target in each light, and the tolerance, cards from the left."""
    with in_print():
        figure = blank_figure(7.2, 2.4)
        axes = figure.add_subplot()
        bare(axes)
        lights = list(dict.fromkeys(light for _, found in cards for light in found))
        for i, light in enumerate(lights):
            at = [j + (i - (len(lights) - 1) / 2) * 0.12 for j, (_, found) in enumerate(cards) if light in found]
            values = [found[light] for _, found in cards if light in found]
            axes.plot(at, values, "osD^vP"[i % 6], ms=6, mfc=_LINES[i % 4], mec="white", mew=0.6, label=light)
        axes.axhline(tolerance, color=INK, lw=0.9, ls=":")
        axes.annotate(
            f"tolerance {tolerance:g}", (1, tolerance), xycoords=("axes fraction", "data"), xytext=(-2, 3),
            textcoords="offset points", ha="right", fontsize=8.5, color=QUIET,
        )  # fmt: skip
        axes.set_xticks(range(len(cards)), [_short(name, 14) for name, _ in cards])
        axes.set_xlim(-0.6, len(cards) - 0.4)
        axes.set_ylim(0, 1.25 * max(tolerance, *(value for _, found in cards for value in found.values())))
        axes.set_ylabel("ΔE00")
        axes.legend(frameon=False, fontsize=8.5, ncols=6, loc="upper right")
        return svg_text(figure)
