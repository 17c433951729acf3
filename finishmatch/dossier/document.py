"""A document that is handed over, before it is known whether it becomes a page or a PDF: chapters of plain blocks."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass

from finishmatch.dossier.tables import Table

# letters of other scripts are joined by these, and they turn nothing around
_JOINERS = "\u200c\u200d"
_BREAKS = "\n\t"
_BELOW_ZERO = re.compile(r"-\d+(\.\d+)?")


@dataclass(frozen=True)
class Paragraph:
    """Some sentences; `quiet` ones are remarks, `lead` ones open the document."""

    text: str
    quiet: bool = False
    lead: bool = False


@dataclass(frozen=True)
class Swatch:
    """A colour to be shown: its name, what is said of it, and its colour as "#rrggbb"."""

    name: str
    about: str
    hex_colour: str


@dataclass(frozen=True)
class Swatches:
    """Colours side by side, without a seam, as they are judged; `tall` ones fill the upper part of a first page."""

    swatches: tuple[Swatch, ...]
    tall: bool = False


@dataclass(frozen=True)
class Facts:
    """What is known, line by line: what it is, and what it says."""

    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Grid:
    """A table; `texts` are its columns that hold words and are set left."""

    table: Table
    texts: tuple[int, ...] = (0,)
    strong_last: bool = False

    @property
    def filled(self) -> Grid:
        """The same without the columns that hold nothing in any row."""
        rows = self.table.rows
        kept = [i for i in range(len(self.table.header)) if i == 0 or any(row[i] for row in rows)]
        header = tuple(self.table.header[i] for i in kept)
        table = Table(self.table.caption, header, tuple(tuple(row[i] for i in kept) for row in rows))
        return Grid(table, tuple(j for j, i in enumerate(kept) if i in self.texts), self.strong_last)


@dataclass(frozen=True)
class Plot:
    """A drawing as SVG text, and what it shows, for who can't see it."""

    svg: str
    shows: str


@dataclass(frozen=True)
class Photograph:
    """A picture as JPEG, its width over its height, what stands under it, what it shows, its share of the width."""

    jpeg: bytes
    ratio: float
    caption: str
    shows: str
    share: float = 1.0


@dataclass(frozen=True)
class Warned:
    """What can hurt someone: a heading and sentences, set apart."""

    heading: str
    cautions: tuple[str, ...]


Block = Paragraph | Swatches | Facts | Grid | Plot | Photograph | Warned


@dataclass(frozen=True)
class Chapter:
    """A heading and its blocks; `begins` on a new page where the document is printed."""

    heading: str
    blocks: tuple[Block, ...]
    begins: bool = False


@dataclass(frozen=True)
class Document:
    """What is handed over.

    Parameters
    ----------
    title, subtitle : str
    kicker : str
        What kind of paper it is, above the title.
    accent : str
        "#rrggbb": the colour it is about.
    chapters : tuple of Chapter
        The first has no heading: it is what the first page shows.
    foot : str
        At the foot of every page.
    day : str
        YYYY-MM-DD: the last day of what it tells.
    """

    title: str
    subtitle: str
    kicker: str
    accent: str
    chapters: tuple[Chapter, ...]
    foot: str
    day: str


def shown(text: str) -> str:
    """Return text in which what can't be seen, or turns what follows around, is shown as a sign: [U+202E]."""
    return "".join(letter if _is_plain(letter) else f"[U+{ord(letter):04X}]" for letter in text)


def _is_plain(letter: str) -> bool:
    if letter in _JOINERS or letter in _BREAKS:
        return True
    return unicodedata.category(letter) not in ("Cc", "Cf", "Co", "Cs", "Zl", "Zp")


def shown_cell(text: str) -> str:
    """Return a cell as it is shown: a number below zero has a true minus sign."""
    return f"−{text[1:]}" if _BELOW_ZERO.fullmatch(text) else shown(text)


def shown_rows(rows: Sequence[Sequence[str]]) -> tuple[tuple[str, ...], ...]:
    """Return the cells of a table as they are shown."""
    return tuple(tuple(shown_cell(cell) for cell in row) for row in rows)
