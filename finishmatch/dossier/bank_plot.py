"""The fitted K and S of a bank, each with the band that holds them 95 times in 100."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import wrap
from typing import Any

import numpy as np

from finishmatch.colour import WAVELENGTHS_NM
from finishmatch.dossier.figures import INK, bare, drawing, png_bytes, svg_text
from finishmatch.optics import BankFit

_WIDTH_IN, _ROW_IN = 8.5, 1.25
_TOP_IN, _BOTTOM_IN, _RIGHT_IN, _BETWEEN_IN = 0.3, 0.5, 0.12, 0.45
_TICKS_IN, _LETTER_IN = 0.55, 0.075  # left of the curves: their numbers, and a letter of a tint's name
_LETTERS = 28  # of a line of it at most


def bank_png(fit: BankFit, colours: dict[str, str]) -> bytes:
    """Return a PNG of K and S against wavelength, one row a tint.

    Parameters
    ----------
    fit : BankFit
    colours : dict of str to str
        "#rrggbb" by which each tint is drawn.
    """
    return png_bytes(_figure(fit, colours, fit.optics.names))


def bank_svg(fit: BankFit, colours: dict[str, str], names: Sequence[str]) -> str:
    """Return the curves of some tints as SVG text for a page; parameters as for `bank_png`."""
    return svg_text(_figure(fit, colours, names))


def _figure(fit: BankFit, colours: dict[str, str], names: Sequence[str]) -> Any:
    # placed by hand: the library's layout would draw each of many axes several times over
    height = _ROW_IN * len(names) + _TOP_IN + _BOTTOM_IN
    lines = [wrap(name, _LETTERS) for name in names]
    left = _TICKS_IN + _LETTER_IN * max(len(line) for name in lines for line in name)
    figure = drawing().figure.Figure(figsize=(_WIDTH_IN, height))
    column = (_WIDTH_IN - left - _RIGHT_IN - _BETWEEN_IN) / 2
    places = {
        "left": left / _WIDTH_IN,
        "right": 1 - _RIGHT_IN / _WIDTH_IN,
        "top": 1 - _TOP_IN / height,
        "bottom": _BOTTOM_IN / height,
        "wspace": _BETWEEN_IN / column,
        "hspace": 0.2,
    }
    grid = figure.subplots(len(names), 2, sharex=True, squeeze=False, gridspec_kw=places)
    unit = "1/µm" if fit.optics.per_um else "relative to the white's S"
    for i, name in enumerate(names):
        at = fit.optics.names.index(name)
        for axes, values, sd in (
            (grid[i, 0], fit.optics.K[at], fit.K_sd[at]),
            (grid[i, 1], fit.optics.S[at], fit.S_sd[at]),
        ):
            low, high = values * np.exp(-1.96 * sd), values * np.exp(1.96 * sd)
            axes.fill_between(WAVELENGTHS_NM, low, high, color=colours[name], alpha=0.35, linewidth=0)
            axes.plot(WAVELENGTHS_NM, values, color=INK, lw=1.1)
            # the whole band, unless it is so wide that the curve would lie flat on the floor
            axes.set_ylim(0, 1.1 * float(min(np.max(high), 2.5 * np.max(values))))
            bare(axes, label_size=7)
        grid[i, 0].set_ylabel("\n".join(lines[i]), rotation=0, ha="right", va="center", fontsize=8, labelpad=14)
    grid[0, 0].set_title(f"absorption K, {unit}", fontsize=9)
    grid[0, 1].set_title(f"scattering S, {unit}", fontsize=9)
    for axes in grid[-1]:
        axes.set_xlabel("wavelength, nm", fontsize=8)
    return figure
