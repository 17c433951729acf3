"""The virtual photograph: paints and a 24-patch chart under a lamp, through a camera, into a file.

The spectra of the chart and the sensitivities of two cameras are those colour-science carries; the light is a CIE
illuminant. A scene lies flat on a bench and is seen in perspective. Shading, flare, glare, texture, noise, the camera's
own matrix and JPEG are laid on as «common practice» has them. Nothing here comes from the program it judges.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache

import colour
import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageCms

from booth.icc_writer import display_p3
from booth.phone_look import PLAIN, PhoneLook

Floats = NDArray[np.float64]
GRID = colour.SpectralShape(400, 700, 10)
LIGHTS = {"D50": "D50", "D65": "D65", "A": "A", "F2": "FL2", "F11": "FL11", "LED-B3": "LED-B3"}
_KEYS = list(colour.MSDS_CAMERA_SENSITIVITIES)
CAMERAS = {"one": _KEYS[0], "two": _KEYS[1]}  # the two that colour-science carries
PATCH_MM, PITCH_MM, FRAME_MM = 36.0, 42.0, 9.0
CHART_MM = (6 * PITCH_MM - (PITCH_MM - PATCH_MM) + 2 * FRAME_MM, 4 * PITCH_MM - (PITCH_MM - PATCH_MM) + 2 * FRAME_MM)


@cache
def chart_spectra() -> Floats:
    """Return the reflectance of the 24 patches, shape (24, 31)."""
    return np.array([one.copy().align(GRID).values for one in next(iter(colour.SDS_COLOURCHECKERS.values())).values()])


@cache
def _responses(camera: str, light: str) -> Floats:
    sensitivity = colour.MSDS_CAMERA_SENSITIVITIES[CAMERAS[camera]].copy().align(GRID).values
    power = colour.SDS_ILLUMINANTS[LIGHTS[light]].copy().align(GRID).values
    weights = sensitivity * power[:, None]
    return np.asarray(weights / weights.sum(axis=0))


def camera_rgb(reflectance: Floats, camera: str, light: str) -> Floats:
    """Return what a white-balanced camera's sensor gets of spectra (..., 31) under a light: (..., 3), 1 for white."""
    rgb: Floats = np.asarray(reflectance) @ _responses(camera, light)
    return rgb


@dataclass(frozen=True)
class Sample:
    """A painted rectangle on the bench: its spectrum, its corner and size in mm."""

    name: str
    reflectance: Floats
    x_mm: float
    y_mm: float
    w_mm: float = 60.0
    h_mm: float = 45.0


@dataclass(frozen=True)
class Shade:
    """A shadow on the bench: corners around it in mm, what is left there of red, green and blue, how soft its edge."""

    corners_mm: tuple[tuple[float, float], ...]
    left: tuple[float, float, float]
    soft_mm: float = 1.0


@dataclass(frozen=True)
class Shot:
    """How the scene is photographed."""

    camera: str = "one"
    light: str = "D65"
    width: int = 1000
    height: int = 750
    scene_mm: tuple[float, float] = (560.0, 420.0)
    chart_at_mm: tuple[float, float] = (150.0, 110.0)
    chart_turn_deg: float = 0.0
    tilt_deg: float = 0.0
    turn_deg: float = 0.0
    shading: float = 0.3
    shading_deg: float = 30.0
    flare: float = 0.02
    glare: float = 0.0
    texture: float = 0.01
    noise: float = 0.01
    exposure: float = 0.85
    blur_px: float = 0.5
    matrixed: bool = True
    tone: float = 0.0
    look: PhoneLook = PLAIN
    encoding: str = "sRGB"
    bench: Floats = field(default_factory=lambda: np.full(31, 0.35))
    grain: float = 0.03
    seed: int = 1
    shades: tuple[Shade, ...] = ()


@dataclass(frozen=True)
class Photograph:
    """The encoded picture, 0 to 1, shape (h, w, 3), and where things are in it."""

    values: Floats
    chart_corners: Floats  # (4, 2) px of the outer corners, from the brown patch's, clockwise
    regions: dict[str, tuple[int, int, int, int]]
    encoding: str

    def uint8(self) -> NDArray[np.uint8]:
        """Return the picture with 8 bits."""
        return np.rint(self.values * 255).astype(np.uint8)

    def jpeg(self, quality: int = 92) -> bytes:
        """Return it as a JPEG file with its profile."""
        out = io.BytesIO()
        Image.fromarray(self.uint8()).save(out, "JPEG", quality=quality, icc_profile=profile_bytes(self.encoding))
        return out.getvalue()


@cache
def profile_bytes(encoding: str) -> bytes | None:
    """Return an ICC profile: sRGB, Display P3 (made here), or None for "none" and "linear"."""
    if encoding == "sRGB":
        return ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    if encoding == "Display P3":
        return display_p3()
    return None


_TO_LINEAR_RGB = {
    "sRGB": np.array([[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]]),
    "Display P3": np.array([[2.4935, -0.9314, -0.4027], [-0.8295, 1.7627, 0.0236], [0.0358, -0.0762, 0.9569]]),
}


@cache
def _camera_matrix(camera: str, light: str, encoding: str) -> Floats:
    """Return the matrix a camera maker would set for a light: least squares on the chart, white kept."""
    wanted_space = _TO_LINEAR_RGB.get(encoding, _TO_LINEAR_RGB["sRGB"])
    cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(GRID).values
    power = colour.SDS_ILLUMINANTS["D65"].copy().align(GRID).values[:, None] * cmfs
    xyz = chart_spectra() @ (power / power[:, 1].sum())
    wanted, got = xyz @ wanted_space.T, camera_rgb(chart_spectra(), camera, light)
    heavy = 1e3
    system = np.vstack([got, heavy * np.ones((1, 3))])
    return np.linalg.lstsq(system, np.vstack([wanted, heavy * np.ones((1, 3))]), rcond=None)[0]


def encode(linear: Floats, encoding: str) -> Floats:
    """Return linear values 0 to 1 as they are written to the file."""
    linear = np.clip(linear, 0, 1)
    if encoding == "linear":
        return linear
    encoded = np.power(linear, 1 / 2.4)
    encoded *= 1.055
    encoded -= 0.055
    dark = linear <= 0.0031308
    encoded[dark] = 12.92 * linear[dark]
    return encoded


def _pose(shot: Shot, px_per_mm: float) -> Floats:
    """Return the homography from scene mm to pixels: turned, tilted about a horizontal axis, centred."""
    tilt, turn = np.radians(shot.tilt_deg), np.radians(shot.turn_deg)
    w, h = shot.scene_mm
    centre = np.array([[1, 0, -w / 2], [0, 1, -h / 2], [0, 0, 1]])
    rotate = np.array([[np.cos(turn), -np.sin(turn), 0], [np.sin(turn), np.cos(turn), 0], [0, 0, 1]])
    distance = 2.2 * w
    lean = np.array([[1, 0, 0], [0, np.cos(tilt), 0], [0, np.sin(tilt) / distance, 1]])
    frame = np.array([[px_per_mm, 0, shot.width / 2], [0, px_per_mm, shot.height / 2], [0, 0, 1]])
    return frame @ lean @ rotate @ centre


def _chart_map(shot: Shot) -> Floats:
    """Return the map from the chart's own mm to scene mm."""
    angle = np.radians(shot.chart_turn_deg)
    cx, cy = shot.chart_at_mm[0] + CHART_MM[0] / 2, shot.chart_at_mm[1] + CHART_MM[1] / 2
    rotate = np.array([[np.cos(angle), -np.sin(angle), 0], [np.sin(angle), np.cos(angle), 0], [0, 0, 1]])
    back = np.array([[1, 0, -CHART_MM[0] / 2], [0, 1, -CHART_MM[1] / 2], [0, 0, 1]])
    there = np.array([[1, 0, cx], [0, 1, cy], [0, 0, 1]])
    return there @ rotate @ back


def through(matrix: Floats, points: Floats) -> Floats:
    """Return points (n, 2) after a homography."""
    out = np.c_[points, np.ones(len(points))] @ matrix.T
    return out[:, :2] / out[:, 2:]


def rectangle(x: float, y: float, w: float, h: float) -> Floats:
    """Return the corners of a rectangle, clockwise from its first."""
    return np.array([[x, y], [x + w, y], [x + w, y + h], [x, y + h]], float)


def photograph(samples: Sequence[Sample], shot: Shot, chart: Floats | None = None) -> Photograph:
    """Photograph samples and a chart on the bench.

    Parameters
    ----------
    samples : sequence of Sample
    shot : Shot
    chart : ndarray, shape (24, 31), or None
        Spectra of the patches; None is the usual chart.
    """
    r = np.random.default_rng(shot.seed)
    px_per_mm = min(shot.width / shot.scene_mm[0], shot.height / shot.scene_mm[1])
    fine = 2  # supersampling of the edges
    pose = np.diag([fine, fine, 1.0]) @ _pose(shot, px_per_mm)
    on_chart = pose @ _chart_map(shot)

    def rgb(spectra: Floats) -> Floats:
        return camera_rgb(spectra, shot.camera, shot.light)

    # a grained bench: the grain is coarse, as of wood or card
    grain = cv2.resize(
        r.normal(1, shot.grain, (shot.height // 3 + 1, shot.width // 3 + 1)).astype(np.float32),
        (shot.width * fine, shot.height * fine),
        interpolation=cv2.INTER_CUBIC,
    )
    scene = np.asarray(cv2.merge([grain * value for value in rgb(shot.bench).astype(np.float32)]))

    def fill(matrix: Floats, corners: Floats, value: Floats) -> None:
        points = np.rint(through(matrix, corners) * 16).astype(np.int32)
        cv2.fillConvexPoly(scene, points, [float(v) for v in value], lineType=cv2.LINE_8, shift=4)

    fill(on_chart, rectangle(0, 0, *CHART_MM), rgb(np.full(31, 0.035)))
    for number, value in enumerate(rgb(chart_spectra() if chart is None else chart)):
        row, column = divmod(number, 6)
        fill(
            on_chart,
            rectangle(FRAME_MM + column * PITCH_MM, FRAME_MM + row * PITCH_MM, PATCH_MM, PATCH_MM),
            value,
        )
    for sample in samples:
        fill(pose, rectangle(sample.x_mm, sample.y_mm, sample.w_mm, sample.h_mm), rgb(sample.reflectance))
    scene = cv2.resize(scene, (shot.width, shot.height), interpolation=cv2.INTER_AREA)
    pose = _pose(shot, px_per_mm)
    peel = r.normal(1, shot.texture, (shot.height, shot.width)).astype(np.float32)
    scene *= of_all(cv2.GaussianBlur(peel, (0, 0), 0.8))
    return _exposed(scene, samples, shot, pose, r)


def _exposed(
    scene: NDArray[np.float32], samples: Sequence[Sample], shot: Shot, pose: Floats, r: np.random.Generator
) -> Photograph:
    """Light the scene, expose it, and develop it."""
    x, y = (np.arange(length, dtype=np.float32) for length in (shot.width, shot.height))
    u, v = x / shot.width - 0.5, y / shot.width - 0.5 * shot.height / shot.width
    angle = np.radians(shot.shading_deg)
    along = np.add.outer(v * np.sin(angle), u * np.cos(angle))
    # falls off along one direction, a little faster at the far end, as near a lamp
    light = 1 - shot.shading * (0.5 + along + 0.3 * (along * along - 0.08)) / 1.3
    scene *= of_all(light.astype(np.float32))
    for shade in shot.shades:
        scene *= _shaded(shade, shot, pose)
    if shot.glare:
        for sample in samples:
            spot = through(pose, np.array([[sample.x_mm + 0.2 * sample.w_mm, sample.y_mm + 0.25 * sample.h_mm]]))[0]
            size = 0.09 * sample.w_mm * shot.width / shot.scene_mm[0]
            across, down = np.arange(shot.width) - spot[0], np.arange(shot.height) - spot[1]
            shape = np.multiply.outer(*(np.exp(-(off**2) / (2 * size**2)) for off in (down, across)))
            scene = scene + (shot.glare * shape)[..., None].astype(np.float32)
    scene = developed(scene, shot, r)
    corners = through(pose @ _chart_map(shot), rectangle(0, 0, *CHART_MM))
    regions = {}
    for sample in samples:
        inner = rectangle(
            sample.x_mm + 0.12 * sample.w_mm,
            sample.y_mm + 0.12 * sample.h_mm,
            0.76 * sample.w_mm,
            0.76 * sample.h_mm,
        )
        points = through(pose, inner)
        # the upright rectangle within the quadrilateral
        left, right = np.sort(points[:, 0])[1:3]
        top, bottom = np.sort(points[:, 1])[1:3]
        regions[sample.name] = (int(left) + 1, int(top) + 1, int(right - left) - 1, int(bottom - top) - 1)
    encoding = "none" if shot.encoding == "linear" else shot.encoding
    return Photograph(encode(scene, shot.encoding), corners, regions, encoding)


def _shaded(shade: Shade, shot: Shot, pose: Floats) -> NDArray[np.float32]:
    """Return what a shadow leaves of the light, shape (h, w, 3)."""
    cover = np.zeros((shot.height, shot.width), np.float32)
    cv2.fillPoly(cover, [np.rint(through(pose, np.array(shade.corners_mm)) * 16).astype(np.int32)], (1.0,), shift=4)
    cover = cv2.GaussianBlur(cover, (0, 0), max(shade.soft_mm * shot.width / shot.scene_mm[0], 0.5))
    return np.asarray(1 - cover[..., None] * (1 - np.array(shade.left)), np.float32)


def of_all(values: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return values of all three channels alike, shape (h, w, 3): quicker to work with than values that are spread."""
    return np.asarray(cv2.merge([values] * 3), np.float32)


def developed(scene: NDArray[np.float32], shot: Shot, r: np.random.Generator) -> NDArray[np.float32]:
    """Return linear file values of a scene that is lit: flare, blur, exposure, noise, the camera's matrix, its tone."""
    # what is large is worked out in place
    flare = shot.flare * np.array(cv2.mean(scene)[:3])
    scene = scene * np.float32(1 - shot.flare)
    scene.reshape(len(scene), -1)[:] += np.tile(flare.astype(np.float32), scene.shape[1])
    if shot.blur_px:
        scene = np.asarray(cv2.GaussianBlur(scene, (0, 0), shot.blur_px), np.float32)
    scene *= np.float32(shot.exposure / 0.9)
    spread = np.maximum(scene, 0)
    spread *= np.float32(shot.noise**2 * 0.5)
    spread += np.float32((0.15 * shot.noise) ** 2)
    noise = r.standard_normal(scene.shape, dtype=np.float32)
    noise *= np.sqrt(spread, out=spread)
    scene += noise
    np.minimum(scene, 1, out=scene)
    if shot.matrixed:
        scene = np.asarray(cv2.transform(scene, _camera_matrix(shot.camera, shot.light, shot.encoding).T), np.float32)
    np.clip(scene, 0, 1, out=scene)
    if shot.tone:  # a look of the camera's own: darks darker, lights lighter
        scene = scene ** (1 + shot.tone * (1 - scene))
    return shot.look.of(scene)
