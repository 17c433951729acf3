"""A match as one HTML page that needs nothing else: swatches, plots, weigh-out, the story and the cautions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from finishmatch.dossier.plots import Sample, ab_plot, spectra_plot


@dataclass(frozen=True)
class Table:
    """A table with a caption; the first column is text, the others numbers as text."""

    caption: str
    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


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
        "page.html.j2", page, ab_svg=ab_plot(page.samples, page.tolerance), spectra_svg=spectra_plot(page.samples)
    )


def filled(template: str, page: object, **further: str) -> str:
    """Return a template of this room with a page put in, as HTML text; `further` is SVG text made here."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("finishmatch.dossier"), autoescape=True, undefined=StrictUndefined, trim_blocks=True
    )
    return environment.get_template(template).render(page=page, **further)


def weigh_out_table(caption: str, parts: Sequence[tuple[str, float]]) -> Table:
    """Return what to weigh, and what the scale shows when the parts are poured on top of one another."""
    rows, running = [], 0.0
    for tint, grams in parts:
        running += grams
        rows.append((tint, f"{grams:.1f}", f"{running:.1f}"))
    return Table(caption, ("tint", "grams", "on the scale"), tuple(rows))
