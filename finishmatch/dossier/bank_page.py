"""A bank as one HTML page that needs nothing else: its tints, what is unsure about them, and the curves of each."""

from __future__ import annotations

from dataclasses import dataclass

from finishmatch.colour import Floats
from finishmatch.dossier.match_page import Section
from finishmatch.dossier.template import filled


@dataclass(frozen=True)
class Chip:
    """A tint: CIELAB as it is, shape (3,); swatch colours as it is and of a letdown with white, None where none is."""

    name: str
    pigment: str
    lab: Floats
    full: str
    letdown: str | None


@dataclass(frozen=True)
class BankPage:
    """What the page of a bank shows."""

    title: str
    lede: str
    chips: tuple[Chip, ...]
    sections: tuple[Section, ...]
    cautions: tuple[str, ...]


def render_bank(page: BankPage) -> str:
    """Return the page as HTML text, everything inline."""
    return filled("bank.html.j2", page)
