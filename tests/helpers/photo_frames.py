"""Photographs for the tests, rendered by the virtual photograph of the benchmarks."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np

from booth.card_scenes import PX, Lamp, Pose, bundled_print, card_jpeg, card_photograph, drawn_card
from booth.phone_look import PhoneLook
from booth.photo_booth import Photograph, Sample, Shot, camera_rgb, photograph
from finishmatch.colour import WAVELENGTHS_NM
from finishmatch.photo.card.layout import Box, card_layout, sheet_layout
from finishmatch.readings.any_file import read_readings
from tests.conftest import ROOT

LYING = Pose(0.66, 5, 15, 40)  # a sheet before the camera
SMALL = {"width": 640, "height": 480, "scene_mm": (520.0, 390.0), "chart_at_mm": (130.0, 140.0)}


def paint(level: float, centre_nm: float, width_nm: float, depth: float) -> np.ndarray:
    """An invented paint: an even level with one smooth bump, shape (31,)."""
    bump = np.exp(-(((WAVELENGTHS_NM - centre_nm) / width_nm) ** 2))
    return np.clip(level + depth * bump, 0.01, 0.95)


PAINTS = {
    "blue": paint(0.08, 460, 60, 0.25),
    "blue again": paint(0.085, 462, 60, 0.25),
    "green": paint(0.1, 540, 50, 0.2),
    "cream": paint(0.75, 430, 60, -0.3),
}


def vivid_letdown(path: Path) -> Path:
    """A panel and a letdown narrower than any paint on the card, by a phone that makes colours livelier, as a file."""
    green = 0.003 + 0.8 * np.exp(-(((WAVELENGTHS_NM - 522) / 16) ** 2))
    both = {"standard": green, "spray-out": 0.9 * green}
    drawn = drawn_card(bundled_print(), both, "one", "D65", chart=True, layout=card_layout())
    shot = Shot(width=900, height=1150, noise=0.006, exposure=0.78, encoding="Display P3", look=PhoneLook(1.3))
    path.write_bytes(card_jpeg(card_photograph(drawn, Pose(0.63, 2, 5, 10), Lamp(0.6, 1.5, 30), shot), "Display P3"))
    return path


def samples() -> list[Sample]:
    """The four paints in a row above the chart."""
    return [
        Sample(name, spectrum, x_mm=24 + 122 * i, y_mm=30, w_mm=96, h_mm=72)
        for i, (name, spectrum) in enumerate(PAINTS.items())
    ]


@cache
def frame(**changes: object) -> Photograph:
    """A small photograph of the four paints; changes are those of `Shot`."""
    return photograph(samples(), Shot(**{**SMALL, **changes}))  # type: ignore[arg-type]


def standard_and_card(path: Path, seed: int = 0, light: str = "D65") -> Path:
    """A photograph of the bundled scenario's target and, to the right of it, its first card, written to a file."""
    one, two = (next(iter(read_readings(ROOT / "swatches" / name).values())) for name in ("target.csv", "card1.csv"))
    placed = [
        Sample(name, reading.reflectance, x_mm=x_mm, y_mm=26, w_mm=190, h_mm=90)
        for name, reading, x_mm in (("standard", one, 60), ("card", two, 262))
        if reading.reflectance is not None
    ]
    return write_jpeg(photograph(placed, Shot(**SMALL, seed=seed, light=light)), path)  # type: ignore[arg-type]


def drawn_sheet(numbered: int, panels: dict[int, np.ndarray], chart: bool = True, light: str = "D65") -> np.ndarray:
    """The sheet of numbered windows drawn flat, panels of these spectra in its windows, a chart in its place."""
    paints = {f"window {number}": spectrum for number, spectrum in panels.items()}
    return drawn_card(bundled_print(), paints, "one", light, chart, layout=sheet_layout(numbered))


def fill(drawn: np.ndarray, box: Box, spectrum: np.ndarray) -> None:
    """Paint a box of a drawn sheet."""
    left, top = round(box.x_mm * PX), round(box.y_mm * PX)
    right, bottom = round((box.x_mm + box.width_mm) * PX), round((box.y_mm + box.height_mm) * PX)
    drawn[top:bottom, left:right] = camera_rgb(spectrum, "one", "D65")


def sheet_photo(drawn: np.ndarray, path: Path, pose: Pose = LYING, seed: int = 3) -> Path:
    """A photograph of a drawn sheet, tilted, a lamp to one side, written to a file."""
    shot = Shot(width=900, height=1000, noise=0.008, exposure=0.75, seed=seed)
    path.write_bytes(card_jpeg(card_photograph(drawn, pose, Lamp(0.5, 1.4, 30), shot)))
    return path


def write_jpeg(photo: Photograph, path: Path, quality: int = 92) -> Path:
    """Write it to a file."""
    path.write_bytes(photo.jpeg(quality))
    return path
