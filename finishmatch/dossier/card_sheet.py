"""The shop's spray-out card as a sheet to print."""

from __future__ import annotations

from finishmatch.cautions import SPRAYING
from finishmatch.dossier.card_parts import (
    HEAD_PT,
    PALE,
    QUIET,
    SMALL_PT,
    TEXT_PT,
    CardCommands,
    column,
    fields,
    filled,
    mark,
    moved,
    ruler,
    scale_outline,
)
from finishmatch.dossier.sheet import PT_PER_MM, Oblong, Part, Sheet, Words, paragraph
from finishmatch.errors import InputError
from finishmatch.photo.card.layout import CardLayout, card_layout

# width, height, and where the card's corner lies, mm (ISO 216; ANSI/ASME Y14.1)
SIZES = {"A5": (148.0, 210.0, 5.0, 5.0), "letter": (215.9, 279.4, 11.0, 36.0)}
_CUT_MM = (2.0, 1.2)
_WINDOW_MM = (1.0, 0.8)

USE = (
    "1. Print at 100 %, never fitted to the page, on matt white card. Check the ruler below. Cut along the dashes.",
    "2. Read this print's greys and colours once and register them. No printed colour is trusted before.",
    "3. Spray, or lay, the paint over the stripes: it hides when they no longer show.",
    "4. Lay the standard beside it, or cut its window out and lay the card on the car. Lay a 24-patch chart here.",
    "5. Photograph it flat and square from above, in even daylight, without flash, all six marks in the picture.",
)


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
    parts = [moved(part, left, top) for part in _card(card_layout())]
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


def _cut_lines(left: float, top: float, layout: CardLayout) -> list[Part]:
    return [Oblong(left, top, layout.width_mm, layout.height_mm, line=QUIET, line_mm=0.15, dashes_mm=_CUT_MM)]


def _card(layout: CardLayout) -> list[Part]:
    parts: list[Part] = []
    for number, box in layout.marks.items():
        parts += mark(number, box)
    for printed in (*layout.border, *layout.stripes["spray-out"], *layout.patches):
        if printed.name != "white":
            parts.append(filled(printed.box, printed.srgb))
    parts.append(scale_outline(layout))
    for name, box in layout.windows.items():
        dashes = _WINDOW_MM if name == "standard" else ()
        parts.append(Oblong(box.x_mm, box.y_mm, box.width_mm, box.height_mm, None, QUIET, 0.15, dashes))
    return [*parts, *_labels(layout), *_inside_chart(layout), *fields(layout), *ruler(layout.ruler)]


def _labels(layout: CardLayout) -> list[Part]:
    standard, spray, chart = (layout.windows[name] for name in ("standard", "spray-out", "chart"))
    middle = standard.x_mm + standard.width_mm / 2
    half = standard.y_mm + standard.height_mm / 2
    return [
        Words(layout.width_mm / 2, 3.4, "Print at 100 %", SMALL_PT, ink=QUIET, anchor="middle"),
        Words(standard.x_mm, standard.y_mm - 1, "STANDARD", HEAD_PT, bold=True),
        Words(spray.x_mm, spray.y_mm - 1, "SPRAY-OUT", HEAD_PT, bold=True),
        Words(spray.x_mm + spray.width_mm, spray.y_mm - 1, "over the stripes", SMALL_PT, ink=QUIET, anchor="end"),
        Words(chart.x_mm, chart.y_mm - 1, "CHART", HEAD_PT, bold=True),
        Words(chart.x_mm + chart.width_mm, chart.y_mm - 1, "of 24 patches", SMALL_PT, ink=QUIET, anchor="end"),
        Words(middle, half, "lay the standard here", TEXT_PT, ink=PALE, anchor="middle"),
        Words(middle, half + 3.2, "or cut out along the dashes", TEXT_PT, ink=PALE, anchor="middle"),
    ]


def _inside_chart(layout: CardLayout) -> list[Part]:
    """Return how to use the card; the chart covers it."""
    box = layout.windows["chart"]
    left, gap = box.x_mm + 2.5, 4.0
    width = (box.width_mm - 5 - gap) / 2
    right, head, y = left + width + gap, box.y_mm + 5, box.y_mm + 9
    names = [patch.name for patch in layout.patches]
    half = len(names) // 2
    rows = (f"Upper row: {', '.join(names[:half])}.", f"Lower row: {', '.join(names[half:])}.")
    use = column((left, y, width), USE, 3.4, hang_mm=2.6)
    below = use[-1].y_mm + 4.9
    return [
        Words(left, head, "How to use it", HEAD_PT, bold=True),
        *use,
        Words(left, below, "The printed scale, from the left", HEAD_PT, bold=True),
        *column((left, below + 3.6, width), rows, 3.3),
        Words(right, head, "Take care", HEAD_PT, bold=True),
        *column((right, y, width), SPRAYING, 3.5),
    ]


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
        parts.append(Oblong(x, y, side, side, fill=inks[name], line=QUIET, line_mm=0.1))
        parts.append(Words(x + side + 2, y + side / 2 + 8 / PT_PER_MM / 3, name, 8))
        y += side + 2
    return parts
