"""The sheet of numbered windows in a photograph: each is read, and what is wrong in one is told by its number."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

from booth.card_scenes import PX, Pose, bundled_print
from finishmatch.colour import de00, reflectance_to_lab
from finishmatch.errors import InputError
from finishmatch.photo.card.find_card import locate_card
from finishmatch.photo.card.layout import MOST_WINDOWS, Box, card_layout, sheet_layout
from finishmatch.photo.card.register import check_card, register_card
from finishmatch.photo.open.picture import Picture, open_picture
from finishmatch.photo.read import PhotoReading, read_photograph
from finishmatch.photo.side_by_side import side_by_side
from finishmatch.readings import read_readings
from tests.conftest import ROOT
from tests.helpers.photo_frames import LYING, drawn_sheet, fill, paint, sheet_photo

PANELS = {
    number: paint(0.07 * number, 410 + 30 * number, 60, 0.3 - 0.05 * number) for number in range(1, 9)
}  # from dark to light, of several hues
GREY = np.full(31, 0.25)
THIN = 0.25 * np.array([0.85, 1.0, 0.85, 1.0])[:, None] * np.ones(31)
TILTED = Pose(0.6, -12, 25, 100)


def opened(drawn: np.ndarray, folder: Path, pose: Pose = LYING) -> Picture:
    return open_picture(sheet_photo(drawn, folder / "sheet.jpg", pose))


def right(reading: PhotoReading) -> None:
    truth = {f"window {number}": reflectance_to_lab(spectrum) for number, spectrum in PANELS.items()}
    assert {one.name for one in reading.regions} == set(truth)
    off = np.array([float(de00(truth[one.name], one.lab)) for one in reading.regions])
    share = off / [one.u95 for one in reading.regions]
    assert (share <= 1).sum() >= 7
    assert share.max() < 1.5
    assert np.median(off) < 1.0


@pytest.mark.parametrize("pose", [LYING, TILTED, Pose(0.5, 172, 10, 0)])
def test_every_window_is_read_however_the_sheet_lies_before_the_camera(tmp_path: Path, pose: Pose) -> None:
    reading = read_photograph(opened(drawn_sheet(8, PANELS), tmp_path, pose))
    assert reading.card is not None
    assert reading.card.layout.numbered == 8
    right(reading)


def test_without_a_chart_the_print_that_is_registered_for_the_card_serves(tmp_path: Path) -> None:
    picture = opened(drawn_sheet(8, PANELS, chart=False), tmp_path)
    assert "lay one in the sheet's chart window" in read_photograph(picture, home=tmp_path).why_not
    printed = check_card(read_readings(ROOT / "swatches/cardprint.csv"), "")[0]
    register_card(tmp_path, "a print", printed, "2024-05-02T10:15:00Z")
    reading = read_photograph(picture, home=tmp_path)
    assert reading.printed
    assert len(reading.regions) == 8
    assert set(bundled_print()) == set(printed)


@pytest.fixture(scope="module")
def spoilt(tmp_path_factory: pytest.TempPathFactory) -> PhotoReading:
    """A sheet of twelve windows with all that can be wrong in them."""
    filled = (1, 4, 5, 8, 9, 10)
    drawn = drawn_sheet(12, {number: THIN if number == 4 else GREY for number in filled})
    boxes = sheet_layout(12).windows
    three, six, seven, nine, ten = (boxes[f"window {number}"] for number in (3, 6, 7, 9, 10))
    fill(drawn, Box(three.x_mm, three.y_mm, three.width_mm, 0.7 * three.height_mm), GREY)
    fill(drawn, Box(six.x_mm, six.y_mm, 0.65 * six.width_mm, six.height_mm), GREY)
    fill(drawn, Box(seven.x_mm, seven.y_mm, seven.width_mm, 0.3 * seven.height_mm), GREY)
    fill(drawn, Box(nine.x_mm, nine.y_mm, 0.25 * nine.width_mm, nine.height_mm), PANELS[1])
    fill(drawn, Box(ten.x_mm, ten.y_mm, 0.48 * ten.width_mm, ten.height_mm), PANELS[2])
    y, x = np.mgrid[0 : drawn.shape[0], 0 : drawn.shape[1]] / PX
    five, eight = (boxes[f"window {number}"] for number in (5, 8))
    for box, size in ((five, 4.0), (eight, 14.0)):
        off = (x - box.x_mm - 0.35 * box.width_mm) ** 2 + (y - box.y_mm - 0.4 * box.height_mm) ** 2
        drawn += (0.4 * np.exp(-off / (2 * size**2)) * (off < 9 * 5**2))[..., None].astype(np.float32)
    fill(drawn, boxes["window 11"], np.full(31, 0.88))  # a white as light as the paper, and a black as the print
    fill(drawn, boxes["window 12"], bundled_print()["black"])
    return read_photograph(opened(drawn, tmp_path_factory.mktemp("spoilt"), TILTED))


@pytest.mark.parametrize(
    ("window", "told", "read"),
    [
        (1, "", True),
        (2, "window 2 is empty", False),
        (3, "window 3: 25 % of it is bare; what is filled is read", True),
        (4, "window 4: the stripes show through (15 % darker over black)", False),
        (5, "a glare is left out", True),
        (6, "window 6: 38 % of it is bare; what is filled is read", True),
        (7, "window 7: only 25 % of it is filled, and it is not read", False),
        (8, "of other colours or under a glare, and it is not read", False),
        (9, "window 9: 25 % of it: what is of other colours is left out", True),
        (10, "of other colours or under a glare, and it is not read", False),
        (11, "", True),
        (12, "", True),
    ],
)
def test_what_is_wrong_in_a_window_is_told_by_its_number(
    spoilt: PhotoReading, window: int, told: str, read: bool
) -> None:
    name = f"window {window}"
    notes = [note for note in spoilt.warnings if note.startswith((f"{name}:", f"{name} is"))]
    assert len(notes) == bool(told)
    assert all(told in note for note in notes), notes
    assert (name in [one.name for one in spoilt.regions]) == read
    if read and window < 10:
        found = next(one for one in spoilt.regions if one.name == name)
        assert de00(reflectance_to_lab(GREY), found.lab) <= found.u95


def test_either_mark_tells_how_many_windows_there_are_and_without_both_that_is_said(tmp_path: Path) -> None:
    drawn = drawn_sheet(3, dict.fromkeys((1, 2, 3), GREY))
    for covered, box in enumerate(sheet_layout(3).counts, start=1):
        fill(drawn, box, np.full(31, 0.5))
        picture = opened(drawn, tmp_path)
        pose = locate_card(picture.small(1.0))
        assert pose is not None
        assert pose.layout.numbered == (3 if covered == 1 else 0)
    assert "marks that say how many windows" in read_photograph(picture).why_not


def test_the_sheet_holds_no_standard_and_spray_out(tmp_path: Path) -> None:
    reading = read_photograph(opened(drawn_sheet(2, {1: GREY, 2: PANELS[3]}), tmp_path))
    with pytest.raises(InputError, match="shows the sheet of panels, and no standard and spray-out"):
        side_by_side(reading)


@pytest.mark.parametrize("numbered", range(MOST_WINDOWS + 1))
def test_the_layout_leaves_the_marks_free_and_overlaps_nothing(numbered: int) -> None:
    layout = sheet_layout(numbered)
    rim = 2.0
    marks = [
        Box(b.x_mm - rim, b.y_mm - rim, b.width_mm + 2 * rim, b.height_mm + 2 * rim)
        for b in (*layout.marks.values(), *layout.counts)
    ]
    printed = [one.box for one in (*layout.border, *layout.patches)]
    boxes = [*marks, *printed, *layout.windows.values(), *layout.fields.values(), layout.ruler]
    for one, other in combinations(boxes, 2):
        apart = (other.corners_mm()[0] >= one.corners_mm()[2] - 1e-6) | (
            other.corners_mm()[2] <= one.corners_mm()[0] + 1e-6
        )
        assert apart.any(), (one, other)
    for box in boxes:
        assert (box.corners_mm()[0] >= 0).all()
        assert (box.corners_mm()[2] <= [layout.width_mm, layout.height_mm]).all()
    assert len(layout.numbered_windows) == numbered
    sizes = {(round(box.width_mm, 6), round(box.height_mm, 6)) for n, box in layout.windows.items() if n != "chart"}
    assert len(sizes) == bool(numbered)
    assert all(min(size) >= 25 for size in sizes)


def test_sheet_and_card_share_their_inks_and_no_mark() -> None:
    inks = {patch.name: patch.srgb for patch in card_layout().patches}
    assert {patch.name: patch.srgb for patch in sheet_layout(4).patches} == inks
    assert not set(card_layout().marks) & set(sheet_layout(4).marks)
