"""A match in every light, drawn: the difference, the metamerism, and both spectra."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from finishmatch.colour import WAVELENGTHS_NM, Floats
from finishmatch.colour.inconstancy import LightRow
from finishmatch.dossier.figures import INK, bare, blank_figure, png_bytes, svg_text

_RECIPE, _PALE = "#a8442a", "#8fa3ad"


def lights_png(rows: Sequence[LightRow], name: str, target: Floats, recipe: Floats) -> bytes:
    """Return a PNG of a match in every light.

    Parameters
    ----------
    rows : sequence of LightRow
    name : str
        Of the target.
    target, recipe : ndarray, shape (31,)
        Reflectance.
    """
    return png_bytes(_figure(rows, name, target, recipe))


def lights_svg(rows: Sequence[LightRow], name: str, target: Floats, recipe: Floats) -> str:
    """Return the same as SVG text for a page; parameters as for `lights_png`."""
    return svg_text(_figure(rows, name, target, recipe))


def _figure(rows: Sequence[LightRow], name: str, target: Floats, recipe: Floats) -> Any:
    figure = blank_figure(10.5, 3.6)
    left, right = figure.subplots(1, 2)
    _draw_lights(left, rows)
    _draw_spectra(right, name, target, recipe)
    return figure


def _draw_lights(axes: Any, rows: Sequence[LightRow]) -> None:
    at, wide = np.arange(len(rows)), 0.2
    series = (
        ("difference", [row.de00 for row in rows], _RECIPE),
        ("metamerism", [row.metamerism for row in rows], _PALE),
        ("target changes", [row.target_inconstancy for row in rows], INK),
        ("recipe changes", [row.recipe_inconstancy for row in rows], "#c9a89c"),
    )
    for i, (label, values, colour) in enumerate(series):
        axes.bar(at + (i - 1.5) * wide, values, wide, label=label, color=colour)
    axes.set_xticks(at, [row.light for row in rows])
    axes.set_ylabel("ΔE00", fontsize=9)
    axes.set_title("target and recipe in every light", fontsize=9, loc="left")
    axes.margins(y=0.3)  # room for the legend above the bars
    axes.legend(fontsize=8, frameon=False, ncols=2, loc="upper left")
    bare(axes, label_size=8)


def _draw_spectra(axes: Any, name: str, target: Floats, recipe: Floats) -> None:
    axes.plot(WAVELENGTHS_NM, target, color=INK, lw=1.4, label=name)
    axes.plot(WAVELENGTHS_NM, recipe, color=_RECIPE, lw=1.4, ls="--", label="recipe")
    axes.set_ylim(0, 1.15 * float(max(target.max(), recipe.max())))
    axes.set_xlabel("wavelength, nm", fontsize=9)
    axes.set_ylabel("reflectance factor", fontsize=9)
    axes.set_title("where they cross, a light may separate them", fontsize=9, loc="left")
    axes.legend(fontsize=8, frameon=False)
    bare(axes, label_size=8)
