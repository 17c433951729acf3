"""Photographs of the shop's card with known spectra: a print, paints in its windows, a lamp close to one side.

Nothing here but where things lie on the card comes from the program it judges.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from booth.card_frames import camera
from booth.photo_booth import Shot, camera_rgb, chart_spectra, developed, encode, of_all, profile_bytes
from finishmatch.photo.card.layout import Box, CardLayout, card_layout, count_mark
from finishmatch.readings import read_readings

Floats = NDArray[np.float64]
PRINT = Path(__file__).parents[1] / "swatches/cardprint.csv"
PX = 6  # a mm of the drawing
FINE = 2  # supersampling of the edges


@cache
def bundled_print() -> dict[str, Floats]:
    """Return the spectra of the bundled, invented print by the names of its fields."""
    return {name: one.repeats.mean(axis=0) for name, one in read_readings(PRINT).items()}


@dataclass(frozen=True)
class Lamp:
    """A lamp to one side: how far from the frame's middle, how high, by the frame's width, and in which direction."""

    aside: float
    height: float
    towards_deg: float

    def light(self, size: tuple[int, int]) -> NDArray[np.float32]:
        """Return its light over a frame, shape (h, w), 1 where it is strongest: a small source over a plane."""
        x, y = (np.arange(length, dtype=np.float32) for length in size)
        angle = np.radians(self.towards_deg)
        u = (x - size[0] / 2) / size[0] - self.aside * np.cos(angle)
        v = (y - size[1] / 2) / size[0] - self.aside * np.sin(angle)
        away = np.add.outer(v * v, u * u)
        away += self.height**2
        light = np.sqrt(away)
        light *= away
        np.divide(1, light, out=light)
        light /= light.max()
        return np.asarray(light, np.float32)


@dataclass(frozen=True)
class Pose:
    """How the card lies before the camera: its width by the frame's, and its turn and tilt in degrees."""

    share: float = 0.5
    turn: float = 8.0
    tilt: float = 20.0
    about: float = 30.0


def drawn_card(
    inks: dict[str, Floats],
    paints: dict[str, Floats],
    seen_by: str,
    light: str,
    chart: bool,
    stained: int = 0,
    layout: CardLayout | None = None,
) -> NDArray[np.float32]:
    """Return the card, or a sheet of numbered windows, drawn flat in camera values.

    Parameters
    ----------
    inks : dict of str to ndarray
        Spectra of the print's fields.
    paints : dict of str to ndarray, shape (31,) or (4, 31)
        What lies in the windows: one paint, or four in a row.
    seen_by, light : str
        The camera and the light of `photo_booth`.
    chart : bool
        Whether a chart lies in its window.
    stained : int
        So many of the border's white cells, the first, are smeared with a finger of brown paint.
    layout : CardLayout or None
        None is the card's.
    """
    layout = layout or card_layout()
    card = np.empty((int(layout.height_mm * PX), int(layout.width_mm * PX), 3), np.float32)

    def rgb(spectrum: Floats) -> Floats:
        return camera_rgb(spectrum, seen_by, light)

    def fill(box: Box, value: Floats) -> None:
        left, top = round(box.x_mm * PX), round(box.y_mm * PX)
        card[top : round((box.y_mm + box.height_mm) * PX), left : round((box.x_mm + box.width_mm) * PX)] = value

    card[:] = rgb(inks["white"])
    stripes = [one for each in layout.stripes.values() for one in each]
    for printed in (*stripes, *layout.border, *layout.patches):
        fill(printed.box, rgb(inks[printed.name]))
    smear = np.linspace(0.55, 0.35, len(inks["white"]))[::-1] * inks["white"]
    for cell in [one for one in layout.border if one.name == "white"][:stained]:
        fill(cell.box, rgb(smear))
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    counts = [(count_mark(layout.numbered), box) for box in layout.counts] if layout.numbered else []
    for number, box in (*layout.marks.items(), *counts):
        mark = cv2.aruco.generateImageMarker(dictionary, number, int(box.width_mm * PX))
        fill(box, np.where(mark[..., None] > 0, rgb(inks["white"]), rgb(inks["black"])))
    for window, paint in paints.items():
        parts = quarters(window, len(np.atleast_2d(paint)), layout)
        for box, spectrum in zip(parts, np.atleast_2d(paint), strict=True):
            fill(box, rgb(spectrum))
    if chart:
        window_box = layout.windows["chart"]
        fill(Box(window_box.x_mm + 4, window_box.y_mm + 1.5, 96, 64.5), np.full(3, 0.035))
        for number, value in enumerate(rgb(chart_spectra())):
            row, column = divmod(number, 6)
            fill(Box(window_box.x_mm + 7 + 15.4 * column, window_box.y_mm + 4 + 15.4 * row, 13, 13), value)
    return card


def quarters(window: str, many: int, layout: CardLayout | None = None) -> list[Box]:
    """Return the window of the card, or of a layout, cut upright into so many parts."""
    box = (layout or card_layout()).windows[window]
    width = box.width_mm / many
    return [Box(box.x_mm + i * width, box.y_mm, width, box.height_mm) for i in range(many)]


def card_photograph(card: NDArray[np.float32], pose: Pose, lamp: Lamp, shot: Shot) -> Floats:
    """Return the encoded picture, 0 to 1, of a drawn card on a grey bench; of the shot its light is the lamp's."""
    r = np.random.default_rng(shot.seed)
    size = (shot.width * FINE, shot.height * FINE)
    card_mm = (card.shape[1] / PX, card.shape[0] / PX)
    seen = camera(size, pose.share, pose.turn, pose.tilt, about=pose.about, card_mm=card_mm)
    drawn = np.array([[1 / PX, 0, 0.5 / PX], [0, 1 / PX, 0.5 / PX], [0, 0, 1]])
    scene = np.full((size[1], size[0], 3), 0.3, np.float32)
    cv2.warpPerspective(card, seen @ drawn, size, dst=scene, borderMode=cv2.BORDER_TRANSPARENT)
    scene = np.asarray(cv2.resize(scene, (shot.width, shot.height), interpolation=cv2.INTER_AREA))
    scene *= of_all(lamp.light((shot.width, shot.height)))
    peel = r.normal(1, shot.texture, scene.shape[:2]).astype(np.float32)
    scene *= of_all(np.asarray(cv2.GaussianBlur(peel, (0, 0), 0.8)))
    return encode(developed(scene, shot, r), shot.encoding)


def quad_in(pose: Pose, shot: Shot, box: Box, inset_mm: float) -> Floats:
    """Return the corners in pixels of a box of the card, drawn in, shape (4, 2)."""
    seen = camera((shot.width, shot.height), pose.share, pose.turn, pose.tilt, about=pose.about)
    ahead = np.column_stack([box.corners_mm(inset_mm), np.ones(4)]) @ seen.T
    return np.asarray(ahead[:, :2] / ahead[:, 2:])


def card_jpeg(values: Floats, encoding: str = "sRGB", quality: int = 92) -> bytes:
    """Return it as a JPEG file with its profile."""
    out = io.BytesIO()
    eight = np.rint(255 * np.clip(values, 0, 1)).astype(np.uint8)
    Image.fromarray(eight).save(out, "JPEG", quality=quality, icc_profile=profile_bytes(encoding))
    return out.getvalue()
