"""The printed sheet of numbered windows: true size, legible, and found again in a picture of its own print."""

from __future__ import annotations

import numpy as np
import pypdfium2
import pytest

from finishmatch.cli.photo.card import COMMANDS
from finishmatch.dossier.panel_sheet import PANEL_SIZES, panel_sheet
from finishmatch.dossier.sheet import PT_PER_MM, Words, text_width_mm
from finishmatch.dossier.sheet_files import sheet_pdf
from finishmatch.errors import InputError
from finishmatch.photo.card.find_card import locate_card
from finishmatch.photo.card.layout import Box

PX = 5
each_size = pytest.mark.parametrize("size", PANEL_SIZES)


@pytest.mark.parametrize(("size", "numbered"), [("A4", 8), ("letter", 11), ("A4", 1)])
def test_the_print_is_found_where_it_was_drawn_and_says_how_many_windows_it_has(size: str, numbered: int) -> None:
    page = pypdfium2.PdfDocument(sheet_pdf(panel_sheet(size, numbered, COMMANDS)))[0]
    wanted = {"A4": (210, 297), "letter": (8.5 * 25.4, 11 * 25.4)}[size]
    np.testing.assert_allclose(np.array(page.get_size()) / PT_PER_MM, wanted, atol=1e-3)
    picture = np.ascontiguousarray(page.render(scale=PX / PT_PER_MM).to_pil().convert("RGB"))
    pose = locate_card(picture)
    assert pose is not None
    layout = pose.layout
    assert layout.numbered == numbered
    whole = Box(0, 0, layout.width_mm, layout.height_mm).corners_mm() + np.array(PANEL_SIZES[size][2:])
    np.testing.assert_allclose((pose.outline + 0.5) / PX, whole, atol=0.3)  # a pixel and a half
    inks = {patch.name: patch.srgb for patch in layout.patches}
    for name, quad in (*pose.patches, *pose.border, *(one for each in pose.stripes.values() for one in each)):
        (x0, y0), (x1, y1) = quad.min(axis=0).round().astype(int), quad.max(axis=0).round().astype(int)
        assert np.abs(picture[y0:y1, x0:x1].astype(int) - inks[name]).max() <= 2, name


@each_size
@pytest.mark.parametrize("numbered", [1, 10, 12])
def test_every_word_stands_inside_the_sheet_and_none_on_another(size: str, numbered: int) -> None:
    sheet = panel_sheet(size, numbered, COMMANDS)
    words = [part for part in sheet.parts if isinstance(part, Words)]
    boxes = [
        (p.start_mm, p.y_mm - 0.72 * p.size_pt / PT_PER_MM, text_width_mm(p.text, p.size_pt, p.bold), p) for p in words
    ]
    for i, (x, y, width, one) in enumerate(boxes):
        assert x >= 4
        assert x + width <= sheet.width_mm - 4, one
        for x2, y2, width2, other in boxes[i + 1 :]:
            beside = x + width <= x2 or x2 + width2 <= x
            assert beside or one.y_mm <= y2 or other.y_mm <= y, (one.text, other.text)
    assert {str(number) for number in range(1, numbered + 1)} <= {one.text for one in words}
    said = " ".join(one.text for one in words)
    assert "Two-pack paints carry isocyanates" in said
    assert "bank photo BANK" in said


@pytest.mark.parametrize(
    ("size", "numbered", "told"),
    [("A5", 8, "use A4 or letter"), ("A4", 13, "a sheet holds 1 to 12"), ("A4", 0, "say how many panels")],
)
def test_what_is_no_sheet_is_refused(size: str, numbered: int, told: str) -> None:
    with pytest.raises(InputError, match=told):
        panel_sheet(size, numbered, COMMANDS)
