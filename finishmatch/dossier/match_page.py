"""A match as one HTML page that needs nothing else: swatches, plots, weigh-out, the story and the cautions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from finishmatch.colour import WAVELENGTHS_NM, Floats
from finishmatch.dossier.figures import INK, blank_figure, drawing, gridded, svg_text
from finishmatch.dossier.tables import Table
from finishmatch.dossier.template import filled

_MARKERS = "osD^vPX*"


@dataclass(frozen=True)
class Sample:
    """One colour to be shown: its name, CIELAB of shape (3,), swatch colour, and spectrum of shape (31,) or None."""

    name: str
    lab: Floats
    hex_colour: str
    reflectance: Floats | None = None


@dataclass(frozen=True)
class Section:
    """A part of the story: a heading, what was done and found, tables, and figures as SVG text made here.

    `folded` figures each have a name, and are shown when that is clicked.
    """

    heading: str
    paragraphs: tuple[str, ...] = ()
    tables: tuple[Table, ...] = ()
    figures: tuple[str, ...] = ()
    folded: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Page:
    """What a page shows; `samples` begin with the target."""

    title: str
    lede: str
    samples: tuple[Sample, ...]
    conditions: str
    tolerance: float
    sections: tuple[Section, ...]
    cautions: tuple[str, ...]


def render_page(page: Page) -> str:
    """Return the page as HTML text, everything inline."""
    return filled(
        "match.html.j2", page, ab_svg=ab_plot(page.samples, page.tolerance), spectra_svg=spectra_plot(page.samples)
    )


def _figure(width_in: float, height_in: float) -> tuple[Any, Any]:
    figure = blank_figure(width_in, height_in)
    axes = figure.add_subplot()
    gridded(axes)
    return figure, axes


def ab_plot(samples: Sequence[Sample], tolerance: float | None = None) -> str:
    """Return an SVG of the samples in the a*b* plane; around the first a circle of the tolerance's size, if given.

    The circle is drawn in ΔE*ab as a guide to the eye; the verdict is made in ΔE00.
    """
    figure, axes = _figure(4.6, 4.2)
    for i, sample in enumerate(samples):
        axes.plot(
            sample.lab[1], sample.lab[2], _MARKERS[i % len(_MARKERS)], ms=11, mfc=sample.hex_colour, mec=INK, mew=0.9,
            label=sample.name, linestyle="none",
        )  # fmt: skip
    if tolerance:
        centre = (float(samples[0].lab[1]), float(samples[0].lab[2]))
        axes.add_patch(drawing().patches.Circle(centre, tolerance, fill=False, ec=INK, ls=":", lw=1))
    axes.set_xlabel("a*  (green – red)")
    axes.set_ylabel("b*  (blue – yellow)")
    axes.set_aspect("equal", adjustable="datalim")
    axes.margins(0.15)
    axes.legend(frameon=False, fontsize=8, markerscale=0.7)
    return svg_text(figure)


def spectra_plot(samples: Sequence[Sample]) -> str:
    """Return an SVG of the spectra of those samples that have one."""
    figure, axes = _figure(6.4, 4.2)
    styles = ["-", "--", "-.", ":"]
    shown = [sample for sample in samples if sample.reflectance is not None]
    for i, sample in enumerate(shown):
        colour = INK if i == 0 else f"C{i - 1}"
        axes.plot(WAVELENGTHS_NM, sample.reflectance, styles[i % 4], color=colour, lw=1.6, label=sample.name)
    axes.set_xlabel("wavelength, nm")
    axes.set_ylabel("reflectance factor")
    axes.set_xlim(400, 700)
    axes.set_ylim(bottom=0)
    axes.legend(frameon=False, fontsize=8)
    return svg_text(figure)
