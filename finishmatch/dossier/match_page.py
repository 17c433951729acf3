"""A match as one HTML page that needs nothing else: swatches, plots, weigh-out, the story and the cautions."""

from __future__ import annotations

from dataclasses import dataclass

from finishmatch.dossier.match_plot import Sample, ab_plot, spectra_plot
from finishmatch.dossier.tables import Table
from finishmatch.dossier.template import filled


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
