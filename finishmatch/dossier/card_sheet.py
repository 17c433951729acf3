"""The shop's spray-out card as a sheet to print."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from finishmatch.cautions import SPRAYING
from finishmatch.dossier.sheet import BLACK, PT_PER_MM, WHITE, Ink, Oblong, Part, Sheet, Stroke, Words, paragraph
from finishmatch.errors import InputError
from finishmatch.photo.card.find_card import mark_cells
from finishmatch.photo.card.layout import Box, CardLayout, card_layout

# width, height, and where the card's corner lies, mm (ISO 216; ANSI/ASME Y14.1)
SIZES = {"A5": (148.0, 210.0, 5.0, 5.0), "letter": (215.9, 279.4, 11.0, 36.0)}
_QUIET: Ink = (110, 110, 110)
_PALE: Ink = (190, 190, 190)
_SMALL_PT, _TEXT_PT, _HEAD_PT = 5.2, 6.6, 7.4
_CUT_MM = (2.0, 1.2)
_WINDOW_MM = (1.0, 0.8)

USE = (
    "1. Print at 100 %, never fitted to the page, on matt white card. Check the ruler below. Cut along the dashes.",
    "2. Read this print's greys and colours once and register them. No printed colour is trusted before.",
    "3. Spray, or lay, the paint over the stripes: it hides when they no longer show.",
    "4. Lay the standard beside it, or cut its window out and lay the card on the car. Lay a 24-patch chart here.",
    "5. Photograph it flat and square from above, in even daylight, without flash, all six marks in the picture.",
)


@dataclass(frozen=True)
class CardCommands:
    """What the painter types, which the larger sheet names beside the card.

    Parameters
    ----------
    write_form : str
        To have a form for what the print reads.
    register : str
        To register the form once it is filled in.
    """

    write_form: str
    register: str


def card_sheet(size: str, commands: CardCommands) -> Sheet:
    """Return the card on a sheet of paper.

    Parameters
    ----------
    size : str
        "A5" or "letter".
    commands : CardCommands

    Raises
    ------
    InputError
        For another size.
    """
    if size not in SIZES:
        raise InputError("`size`", f"{size[:40]!r} is not a size the card comes in", "use A5 or letter")
    width, height, left, top = SIZES[size]
    parts = [_moved(part, left, top) for part in _card(card_layout())]
    cut = _cut_lines(left, top, card_layout())
    beside = _beside(width, left, top, commands) if size == "letter" else []
    return Sheet(width, height, "Spray-out card", (*cut, *parts, *beside))


def how_to_register(commands: CardCommands) -> tuple[str, ...]:
    """Return the paragraphs that say how a print is registered."""
    return (
        "Let the print dry for a day. Put a second sheet of the same paper under it.",
        f"Write a form with: {commands.write_form}",
        "Read each field of the scale with the instrument, three times if you can, and fill its row in. White is the "
        "bare paper, black also the stripes. White, grey and black are needed; each colour more helps.",
        "Where the instrument's opening is too wide for a field, read the three squares below.",
        f"Register them with: {commands.register}",
        "Do it again for another printer, ink or paper.",
    )


def _moved(part: Part, x: float, y: float) -> Part:
    if isinstance(part, Stroke):
        return replace(part, x1_mm=part.x1_mm + x, y1_mm=part.y1_mm + y, x2_mm=part.x2_mm + x, y2_mm=part.y2_mm + y)
    return replace(part, x_mm=part.x_mm + x, y_mm=part.y_mm + y)


def _cut_lines(left: float, top: float, layout: CardLayout) -> list[Part]:
    return [Oblong(left, top, layout.width_mm, layout.height_mm, line=_QUIET, line_mm=0.15, dashes_mm=_CUT_MM)]


def _card(layout: CardLayout) -> list[Part]:
    parts: list[Part] = []
    for number, box in layout.marks.items():
        parts += _mark(number, box)
    for printed in (*layout.border, *layout.stripes, *layout.patches):
        if printed.name != "white":
            parts.append(_filled(printed.box, printed.srgb))
    whole = _around(layout)
    parts.append(Oblong(whole.x_mm, whole.y_mm, whole.width_mm, whole.height_mm, line=_PALE, line_mm=0.1))
    for name, box in layout.windows.items():
        dashes = _WINDOW_MM if name == "standard" else ()
        parts.append(Oblong(box.x_mm, box.y_mm, box.width_mm, box.height_mm, None, _QUIET, 0.15, dashes))
    return [*parts, *_labels(layout), *_inside_chart(layout), *_fields(layout), *_ruler(layout.ruler)]


def _filled(box: Box, ink: Ink) -> Oblong:
    return Oblong(box.x_mm, box.y_mm, box.width_mm, box.height_mm, fill=ink)


def _around(layout: CardLayout) -> Box:
    """Return the outline of the printed scale."""
    first, last = layout.patches[0].box, layout.patches[-1].box
    return Box(first.x_mm, first.y_mm, last.x_mm + last.width_mm - first.x_mm, last.y_mm + last.height_mm - first.y_mm)


def _mark(number: int, box: Box) -> list[Part]:
    """Return a fiducial mark: a black square with its white cells, in runs both ways, so that no seam shows."""
    cells = mark_cells(number)
    side = box.width_mm / len(cells)
    parts: list[Part] = [_filled(box, BLACK)]
    for j, row in enumerate(cells):
        for start, end in _runs(row):
            parts.append(_filled(Box(box.x_mm + start * side, box.y_mm + j * side, (end - start) * side, side), WHITE))
    for i, column in enumerate(zip(*cells, strict=True)):
        for start, end in _runs(column):
            parts.append(_filled(Box(box.x_mm + i * side, box.y_mm + start * side, side, (end - start) * side), WHITE))
    return parts


def _runs(cells: Sequence[bool]) -> list[tuple[int, int]]:
    """Return where each run of white cells starts and ends."""
    edges = [0, *(i for i in range(1, len(cells)) if cells[i] != cells[i - 1]), len(cells)]
    return [(start, end) for start, end in pairwise(edges) if cells[start]]


def _labels(layout: CardLayout) -> list[Part]:
    standard, spray, chart = (layout.windows[name] for name in ("standard", "spray-out", "chart"))
    middle = standard.x_mm + standard.width_mm / 2
    half = standard.y_mm + standard.height_mm / 2
    return [
        Words(layout.width_mm / 2, 3.4, "Print at 100 %", _SMALL_PT, ink=_QUIET, anchor="middle"),
        Words(standard.x_mm, standard.y_mm - 1, "STANDARD", _HEAD_PT, bold=True),
        Words(spray.x_mm, spray.y_mm - 1, "SPRAY-OUT", _HEAD_PT, bold=True),
        Words(spray.x_mm + spray.width_mm, spray.y_mm - 1, "over the stripes", _SMALL_PT, ink=_QUIET, anchor="end"),
        Words(chart.x_mm, chart.y_mm - 1, "CHART", _HEAD_PT, bold=True),
        Words(chart.x_mm + chart.width_mm, chart.y_mm - 1, "of 24 patches", _SMALL_PT, ink=_QUIET, anchor="end"),
        Words(middle, half, "lay the standard here", _TEXT_PT, ink=_PALE, anchor="middle"),
        Words(middle, half + 3.2, "or cut out along the dashes", _TEXT_PT, ink=_PALE, anchor="middle"),
    ]


def _inside_chart(layout: CardLayout) -> list[Part]:
    """Return how to use the card; the chart covers it."""
    box = layout.windows["chart"]
    left, gap = box.x_mm + 2.5, 4.0
    width = (box.width_mm - 5 - gap) / 2
    parts: list[Part] = [Words(left, box.y_mm + 5, "How to use it", _HEAD_PT, bold=True)]
    y = box.y_mm + 9
    for text in USE:
        lines = paragraph(left, y, width, text, _TEXT_PT, hang_mm=2.6)
        parts += lines
        y = lines[-1].y_mm + 3.9
    right = left + width + gap
    parts.append(Words(right, box.y_mm + 5, "The printed scale, from the left", _HEAD_PT, bold=True))
    y = box.y_mm + 9
    names = [patch.name for patch in layout.patches]
    for head, row in (("Upper row: ", names[: len(names) // 2]), ("Lower row: ", names[len(names) // 2 :])):
        lines = paragraph(right, y, width, head + ", ".join(row) + ".", _TEXT_PT)
        parts += lines
        y = lines[-1].y_mm + 3.9
    parts.append(Words(right, y + 2.2, "Take care", _HEAD_PT, bold=True))
    y += 6.2
    for text in SPRAYING:
        lines = paragraph(right, y, width, text, _TEXT_PT)
        parts += lines
        y = lines[-1].y_mm + 3.5
    return parts


def _fields(layout: CardLayout) -> list[Part]:
    parts: list[Part] = []
    for name, box in layout.fields.items():
        base = box.y_mm + box.height_mm
        parts.append(Words(box.x_mm, box.y_mm + 2.2, name, _SMALL_PT, ink=_QUIET))
        parts.append(Stroke(box.x_mm, base, box.x_mm + box.width_mm, base, line_mm=0.15))
    return parts


def _ruler(box: Box) -> list[Part]:
    base = box.y_mm + box.height_mm
    parts: list[Part] = [Stroke(box.x_mm, base, box.x_mm + box.width_mm, base, line_mm=0.15)]
    for mm in range(round(box.width_mm) + 1):
        tall = 2.4 if mm % 10 == 0 else 1.6 if mm % 5 == 0 else 0.9
        parts.append(Stroke(box.x_mm + mm, base, box.x_mm + mm, base - tall, line_mm=0.1))
    note = f"from end to end {box.width_mm:g} mm, when printed at 100 %"
    parts.append(Words(box.x_mm + box.width_mm / 2, base - 3.2, note, _SMALL_PT, ink=_QUIET, anchor="middle"))
    return parts


def _beside(width: float, left: float, top: float, commands: CardCommands) -> list[Part]:
    """Return what the larger sheet says beside the card: how to register the print, with squares to read."""
    layout = card_layout()
    parts: list[Part] = [
        Words(left, top - 16, "Spray-out card", 20, bold=True),
        *paragraph(
            left,
            top - 9,
            width - 2 * left,
            "Print this sheet at 100 % (“actual size”), on matt white card. Cut the card out along the dashes; keep "
            "the rest with it.",
            9,
        ),
    ]
    x = left + layout.width_mm + 8
    room = width - x - left
    parts.append(Words(x, top + 4, "Register this print", 11, bold=True))
    y = top + 10
    for text in how_to_register(commands):
        lines = paragraph(x, y, room, text, 8)
        parts += lines
        y = lines[-1].y_mm + 5
    inks = {patch.name: patch.srgb for patch in layout.patches}
    side = 24.0
    for name in ("white", "grey", "black"):
        parts.append(Oblong(x, y, side, side, fill=inks[name], line=_QUIET, line_mm=0.1))
        parts.append(Words(x + side + 2, y + side / 2 + 8 / PT_PER_MM / 3, name, 8))
        y += side + 2
    return parts
