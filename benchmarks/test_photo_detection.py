"""The chart is found in rendered frames: 5 to 80 % of the frame's width, any turn, up to 45° of tilt.

`python -m benchmarks.test_photo_detection` looks at all of them.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import cv2
import numpy as np

from booth.photo_booth import CAMERAS, CHART_MM, FRAME_MM, LIGHTS, PITCH_MM, camera_rgb, chart_spectra, through
from finishmatch.photo.find.chart import outline
from finishmatch.photo.find.find_chart import find_chart
from finishmatch.photo.open.icc_profile import assumed_encoding
from finishmatch.photo.open.picture import Picture

FRAMES = 200
LOOKED_AT = 60  # of them by every check; all of them by `python -m`
WIDTH, HEIGHT = 1400, 1050
PX_PER_MM = 3  # of the drawn chart


@cache
def drawn_chart(camera: str, light: str) -> np.ndarray:
    """The chart drawn flat, linear, shape (h, w, 3)."""
    size = [round(PX_PER_MM * side) for side in CHART_MM]
    image = np.full((size[1], size[0], 3), 0.035, np.float32)
    for number, value in enumerate(camera_rgb(chart_spectra(), camera, light)):
        row, column = divmod(number, 6)
        x, y = (round(PX_PER_MM * (FRAME_MM + step * PITCH_MM)) for step in (column, row))
        side = round(PX_PER_MM * 36)
        image[y : y + side, x : x + side] = value
    return image


def placed(r: np.random.Generator, share: float) -> np.ndarray:
    """A homography from the chart's mm to pixels: turned any way, tilted up to 45°, all of it in the frame."""
    for _ in range(200):
        turn, tilt, lean = r.uniform(0, 2 * np.pi), np.radians(r.uniform(0, 45)), r.uniform(0, 2 * np.pi)
        scale = share * WIDTH / CHART_MM[0]
        middle = np.array([[1, 0, -CHART_MM[0] / 2], [0, 1, -CHART_MM[1] / 2], [0, 0, 1]])

        def turned(angle: float) -> np.ndarray:
            return np.array([[np.cos(angle), -np.sin(angle), 0], [np.sin(angle), np.cos(angle), 0], [0, 0, 1]])

        distance = 2.5 * CHART_MM[0] / min(1.0, 2 * share)
        away = np.array([[1, 0, 0], [0, np.cos(tilt), 0], [0, np.sin(tilt) / distance, 1]])
        there = np.array([[scale, 0, r.uniform(0, WIDTH)], [0, scale, r.uniform(0, HEIGHT)], [0, 0, 1]])
        matrix = there @ turned(lean) @ away @ turned(turn - lean) @ middle
        corners = through(matrix, np.array([[0, 0], [CHART_MM[0], 0], CHART_MM, [0, CHART_MM[1]]], float))
        if (corners > 3).all() and (corners < [WIDTH - 4, HEIGHT - 4]).all():
            return matrix
    return placed(r, 0.9 * share)


def frame(r: np.random.Generator, share: float) -> tuple[np.ndarray, np.ndarray]:
    """A photograph of the chart on a cluttered bench, 8 bits, and the homography from the chart's mm."""
    chart = drawn_chart(str(r.choice(list(CAMERAS))), str(r.choice(list(LIGHTS))))
    matrix = placed(r, share)
    bench = cv2.resize(
        r.uniform(0.1, 0.6, (9, 12, 3)).astype(np.float32), (WIDTH, HEIGHT), interpolation=cv2.INTER_CUBIC
    )
    for _ in range(25):  # other things lie about, some of them four-sided
        corners = cv2.boxPoints(((r.uniform(0, WIDTH), r.uniform(0, HEIGHT)), r.uniform(20, 160, 2), r.uniform(0, 90)))
        cv2.fillConvexPoly(bench, np.rint(corners).astype(np.int32), r.uniform(0.02, 0.8, 3).tolist())
    # drawn at about twice the frame's scale, so that edges are neither jagged nor washed out
    per_mm = min(PX_PER_MM, max(1.0, 2 * share * WIDTH / CHART_MM[0]))
    small = cv2.resize(chart, None, fx=per_mm / PX_PER_MM, fy=per_mm / PX_PER_MM, interpolation=cv2.INTER_AREA)
    ratio = np.array([small.shape[1] / CHART_MM[0], small.shape[0] / CHART_MM[1]])
    warp = matrix @ np.diag([1 / ratio[0], 1 / ratio[1], 1])
    onto = cv2.warpPerspective(small, warp, (WIDTH, HEIGHT), flags=cv2.INTER_LINEAR)
    mask = cv2.warpPerspective(np.ones(small.shape[:2], np.float32), warp, (WIDTH, HEIGHT), flags=cv2.INTER_LINEAR)
    # what is large is worked out in place
    bench *= cv2.merge([1 - mask] * 3)
    onto += bench
    ramp = np.linspace(1, 1 - r.uniform(0, 0.4), WIDTH, dtype=np.float32)
    onto.reshape(HEIGHT, -1)[:] *= np.repeat(ramp * np.float32(r.uniform(0.5, 1.0)), 3)
    onto += np.float32(r.uniform(0, 0.02))
    noise = np.empty_like(onto)
    cv2.randn(noise, 0, r.uniform(0.002, 0.012))
    onto += noise
    encoded = cv2.pow(np.clip(onto, 0, 1, out=onto), 1 / 2.2)
    image = cv2.GaussianBlur(cv2.convertScaleAbs(encoded, alpha=255), (0, 0), 0.6)
    jpeg = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, 90])[1]
    return cv2.imdecode(jpeg, cv2.IMREAD_COLOR), matrix


def test_no_chart_is_missed_and_its_corners_are_where_they_are() -> None:
    missed, off = looked_at(LOOKED_AT)
    assert missed == []
    assert max(off) < 0.2


def looked_at(frames: int) -> tuple[list[tuple[int, float]], list[float]]:
    """Return which charts are missed, and how far off the corners of the others are, in pitches of their patches."""
    missed, off = [], []
    cv2.setRNGSeed(7)
    for number in range(frames):
        r = np.random.default_rng(number)
        share = float(np.exp(r.uniform(np.log(0.05), np.log(0.8))))
        image, matrix = frame(r, share)
        found = find_chart(Picture(image, assumed_encoding(), Path("frame")))
        if found is None:
            missed.append((number, share))
            continue
        # from mm to pitches: the middle of patch 1 is the origin
        to_mm = np.array([[PITCH_MM, 0, FRAME_MM + 18], [0, PITCH_MM, FRAME_MM + 18], [0, 0, 1]])
        truth = through(matrix @ to_mm, outline(0.0))
        pitch = np.sqrt(cv2.contourArea(truth.astype(np.float32)) / 24)
        off.append(float(np.abs(found.to_px(outline(0.0)) - truth).max() / pitch))
    print(f"\nmissed {missed}; corners off by {np.median(off):.3f} pitches (median), worst {max(off):.3f}")
    return missed, off


if __name__ == "__main__":
    looked_at(FRAMES)
