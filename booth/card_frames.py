"""Pictures of the shop's card for checks: drawn flat from its layout, and seen by a camera at an angle."""

from __future__ import annotations

from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from finishmatch.photo.card.layout import Box, card_layout

Picture = NDArray[np.uint8]
PX_PER_MM = 10


def flat_card(windows: dict[str, tuple[int, int, int]] | None = None) -> Picture:
    """Return the card drawn flat, RGB at 10 px/mm, the windows named filled with a colour."""
    layout = card_layout()
    card = np.full((int(layout.height_mm * PX_PER_MM), int(layout.width_mm * PX_PER_MM), 3), 255, np.uint8)

    def fill(box: Box, value: object) -> None:
        left, top = round(box.x_mm * PX_PER_MM), round(box.y_mm * PX_PER_MM)
        right, bottom = round((box.x_mm + box.width_mm) * PX_PER_MM), round((box.y_mm + box.height_mm) * PX_PER_MM)
        card[top:bottom, left:right] = value

    for printed in (*layout.stripes["spray-out"], *layout.border, *layout.patches):
        fill(printed.box, printed.srgb)
    for name, colour in (windows or {}).items():
        fill(layout.windows[name], colour)
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    for number, box in layout.marks.items():
        mark = cv2.aruco.generateImageMarker(dictionary, number, int(box.width_mm * PX_PER_MM))
        fill(box, mark[:, :, None])
    return card


def camera(
    size: tuple[int, int],
    share: float,
    turn: float,
    tilt: float,
    about: float = 0.0,
    shift: tuple[float, float] = (0, 0),
    card_mm: tuple[float, float] | None = None,
) -> NDArray[np.float64]:
    """Return the homography from mm on the card to pixels of a pinhole camera.

    Parameters
    ----------
    size : (int, int)
        Width and height of the frame, px.
    share : float
        The card's width, seen straight on, per the frame's width.
    turn : float
        In the plane of the picture, degrees.
    tilt, about : float
        Away from the camera, degrees, and the direction of the axis it is tilted about.
    shift : (float, float)
        Of the card's middle from the frame's, per the frame's width.
    card_mm : (float, float) or None
        Width and height of what is seen, mm; None is the card's.
    """
    width_mm, height_mm = card_mm or (card_layout().width_mm, card_layout().height_mm)
    focal = 1.2 * size[0]
    away = focal * width_mm / (share * size[0])
    axis = np.radians(about)
    tilted, _ = cv2.Rodrigues(np.radians(tilt) * np.array([np.cos(axis), np.sin(axis), 0.0]))
    turned, _ = cv2.Rodrigues(np.array([0.0, 0.0, np.radians(turn)]))
    rotation = tilted @ turned
    middle = np.array([shift[0] * size[0] * away / focal, shift[1] * size[0] * away / focal, away])
    inner = np.array([[focal, 0, size[0] / 2 - 0.5], [0, focal, size[1] / 2 - 0.5], [0, 0, 1]])
    centred = np.array([[1, 0, -width_mm / 2], [0, 1, -height_mm / 2], [0, 0, 1]])
    return inner @ np.column_stack([rotation[:, 0], rotation[:, 1], middle]) @ centred


@lru_cache(maxsize=1)
def _bench_and_noise(size: tuple[int, int], seed: int) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Return a cluttered bench, and a camera's noise: the same for all that is seen by one seed in a row."""
    rng = np.random.default_rng(seed)
    coarse = rng.uniform(40, 190, (size[1] // 40 + 2, size[0] // 40 + 2, 3)).astype(np.float32)
    bench = cv2.resize(coarse, size, interpolation=cv2.INTER_CUBIC)
    noise = np.empty_like(bench)
    cv2.setRNGSeed(seed + 1)  # five times as quick as NumPy's
    cv2.randn(noise, 0, 2.0)
    return bench, noise


def photograph(card: Picture, seen: NDArray[np.float64], size: tuple[int, int], seed: int = 0) -> Picture:
    """Return the card seen by a camera on a cluttered bench: shaded, a little soft, noisy."""
    bench, noise = _bench_and_noise(size, seed)
    frame = bench.copy()
    # pixels of the drawing are counted from their middles
    from_drawing = np.array([[1 / PX_PER_MM, 0, 0.5 / PX_PER_MM], [0, 1 / PX_PER_MM, 0.5 / PX_PER_MM], [0, 0, 1]])
    scale = float(np.sqrt(abs(np.linalg.det(seen[:2, :2] / seen[2, 2])))) / PX_PER_MM
    soft = cv2.GaussianBlur(card, (0, 0), max(0.4 / scale, 0.3)) if scale < 1 else card
    warped = cv2.warpPerspective(soft, seen @ from_drawing, size, flags=cv2.INTER_LINEAR)
    mask = cv2.warpPerspective(np.full(card.shape[:2], 255, np.uint8), seen @ from_drawing, size) > 128
    frame[mask] = warped[mask]
    # what is large is worked out in place
    across, down = (np.linspace(*ends, dtype=np.float32) for ends in ((0.85, 0.6375, size[0]), (0.9, 1.0, size[1])))
    frame *= cv2.merge([np.multiply.outer(down, across)] * 3)
    frame = cv2.GaussianBlur(frame, (0, 0), 0.6)
    frame += 6
    frame += noise
    return np.clip(frame, 0, 255, out=frame).astype(np.uint8)
