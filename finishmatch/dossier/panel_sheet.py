"""The sheet of numbered windows for the panels of a bank, to print."""

from __future__ import annotations

from finishmatch.cautions import SPRAYING
from finishmatch.dossier.card_parts import (
    HEAD_PT,
    PALE,
    QUIET,
    SMALL_PT,
    CardCommands,
    column,
    fields,
    filled,
    mark,
    moved,
    ruler,
    scale_outline,
)
from finishmatch.dossier.sheet import Oblong, Part, Sheet, Stroke, Words
from finishmatch.errors import InputError
from finishmatch.photo.card.layout import CardLayout, count_mark, sheet_layout

# width, height, and where the corner of what is drawn lies, mm (ISO 216; ANSI/ASME Y14.1)
PANEL_SIZES = {"A4": (210.0, 297.0, 7.0, 16.5), "letter": (215.9, 279.4, 9.95, 7.7)}
_NUMBER_PT = 12.0
_ROOM_FOR_TITLE_MM = 14.0


def panel_sheet(size: str, numbered: int, commands: CardCommands) -> Sheet:
    """Return the sheet of numbered windows.

    Parameters
    ----------
    size : str
        "A4" or "letter".
    numbered : int
        How many windows, 1 to 12.
    commands : CardCommands

    Raises
    ------
    InputError
        For another size, or another number of windows.
    """
    if size not in PANEL_SIZES:
        what = f"{size[:40]!r} is not a size the sheet of windows comes in"
        raise InputError("`size`", what, "use A4 or letter")
    layout = sheet_layout(numbered)
    if not numbered:
        raise InputError("`panels`", "0 windows are no sheet", "say how many panels lie on it")
    width, height, left, top = PANEL_SIZES[size]
    parts = [moved(part, left, top) for part in _drawn(layout, numbered, commands)]
    title = f"Sheet of {numbered} window{'s' if numbered > 1 else ''} for panels"
    if top > _ROOM_FOR_TITLE_MM:
        parts.append(Words(left + 4, top - 5, title, 14, bold=True))
    return Sheet(width, height, title, tuple(parts))


def _drawn(layout: CardLayout, numbered: int, commands: CardCommands) -> list[Part]:
    parts: list[Part] = []
    counts = [(count_mark(numbered), box) for box in layout.counts]
    for number, box in (*layout.marks.items(), *counts):
        parts += mark(number, box)
    stripes = [printed for each in layout.stripes.values() for printed in each]
    for printed in (*layout.border, *stripes, *layout.patches):
        if printed.name != "white":
            parts.append(filled(printed.box, printed.srgb))
    parts.append(scale_outline(layout))
    for box in layout.windows.values():
        parts.append(Oblong(box.x_mm, box.y_mm, box.width_mm, box.height_mm, None, QUIET, 0.15))
    return [*parts, *_labels(layout), *_inside_chart(layout, commands), *fields(layout), *ruler(layout.ruler)]


def _labels(layout: CardLayout) -> list[Part]:
    parts: list[Part] = []
    for number, name in enumerate(layout.numbered_windows, start=1):
        box = layout.windows[name]
        parts.append(Words(box.x_mm, box.y_mm - 1.6, str(number), _NUMBER_PT, bold=True))
        parts.append(Stroke(box.x_mm + 7, box.y_mm - 1.6, box.x_mm + box.width_mm, box.y_mm - 1.6, PALE, 0.15))
    chart, scale = layout.windows["chart"], layout.patches[0].box
    right = chart.x_mm + chart.width_mm
    return [
        *parts,
        Words(chart.x_mm, chart.y_mm - 1, "CHART", HEAD_PT, bold=True),
        Words(right, chart.y_mm - 1, "of 24 patches", SMALL_PT, ink=QUIET, anchor="end"),
        Words(scale.x_mm, scale.y_mm - 1, "The printed scale", SMALL_PT, ink=QUIET),
    ]


def _inside_chart(layout: CardLayout, commands: CardCommands) -> list[Part]:
    """Return how to use the sheet; the chart covers it."""
    box = layout.windows["chart"]
    left, gap = box.x_mm + 2.5, 4.0
    width = (box.width_mm - 5 - gap) / 2
    uses = (
        "1. Print at 100 %, never fitted to the page, on matt white card. Check the ruler below.",
        "2. Write each panel's name beside its number. Draw the paint down over the stripes, or lay a dry drawdown on "
        "the window; fill all of it. It hides when no stripe shows.",
        "3. Lay a 24-patch chart here. A larger one goes beside the sheet. Without one the printed scale serves, once "
        f"it is read and registered: {commands.register}",
        "4. Photograph it flat and square from above, in even daylight, without flash, all marks in the picture.",
        f"5. Read it: {commands.read_panels}",
    )
    right, head, y = left + width + gap, box.y_mm + 5, box.y_mm + 9
    return [
        Words(left, head, "How to use it", HEAD_PT, bold=True),
        *column((left, y, width), uses, 3.9, hang_mm=2.6),
        Words(right, head, "Take care", HEAD_PT, bold=True),
        *column((right, y, width), SPRAYING, 3.5),
    ]
