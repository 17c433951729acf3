"""A match in every light, drawn: the difference, the metamerism, and both spectra."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any

import numpy as np

from finishmatch.colour import WAVELENGTHS_NM, Floats
from finishmatch.colour.inconstancy import LightRow
from finishmatch.dossier.plots import svg_text

_INK, _TARGET, _RECIPE, _PALE = "#2b2a27", "#2b2a27", "#a8442a", "#8fa3ad"


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
    out = io.BytesIO()
    _figure(rows, name, target, recipe).savefig(out, format="png", dpi=110)
    return out.getvalue()


def lights_svg(rows: Sequence[LightRow], name: str, target: Floats, recipe: Floats) -> str:
    """Return the same as SVG text for a page; parameters as for `lights_png`."""
    return svg_text(_figure(rows, name, target, recipe))


def _figure(rows: Sequence[LightRow], name: str, target: Floats, recipe: Floats) -> Any:
    from matplotlib.figure import Figure

    figure = Figure(figsize=(10.5, 3.6), layout="constrained")
    left, right = figure.subplots(1, 2)
    _draw_lights(left, rows)
    _draw_spectra(right, name, target, recipe)
    return figure


def _draw_lights(axes: Any, rows: Sequence[LightRow]) -> None:
    at, wide = np.arange(len(rows)), 0.2
    series = (
        ("difference", [row.de00 for row in rows], _RECIPE),
        ("metamerism", [row.metamerism for row in rows], _PALE),
        ("target changes", [row.target_inconstancy for row in rows], _TARGET),
        ("recipe changes", [row.recipe_inconstancy for row in rows], "#c9a89c"),
    )
    for i, (label, values, colour) in enumerate(series):
        axes.bar(at + (i - 1.5) * wide, values, wide, label=label, color=colour)
    axes.set_xticks(at, [row.light for row in rows])
    axes.set_ylabel("ΔE00", fontsize=9)
    axes.set_title("target and recipe in every light", fontsize=9, loc="left")
    axes.margins(y=0.3)  # room for the legend above the bars
    axes.legend(fontsize=8, frameon=False, ncols=2, loc="upper left")
    _bare(axes)


def _draw_spectra(axes: Any, name: str, target: Floats, recipe: Floats) -> None:
    axes.plot(WAVELENGTHS_NM, target, color=_TARGET, lw=1.4, label=name)
    axes.plot(WAVELENGTHS_NM, recipe, color=_RECIPE, lw=1.4, ls="--", label="recipe")
    axes.set_ylim(0, 1.15 * float(max(target.max(), recipe.max())))
    axes.set_xlabel("wavelength, nm", fontsize=9)
    axes.set_ylabel("reflectance factor", fontsize=9)
    axes.set_title("where they cross, a light may part them", fontsize=9, loc="left")
    axes.legend(fontsize=8, frameon=False)
    _bare(axes)


def _bare(axes: Any) -> None:
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.tick_params(labelsize=8)
