"""A photograph laid straight by the chart or the card in it, small enough for a page, without its file's metadata."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from finishmatch.colour import Floats
from finishmatch.errors import InputError
from finishmatch.photo.card.read_card import find_card
from finishmatch.photo.find.chart import outline, through
from finishmatch.photo.find.find_chart import find_chart
from finishmatch.photo.open.picture import Picture

LONGER_SIDE_PX = 1300
JPEG_QUALITY = 86
_AROUND = 1.4  # of the sides of the chart or card: what is shown around it, where the picture reaches so far
_PAPER = (255, 255, 255)


@dataclass(frozen=True)
class Straight:
    """A picture for a page: JPEG, its size in pixels, and by what it was laid straight: "chart", "card", or ""."""

    jpeg: bytes
    size: tuple[int, int]
    by: str


def straightened(picture: Picture) -> Straight:
    """Return a photograph as seen from straight above what lies in it, or as it was taken where nothing tells that."""
    scale = min(1.0, LONGER_SIDE_PX / max(picture.size))
    corners, homography, by = _plane(picture)
    small = picture.small(scale)
    if homography is None or corners is None:
        return _as_jpeg(small, by)
    size, turn = _view(picture, homography, corners)
    if size is None:
        return _as_jpeg(small, "")
    shrunk = np.diag([small.shape[1] / picture.size[0], small.shape[0] / picture.size[1], 1.0])
    laid = cv2.warpPerspective(
        small, turn @ np.linalg.inv(shrunk), size, flags=cv2.INTER_AREA, borderMode=cv2.BORDER_CONSTANT,
        borderValue=_PAPER,
    )  # fmt: skip
    return _as_jpeg(np.asarray(laid, np.uint8), by)


def _plane(picture: Picture) -> tuple[Floats | None, Floats | None, str]:
    """Return the corners of what lies flat in a picture, the map from its own lengths to pixels, and what it is."""
    try:
        chart = find_chart(picture)
        if chart is not None and not chart.mirrored:
            return outline(), chart.homography, "chart"
        card = find_card(picture)
    except InputError:  # two of them: neither says which way is straight
        return None, None, ""
    if card is None:
        return None, None, ""
    wide, high = card.layout.width_mm, card.layout.height_mm
    return np.array([[0.0, 0], [wide, 0], [wide, high], [0, high]]), card.homography, "card"


def _view(picture: Picture, homography: Floats, corners: Floats) -> tuple[tuple[int, int] | None, Floats]:
    """Return the size of the straight picture, and the map from the pixels of the photograph to its own."""
    back = np.linalg.inv(homography)
    wide, high = picture.size
    frame = np.array([[0.0, 0], [wide, 0], [wide, high], [0, high]])
    reach = np.ptp(corners, axis=0)
    low, top = corners.min(axis=0) - _AROUND * reach, corners.max(axis=0) + _AROUND * reach
    depth = frame @ back[2, :2] + back[2, 2]
    if (np.sign(depth) == np.sign(depth[0])).all():  # else the horizon of the plane runs through the picture
        seen = through(np.asarray(back), frame)
        low, top = np.maximum(low, seen.min(axis=0)), np.minimum(top, seen.max(axis=0))
    extent = top - low
    if not (np.isfinite(extent).all() and (extent > 0).all()):
        return None, np.asarray(back)
    per_unit = LONGER_SIDE_PX / float(extent.max())
    size = (max(1, round(extent[0] * per_unit)), max(1, round(extent[1] * per_unit)))
    move = np.array([[per_unit, 0, -low[0] * per_unit], [0, per_unit, -low[1] * per_unit], [0, 0, 1.0]])
    return size, np.asarray(move @ back)


def _as_jpeg(image: NDArray[np.uint8], by: str) -> Straight:
    done, coded = cv2.imencode(".jpg", image[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY])
    assert done
    return Straight(coded.tobytes(), (image.shape[1], image.shape[0]), by)
