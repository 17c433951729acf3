"""The shop's card is found in a photograph, and where everything lies on it."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays
from skimage import data

from booth.card_frames import camera, flat_card, photograph
from finishmatch.errors import InputError
from finishmatch.photo.card.find_card import LEAST_MARKS, locate_card
from finishmatch.photo.card.layout import Box, card_layout

LAYOUT = card_layout()
CARD = flat_card({"standard": (70, 100, 140), "chart": (90, 90, 90)})
SIZE = (1600, 1200)
WHOLE = Box(0, 0, LAYOUT.width_mm, LAYOUT.height_mm).corners_mm()


def _off_mm(pose, seen):
    """How far the card's corners are put from where the camera saw them, in mm on the card, at most."""
    ahead = np.column_stack([WHOLE, np.ones(4)]) @ seen.T
    return np.abs(pose.to_mm(ahead[:, :2] / ahead[:, 2:]) - WHOLE).max()


@pytest.mark.parametrize("share", [0.17, 0.2, 0.45])
@pytest.mark.parametrize("turn", [0, 33, 90, 180, 271])
@pytest.mark.parametrize("tilt", [0, 25, 45])
def test_the_card_is_found_turned_tilted_and_small(share, turn, tilt):
    seen = camera(SIZE, share, turn, tilt, about=turn / 2 + 20)
    pose = locate_card(photograph(CARD, seen, SIZE, seed=turn + tilt))
    assert pose is not None
    # a tenth of the smallest field, far within the margins the windows are drawn in by
    assert _off_mm(pose, seen) < 0.8


@pytest.mark.slow
@pytest.mark.parametrize("turn", [0, 40, 200])
def test_a_card_of_a_sixteenth_of_a_large_frame_is_found(turn):
    seen = camera((4000, 3000), 0.0625, turn, 30, 15, (0.2, -0.1))
    pose = locate_card(photograph(CARD, seen, (4000, 3000)))
    assert pose is not None
    assert _off_mm(pose, seen) < 1.0


def test_a_large_picture_is_as_exact_as_its_pixels_allow():
    size = (4000, 3000)
    seen = camera(size, 0.4, 12, 30, 50)
    pose = locate_card(photograph(CARD, seen, size))
    assert pose is not None
    assert len(pose.marks) == len(LAYOUT.marks)
    assert _off_mm(pose, seen) < 0.1
    assert pose.residual_mm < 0.1


@pytest.mark.parametrize("covered", [(10,), (10, 13), (11, 12, 14), (12, 13, 15)])
def test_three_marks_suffice(covered):
    card = CARD.copy()
    for number in covered:
        box = LAYOUT.marks[number]
        x, y, side = int(box.x_mm * 10), int(box.y_mm * 10), int(box.width_mm * 10)
        card[y : y + side, x : x + side] = 120
    seen = camera(SIZE, 0.4, 20, 20, 70)
    pose = locate_card(photograph(card, seen, SIZE))
    assert pose is not None
    assert set(pose.marks) == set(LAYOUT.marks) - set(covered)
    assert _off_mm(pose, seen) < 1.0


def test_three_marks_along_one_edge_that_leave_the_rest_open_do_not():
    card = CARD.copy()
    card[:, : 30 * 10] = 120
    far = photograph(card, camera(SIZE, 0.14, 0, 45, 20), SIZE)
    near = photograph(card, camera((3200, 2400), 0.5, 0, 20, 20), (3200, 2400))
    assert locate_card(far) is None
    pose = locate_card(near)
    assert pose is not None
    assert _off_mm(pose, camera((3200, 2400), 0.5, 0, 20, 20)) < 3 * pose.doubt_mm


def test_two_marks_do_not():
    card = CARD.copy()
    card[: 120 * 10] = 120
    assert locate_card(photograph(card, camera(SIZE, 0.4, 20, 20, 70), SIZE)) is None


def test_a_mark_that_strayed_is_left_out():
    card = CARD.copy()
    one, other = (LAYOUT.marks[number] for number in (11, 15))
    for box, source in ((one, other),):
        x, y, sx, sy = (int(10 * v) for v in (box.x_mm, box.y_mm, source.x_mm, source.y_mm))
        card[y : y + 100, x : x + 100] = CARD[sy : sy + 100, sx : sx + 100]
    card[int(other.y_mm * 10) : int(other.y_mm * 10) + 100, int(other.x_mm * 10) : int(other.x_mm * 10) + 100] = 255
    seen = camera(SIZE, 0.4, 0, 15)
    pose = locate_card(photograph(card, seen, SIZE))
    assert pose is not None
    assert set(pose.marks) == {10, 12, 13, 14}
    assert _off_mm(pose, seen) < 1.0


def test_a_grey_picture_serves_as_well():
    seen = camera(SIZE, 0.3, 10, 10)
    grey = cv2.cvtColor(photograph(CARD, seen, SIZE), cv2.COLOR_RGB2GRAY)
    pose = locate_card(grey)
    assert pose is not None
    assert _off_mm(pose, seen) < 0.5


def test_the_fields_named_are_those_in_the_picture():
    seen = camera(SIZE, 0.45, 190, 20, 30)
    picture = cv2.warpPerspective(
        CARD, seen @ np.array([[0.1, 0, 0.05], [0, 0.1, 0.05], [0, 0, 1]]), SIZE, flags=cv2.INTER_AREA
    )
    pose = locate_card(picture)
    assert pose is not None
    printed = {patch.name: patch.srgb for patch in LAYOUT.patches}
    for name, quad in (*pose.patches, *pose.border, *pose.stripes["spray-out"]):
        x, y = quad.mean(axis=0).round().astype(int)
        assert np.abs(picture[y, x].astype(int) - printed[name]).max() < 12, name
    for name, colour in (("standard", (70, 100, 140)), ("chart", (90, 90, 90))):
        inside = cv2.fillConvexPoly(np.zeros(SIZE[::-1], np.uint8), pose.windows[name].astype(int), 255) > 0
        assert np.abs(picture[inside].astype(int) - colour).max() < 12


def test_px_per_mm_is_the_scale_in_the_middle():
    seen = camera(SIZE, 0.4, 30, 0)
    pose = locate_card(photograph(CARD, seen, SIZE))
    assert pose is not None
    assert pose.px_per_mm == pytest.approx(0.4 * SIZE[0] / LAYOUT.width_mm, rel=0.01)


def test_two_cards_are_refused():
    left = photograph(CARD, camera(SIZE, 0.3, 5, 10, shift=(-0.25, 0)), SIZE)
    right = photograph(CARD, camera(SIZE, 0.3, 170, 15, shift=(0.25, 0)), SIZE)
    left[:, SIZE[0] // 2 :] = right[:, SIZE[0] // 2 :]
    with pytest.raises(InputError, match="two cards"):
        locate_card(left)


def test_a_card_seen_in_a_mirror_is_none():
    picture = photograph(CARD, camera(SIZE, 0.4, 10, 20), SIZE)
    assert locate_card(np.ascontiguousarray(picture[:, ::-1])) is None


def test_no_card_is_seen_where_there_is_none():
    for picture in (data.astronaut(), data.coffee(), data.chelsea(), data.rocket(), data.page(), data.coins()):
        assert locate_card(np.ascontiguousarray(picture)) is None


@settings(max_examples=40, deadline=None, derandomize=True)
@given(
    arrays.arrays(
        np.uint8, st.tuples(st.integers(1, 70), st.integers(1, 70)) | st.tuples(*[st.integers(1, 40)] * 2, st.just(3))
    )
)
def test_any_small_picture_is_answered(picture):
    assert locate_card(picture) is None


def test_the_layout_leaves_the_marks_free_and_overlaps_nothing():
    assert len(LAYOUT.marks) >= LEAST_MARKS + 2
    rim = LAYOUT.marks[10].width_mm / 6
    marks = [
        Box(b.x_mm - rim, b.y_mm - rim, b.width_mm + 2 * rim, b.height_mm + 2 * rim) for b in LAYOUT.marks.values()
    ]
    boxes = [
        *marks,
        *(p.box for p in (*LAYOUT.border, *LAYOUT.patches)),
        *LAYOUT.windows.values(),
        *LAYOUT.fields.values(),
    ]
    boxes.append(LAYOUT.ruler)
    for i, one in enumerate(boxes):
        left_top, right_bottom = one.corners_mm()[0], one.corners_mm()[2]
        assert (left_top >= 0).all()
        assert (right_bottom <= [LAYOUT.width_mm, LAYOUT.height_mm]).all()
        for other in boxes[i + 1 :]:
            apart = (other.corners_mm()[0] >= right_bottom - 1e-6) | (other.corners_mm()[2] <= left_top + 1e-6)
            assert apart.any(), (one, other)


def test_every_field_of_the_scale_is_printed_in_a_colour_of_its_own():
    assert len({patch.name for patch in LAYOUT.patches}) == len({patch.srgb for patch in LAYOUT.patches}) == 20
    assert {"white", "grey", "black"} <= {patch.name for patch in LAYOUT.patches}
