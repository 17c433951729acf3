"""The printed card: true size, vector, legible, and found again in a picture of its own print."""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree import ElementTree

import matplotlib
import numpy as np
import pypdfium2
import pytest

from finishmatch.cli.photo.card import COMMANDS
from finishmatch.dossier.card_parts import TEXT_PT
from finishmatch.dossier.card_sheet import SIZES, card_sheet
from finishmatch.dossier.sheet import Oblong, Sheet, Stroke, Words, text_width_mm, wrapped
from finishmatch.dossier.sheet_files import sheet_pdf, sheet_svg
from finishmatch.errors import InputError
from finishmatch.photo.card.find_card import locate_card
from finishmatch.photo.card.layout import Box, card_layout

PT_PER_MM = 72 / 25.4
LAYOUT = card_layout()
each_size = pytest.mark.parametrize("size", SIZES)


def rendered(sheet: Sheet, px_per_mm: float) -> np.ndarray:
    page = pypdfium2.PdfDocument(sheet_pdf(sheet))[0]
    return np.ascontiguousarray(page.render(scale=px_per_mm / PT_PER_MM).to_pil().convert("RGB"))


@each_size
def test_the_pdf_is_of_the_true_size(size: str) -> None:
    """ISO 216: A5 is 148 by 210 mm; ANSI/ASME Y14.1: letter is 8.5 by 11 inches."""
    page = pypdfium2.PdfDocument(sheet_pdf(card_sheet(size, COMMANDS)))[0]
    wanted = {"A5": (148, 210), "letter": (8.5 * 25.4, 11 * 25.4)}[size]
    np.testing.assert_allclose(np.array(page.get_size()) / PT_PER_MM, wanted, atol=1e-3)


@each_size
def test_the_print_is_found_where_it_was_drawn(size: str) -> None:
    picture = rendered(card_sheet(size, COMMANDS), 8)
    pose = locate_card(picture)
    assert pose is not None
    assert set(pose.marks) == set(LAYOUT.marks)
    left, top = SIZES[size][2:]
    whole = Box(0, 0, LAYOUT.width_mm, LAYOUT.height_mm).corners_mm()
    np.testing.assert_allclose((pose.outline + 0.5) / 8, whole + np.array([left, top]), atol=0.13)  # a pixel
    assert pose.px_per_mm == pytest.approx(8, rel=2e-3)
    printed = {patch.name: patch.srgb for patch in LAYOUT.patches}
    for name, quad in (*pose.patches, *pose.border, *pose.stripes["spray-out"]):
        (x0, y0), (x1, y1) = quad.min(axis=0).round().astype(int), quad.max(axis=0).round().astype(int)
        assert np.abs(picture[y0:y1, x0:x1].astype(int) - printed[name]).max() <= 2, name


@each_size
def test_the_svg_is_in_true_millimetres_and_vector(size: str) -> None:
    sheet = card_sheet(size, COMMANDS)
    root = ElementTree.fromstring(sheet_svg(sheet))
    assert root.get("width") == f"{sheet.width_mm:g}mm"
    assert root.get("height") == f"{sheet.height_mm:g}mm"
    assert root.get("viewBox") == f"0 0 {sheet.width_mm:g} {sheet.height_mm:g}"
    tags = [element.tag.rpartition("}")[2] for element in root.iter()]
    assert set(tags) == {"svg", "title", "rect", "line", "text"}
    assert len(tags) == len(sheet.parts) + 3  # svg, title and the white of the paper
    words = [element.text for element in root.iter() if element.tag.endswith("text")]
    assert words == [part.text for part in sheet.parts if isinstance(part, Words)]


@each_size
def test_text_is_text_in_the_pdf(size: str) -> None:
    data = sheet_pdf(card_sheet(size, COMMANDS))
    widths = " ".join(pypdfium2.PdfDocument(data)[0].get_textpage().get_text_range().split())
    for piece in ("STANDARD", "SPRAY-OUT", "CHART", "build µm", "Print at 100 %", "from end to end 100 mm"):
        assert piece in widths
    assert "Two-pack paints carry isocyanates" in widths
    assert b"/Image" not in data


@each_size
def test_the_same_card_is_the_same_bytes(size: str) -> None:
    assert sheet_pdf(card_sheet(size, COMMANDS)) == sheet_pdf(card_sheet(size, COMMANDS))


def test_the_cross_reference_of_the_pdf_points_at_its_objects() -> None:
    """ISO 32000-1, 7.5.4."""
    data = sheet_pdf(card_sheet("A5", COMMANDS))
    table = int(data.rsplit(b"startxref\n", 1)[1].split()[0])
    assert data[table:].startswith(b"xref\n0 8\n")
    for number, offset in enumerate(re.findall(rb"(\d{10}) 00000 n", data[table:]), start=1):
        assert data[int(offset) :].startswith(b"%d 0 obj" % number)


@each_size
def test_every_word_stands_inside_the_sheet_and_the_card_inside_its_cut(size: str) -> None:
    sheet = card_sheet(size, COMMANDS)
    left, top = SIZES[size][2:]
    chart = LAYOUT.windows["chart"]
    for part in sheet.parts:
        if not isinstance(part, Words):
            continue
        end = part.start_mm + text_width_mm(part.text, part.size_pt, part.bold)
        assert part.start_mm >= 4, part
        assert end <= sheet.width_mm - 4, part
        x, y = part.start_mm - left, part.y_mm - top
        if chart.x_mm <= x <= chart.x_mm + chart.width_mm and chart.y_mm < y < chart.y_mm + chart.height_mm:
            assert end - left <= chart.x_mm + chart.width_mm - 1, part
        elif 0 < y < LAYOUT.height_mm and x < LAYOUT.width_mm:
            assert end - left <= LAYOUT.width_mm - 17, part


@each_size
def test_no_two_lines_of_text_overlap(size: str) -> None:
    lines = [part for part in card_sheet(size, COMMANDS).parts if isinstance(part, Words)]
    boxes = [
        (p.start_mm, p.y_mm - 0.72 * p.size_pt / PT_PER_MM, text_width_mm(p.text, p.size_pt, p.bold), p) for p in lines
    ]
    for i, (x, y, width, one) in enumerate(boxes):
        for x2, y2, width2, other in boxes[i + 1 :]:
            beside = x + width <= x2 or x2 + width2 <= x
            assert beside or one.y_mm <= y2 or other.y_mm <= y, (one.text, other.text)


def test_the_ruler_is_100_mm_with_a_tick_for_each() -> None:
    ruler, top = LAYOUT.ruler, SIZES["A5"][3]
    base = ruler.y_mm + ruler.height_mm + top
    line = [p for p in card_sheet("A5", COMMANDS).parts if isinstance(p, Stroke) and p.y1_mm == p.y2_mm == base]
    assert [p.x2_mm - p.x1_mm for p in line] == [pytest.approx(100)]
    ticks = sorted(p.x1_mm for p in card_sheet("A5", COMMANDS).parts if isinstance(p, Stroke) and p.x1_mm == p.x2_mm)
    np.testing.assert_allclose(np.diff(ticks), 1.0, atol=1e-9)
    assert len(ticks) == 101


def test_greys_are_printed_in_black_ink_alone() -> None:
    """DeviceGray, not three inks that make a grey: operators g and rg of ISO 32000-1, 8.6.8."""
    grey = Sheet(10, 10, "t", (Oblong(0, 0, 5, 5, fill=(140, 140, 140)), Oblong(5, 0, 5, 5, fill=(140, 10, 10))))
    content = sheet_pdf(grey).split(b"stream")[1]
    assert b"0.5490 g" in content
    assert content.count(b" rg") == 1


def test_what_lies_under_the_chart_stays_within_its_box() -> None:
    _, _, left, top = SIZES["A5"]
    box, parts = LAYOUT.windows["chart"], card_sheet("A5", COMMANDS).parts
    told = [
        part for part in parts if isinstance(part, Words) and part.size_pt == TEXT_PT and part.y_mm > top + box.y_mm
    ]
    assert told[-1].text.endswith("anything said here.")
    assert max(part.y_mm for part in told) < top + box.y_mm + box.height_mm - 1
    assert max(part.start_mm + text_width_mm(part.text, TEXT_PT) for part in told) < left + box.x_mm + box.width_mm


def test_the_widths_are_those_of_helvetica() -> None:
    """The published metrics of the standard PDF fonts (ISO 32000), as matplotlib ships them."""
    metrics = Path(matplotlib.get_data_path()) / "fonts/pdfcorefonts/Helvetica.afm"
    widths = {}
    for line in metrics.read_text("latin-1").splitlines():
        if found := re.match(r"C (\d+) ; WX (\d+) ;", line):
            widths[chr(int(found[1]))] = int(found[2])
    for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789 .,:;-/()%":
        assert text_width_mm(letter, 1000 * PT_PER_MM) == pytest.approx(widths[letter]), letter


def test_lines_are_broken_to_fit_and_no_word_is_lost() -> None:
    text = "Lay the standard beside it, or cut its window out."
    lines = wrapped(text, 25, 7)
    assert " ".join(lines) == text
    assert all(text_width_mm(line, 7) <= 25 for line in lines)
    assert wrapped("Unbreakablyenormous", 3, 12) == ["Unbreakablyenormous"]


def test_another_size_is_refused() -> None:
    with pytest.raises(InputError, match="use A5 or letter"):
        card_sheet("A3", COMMANDS)


def test_brackets_and_backslashes_come_through() -> None:
    sheet = Sheet(100, 20, "(a) \\ <b> & c", (Words(5, 10, "(a) \\ <b> & c µ ° – “x”", 8),))
    text = pypdfium2.PdfDocument(sheet_pdf(sheet))[0].get_textpage().get_text_range()
    assert text.strip() == "(a) \\ <b> & c µ ° – “x”"
    assert ElementTree.fromstring(sheet_svg(sheet))[0].text == "(a) \\ <b> & c"
