"""What the shop's card and its sheet of numbered windows are drawn from: marks, inks, lines to write on, a ruler."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from finishmatch.dossier.sheet import BLACK, WHITE, Ink, Oblong, Part, Stroke, Words, paragraph
from finishmatch.photo.card.find_card import mark_cells
from finishmatch.photo.card.layout import Box, CardLayout

QUIET: Ink = (110, 110, 110)
PALE: Ink = (190, 190, 190)
SMALL_PT, TEXT_PT, HEAD_PT = 5.2, 6.6, 7.4


@dataclass(frozen=True)
class CardCommands:
    """What the painter types, which the sheets name.

    Parameters
    ----------
    write_form : str
        To have a form for what the print reads.
    register : str
        To register the form once it is filled in.
    read_panels : str
        To read the numbered windows into a bank.
    """

    write_form: str
    register: str
    read_panels: str


def moved(part: Part, x: float, y: float) -> Part:
    """Return a part of a drawing moved to the right and down, mm."""
    if isinstance(part, Stroke):
        return replace(part, x1_mm=part.x1_mm + x, y1_mm=part.y1_mm + y, x2_mm=part.x2_mm + x, y2_mm=part.y2_mm + y)
    return replace(part, x_mm=part.x_mm + x, y_mm=part.y_mm + y)


def filled(box: Box, ink: Ink) -> Oblong:
    """Return a box in one ink."""
    return Oblong(box.x_mm, box.y_mm, box.width_mm, box.height_mm, fill=ink)


def scale_outline(layout: CardLayout) -> Oblong:
    """Return a fine line around the printed scale."""
    first, last = layout.patches[0].box, layout.patches[-1].box
    width, height = last.x_mm + last.width_mm - first.x_mm, last.y_mm + last.height_mm - first.y_mm
    return Oblong(first.x_mm, first.y_mm, width, height, line=PALE, line_mm=0.1)


def mark(number: int, box: Box) -> list[Part]:
    """Return a fiducial mark: a black square with its white cells, in runs both ways, so that no seam shows."""
    cells = mark_cells(number)
    side = box.width_mm / len(cells)
    parts: list[Part] = [filled(box, BLACK)]
    for j, row in enumerate(cells):
        for start, end in _runs(row):
            parts.append(filled(Box(box.x_mm + start * side, box.y_mm + j * side, (end - start) * side, side), WHITE))
    for i, column in enumerate(zip(*cells, strict=True)):
        for start, end in _runs(column):
            parts.append(filled(Box(box.x_mm + i * side, box.y_mm + start * side, side, (end - start) * side), WHITE))
    return parts


def _runs(cells: Sequence[bool]) -> list[tuple[int, int]]:
    """Return where each run of white cells starts and ends."""
    edges = [0, *(i for i in range(1, len(cells)) if cells[i] != cells[i - 1]), len(cells)]
    return [(start, end) for start, end in pairwise(edges) if cells[start]]


def fields(layout: CardLayout) -> list[Part]:
    """Return the lines to write on, each with its name."""
    parts: list[Part] = []
    for name, box in layout.fields.items():
        base = box.y_mm + box.height_mm
        parts.append(Words(box.x_mm, box.y_mm + 2.2, name, SMALL_PT, ink=QUIET))
        parts.append(Stroke(box.x_mm, base, box.x_mm + box.width_mm, base, line_mm=0.15))
    return parts


def ruler(box: Box) -> list[Part]:
    """Return the ruler that the scale of the print is checked by."""
    base = box.y_mm + box.height_mm
    parts: list[Part] = [Stroke(box.x_mm, base, box.x_mm + box.width_mm, base, line_mm=0.15)]
    for mm in range(round(box.width_mm) + 1):
        tall = 2.4 if mm % 10 == 0 else 1.6 if mm % 5 == 0 else 0.9
        parts.append(Stroke(box.x_mm + mm, base, box.x_mm + mm, base - tall, line_mm=0.1))
    note = f"from end to end {box.width_mm:g} mm, when printed at 100 %"
    parts.append(Words(box.x_mm + box.width_mm / 2, base - 3.2, note, SMALL_PT, ink=QUIET, anchor="middle"))
    return parts


def column(
    place: tuple[float, float, float], texts: Iterable[str], after_mm: float, hang_mm: float = 0.0
) -> list[Words]:
    """Return paragraphs one below the other, from a place: left, upper end and width, mm."""
    left, y, width = place
    parts: list[Words] = []
    for text in texts:
        lines = paragraph(left, y, width, text, TEXT_PT, hang_mm=hang_mm)
        parts += lines
        y = lines[-1].y_mm + after_mm
    return parts
