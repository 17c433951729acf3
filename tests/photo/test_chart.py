"""The chart is found wherever it lies, and nothing else is taken for one."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
import skimage.data
from PIL import Image

from booth.photo_booth import CHART_MM, FRAME_MM, PITCH_MM, Photograph
from finishmatch.errors import InputError
from finishmatch.photo.find.chart import ChartPose, outline
from finishmatch.photo.find.find_chart import find_chart
from finishmatch.photo.open.icc_profile import assumed_encoding
from finishmatch.photo.open.picture import Picture
from tests.helpers.photo_frames import frame

BORDER = FRAME_MM / PITCH_MM - 0.5 + 18 / PITCH_MM  # of the rendered chart, beyond its patches' cells


def picture_of(values: np.ndarray) -> Picture:
    return Picture(np.ascontiguousarray(values), assumed_encoding(), Path("picture"))


def corners(found: ChartPose | None) -> np.ndarray:
    assert found is not None
    return found.to_px(outline(BORDER))


def check(photo: Photograph, within_px: float = 1.5) -> None:
    found = corners(find_chart(picture_of(photo.uint8())))
    assert np.abs(found - photo.chart_corners).max() < within_px


@pytest.mark.parametrize("turn", range(0, 360, 45))
def test_it_is_found_at_every_turn(turn: int) -> None:
    check(frame(turn_deg=turn, scene_mm=(640.0, 480.0), chart_at_mm=(190.0, 150.0), shading=0.3))


@pytest.mark.parametrize("tilt", [25, 45])
def test_it_is_found_in_perspective(tilt: int) -> None:
    check(frame(tilt_deg=tilt), within_px=2.5)


def test_the_upside_down_chart_is_numbered_from_its_brown_patch() -> None:
    turned = picture_of(frame().uint8()[::-1, ::-1])
    size = np.array(turned.size) - 1
    assert np.abs(corners(find_chart(turned)) - (size - frame().chart_corners)).max() < 1.5


def test_a_mirrored_photograph_is_known_as_one() -> None:
    found = find_chart(picture_of(frame().uint8()[:, ::-1]))
    assert found is not None
    assert found.mirrored


def test_a_chart_cut_by_the_edge_is_named() -> None:
    left = int(frame().chart_corners[:, 0].min() + 0.22 * np.ptp(frame().chart_corners[:, 0]))
    with pytest.raises(InputError, match=r"cut by the edge of the frame: (16|20) of its 24"):
        find_chart(picture_of(frame().uint8()[:, left:]))


def test_two_charts_are_named() -> None:
    image = frame().uint8()
    with pytest.raises(InputError, match="two charts"):
        find_chart(picture_of(np.hstack([image, image])))


def test_a_small_chart_is_found() -> None:
    width = CHART_MM[0] / 0.06
    check(frame(width=1200, height=900, scene_mm=(width, 0.75 * width), chart_at_mm=(0.4 * width, 0.3 * width)))


def bundled_pictures() -> list[Path]:
    folder = Path(skimage.data.__file__).parent
    return sorted(path for path in folder.iterdir() if path.suffix in (".png", ".jpg"))


@pytest.mark.parametrize("path", bundled_pictures(), ids=lambda path: path.name)
def test_no_chart_is_found_in_the_sample_pictures_of_scikit_image(path: Path) -> None:
    with Image.open(path) as image:
        small = image.convert("RGB")
    small.thumbnail((700, 700))
    assert find_chart(picture_of(np.asarray(small))) is None


def test_a_chart_of_other_colours_is_no_chart() -> None:
    image = frame().uint8()
    assert find_chart(picture_of(image[..., [2, 1, 0]])) is None
    noise = np.random.default_rng(5).integers(30, 220, (4, 6, 3), dtype=np.uint8)
    tiles = cv2.copyMakeBorder(cv2.resize(noise, (480, 320), interpolation=cv2.INTER_NEAREST), 40, 40, 40, 40, 0)
    for i in range(7):
        cv2.line(tiles, (40 + 80 * i, 40), (40 + 80 * i, 360), (20, 20, 20), 12)
        cv2.line(tiles, (40, 40 + 80 * min(i, 4)), (520, 40 + 80 * min(i, 4)), (20, 20, 20), 12)
    assert find_chart(picture_of(tiles)) is None
