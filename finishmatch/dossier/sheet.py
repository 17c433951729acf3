"""A printed sheet at true size: oblongs, strokes and words in mm, before it is known in which format it is written."""

from __future__ import annotations

from dataclasses import dataclass

Ink = tuple[int, int, int]

BLACK: Ink = (0, 0, 0)
WHITE: Ink = (255, 255, 255)
PT_PER_MM = 72 / 25.4

# widths of Helvetica's letters in thousandths of the size (the metrics of the standard PDF fonts, from memory;
# the tests hold them against a published copy). Bold letters are wider by a twentieth or so.
_WIDTHS = {
    222: "ijl'|",
    278: "I ,./:;ft![]\\",
    333: "r()-`",
    355: '"',
    400: "°",
    469: "^",
    500: "Jcksvxyz",
    556: "0123456789abdeghnopquL?_µ–$#",
    584: "+=<>~×",
    611: "FTZ",
    667: "ABEKPSVXY&",
    722: "CDHNRUw",
    778: "GOQ",
    833: "Mm",
    889: "%",
    944: "W",
    1015: "@",
}
_WIDTH = {letter: width for width, letters in _WIDTHS.items() for letter in letters}
_BOLD_WIDER = 1.06


@dataclass(frozen=True)
class Oblong:
    """An upright oblong, filled or outlined or both; mm from the sheet's top left corner, y down."""

    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    fill: Ink | None = None
    line: Ink | None = None
    line_mm: float = 0.2
    dashes_mm: tuple[float, ...] = ()


@dataclass(frozen=True)
class Stroke:
    """A straight line."""

    x1_mm: float
    y1_mm: float
    x2_mm: float
    y2_mm: float
    line: Ink = BLACK
    line_mm: float = 0.2
    dashes_mm: tuple[float, ...] = ()


@dataclass(frozen=True)
class Words:
    """A line of text; x is its start, middle or end, y its baseline."""

    x_mm: float
    y_mm: float
    text: str
    size_pt: float
    bold: bool = False
    ink: Ink = BLACK
    anchor: str = "start"

    @property
    def start_mm(self) -> float:
        """Where the text begins."""
        share = {"start": 0.0, "middle": 0.5, "end": 1.0}[self.anchor]
        return self.x_mm - share * text_width_mm(self.text, self.size_pt, self.bold)


Part = Oblong | Stroke | Words


@dataclass(frozen=True)
class Sheet:
    """A sheet of paper with what is drawn on it, the first part lowest."""

    width_mm: float
    height_mm: float
    title: str
    parts: tuple[Part, ...]


def text_width_mm(text: str, size_pt: float, bold: bool = False) -> float:
    """Return the width of a line set in Helvetica."""
    return sum(_WIDTH.get(letter, 556) for letter in text) / 1000 * size_pt / PT_PER_MM * (_BOLD_WIDER if bold else 1)


def wrapped(text: str, width_mm: float, size_pt: float, bold: bool = False) -> list[str]:
    """Return a text broken into lines that fit a width; a word that is too long stands alone."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width_mm(longer, size_pt, bold) <= width_mm:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def paragraph(
    x_mm: float, y_mm: float, width_mm: float, text: str, size_pt: float, bold: bool = False, hang_mm: float = 0.0
) -> list[Words]:
    """Return a text set in lines from a first baseline; lines after the first are set in by `hang_mm`."""
    lead_mm = 1.22 * size_pt / PT_PER_MM
    first, *others = wrapped(text, width_mm, size_pt, bold) or [""]
    if hang_mm and others:
        others = wrapped(" ".join(others), width_mm - hang_mm, size_pt, bold)
    return [
        Words(x_mm + (hang_mm if i else 0), y_mm + i * lead_mm, line, size_pt, bold)
        for i, line in enumerate([first, *others])
    ]
