"""A picture that shows where the chart and the samples were found."""

from __future__ import annotations

import cv2
import numpy as np

from finishmatch.colour import Floats
from finishmatch.photo.find.chart import outline, patch_corners
from finishmatch.photo.find.regions import LEAST_SIDE_PX
from finishmatch.photo.read import PhotoReading
from finishmatch.photo.reference import INNER_SHARE

LONGER_SIDE_PX = 1600
SUFFIXES = (".png", ".jpg", ".jpeg")
_CHART, _LEFT_OUT, _SAMPLE, _UNDER = (80, 200, 80), (60, 60, 230), (255, 180, 60), (20, 20, 20)  # blue, green, red


def drawn_overlay(reading: PhotoReading, suffix: str) -> bytes:
    """Return the photograph with the chart's patches (those left out in red) and the samples drawn in.

    Parameters
    ----------
    reading : PhotoReading
    suffix : str
        One of `SUFFIXES`: the format of the picture.
    """
    picture = reading.picture
    scale = min(1.0, LONGER_SIDE_PX / max(picture.size))
    image = np.ascontiguousarray(picture.small(scale)[..., ::-1])
    thick = max(1, round(max(image.shape) / 700))

    def draw(quad: np.ndarray, colour: tuple[int, int, int]) -> None:
        points = np.rint(((quad + 0.5) * scale - 0.5) * 16).astype(np.int32)
        cv2.polylines(image, [points], True, _UNDER, thick + 2, cv2.LINE_AA, 4)
        cv2.polylines(image, [points], True, colour, thick, cv2.LINE_AA, 4)

    def write(text: str, at: np.ndarray, colour: tuple[int, int, int], size: float) -> None:
        (wide, high), _ = cv2.getTextSize(text, cv2.FONT_HERSHEY_SIMPLEX, size, thick)
        at_px = np.rint((at + 0.5) * scale - 0.5)
        place = (  # within the picture
            int(np.clip(at_px[0], 2, max(2, image.shape[1] - wide - 2))),
            int(np.clip(at_px[1], high + 2, image.shape[0] - 2)),
        )
        # a heavier letter is wider too, so the dark rim is the same letters a little aside
        for across, down in (*((x, y) for x in (-1, 0, 1) for y in (-1, 0, 1) if x or y), (0, 0)):
            ink, aside = (_UNDER if across or down else colour), (place[0] + across * thick, place[1] + down * thick)
            cv2.putText(image, text, aside, cv2.FONT_HERSHEY_SIMPLEX, size, ink, thick, cv2.LINE_AA)

    if reading.chart is not None:
        draw(reading.chart.to_px(outline()), _CHART)
        size = float(np.clip(reading.chart.patch_px * scale / 60, 0.3, 1.2))
        for number, quad in enumerate(reading.chart.to_px(patch_corners(INNER_SHARE)), start=1):
            colour = _CHART if number in reading.patches or not reading.patches else _LEFT_OUT
            draw(quad, colour)
            write(str(number), quad[3], colour, size)
    elif reading.reference is not None:
        for number, quad in enumerate(reading.reference.quads, start=1):
            draw(quad, _CHART if number in reading.patches else _LEFT_OUT)
    marks = [(region.name, region.quad, f"+-{region.u95:.1f}", _SAMPLE) for region in reading.regions]
    marks += [(region.name, region.quad, "lost", _LEFT_OUT) for region in reading.lost]
    for name, quad, what, colour in marks:
        draw(quad, colour)
        # the picture font holds plain letters alone
        plain = name.encode("ascii", "replace").decode()
        write(f"{plain} {what}", quad.min(axis=0) - np.array([0, 6 / scale]), colour, 0.6)
    return cv2.imencode(suffix, image)[1].tobytes()


def upright_within(quad: Floats) -> tuple[int, int, int, int]:
    """Return an upright oblong that lies within four corners: its first pixel and its size, as it is typed.

    Parameters
    ----------
    quad : ndarray, shape (4, 2)
        Pixels, in order around. It may stand askew, and begin at any corner.
    """
    middle = quad.mean(axis=0)
    after = np.roll(quad, -1, axis=0) - quad
    normal = np.stack([-after[:, 1], after[:, 0]], axis=1)
    depth = ((middle - quad) * normal).sum(axis=1)  # of the middle inside each side, times its length
    # an oblong of half sizes (w, h) stays inside a side as long as |normal|·(w, h) is no more than that
    half = 0.5 * np.ptp(quad, axis=0)
    reach = (np.abs(normal) * half).sum(axis=1)
    share = float(np.clip((np.abs(depth) / np.maximum(reach, 1e-9)).min(), 0.0, 1.0))
    low = np.ceil(middle - share * half).astype(int)
    high = np.floor(middle + share * half).astype(int)
    wide, tall = np.maximum(high - low + 1, LEAST_SIDE_PX)
    return int(low[0]), int(low[1]), int(wide), int(tall)
