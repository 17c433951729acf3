"""The 24-patch chart: how it is laid out, what its patches are in a light, and where it lies in a picture."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib import resources
from pathlib import Path

import numpy as np

from finishmatch.colour import Floats, lab_to_xyz, reflectance_to_xyz, white_point, xyz_to_lab
from finishmatch.errors import InputError
from finishmatch.photo.find.lattice import Spots
from finishmatch.readings import read_readings

COLUMNS, ROWS = 6, 4
PATCHES = COLUMNS * ROWS
NEUTRALS = tuple(range(19, 25))  # white to black
PATCH_SHARE = 0.84  # of the pitch; charts in use have 0.80 to 0.90
BORDER = 0.35  # of the pitch, from the patches to the outer edge of the chart
# its maker changed the colours then: by ΔE00 0.8 in the median, 1.5 at most
UNTIL_2014, SINCE_2014 = "until-2014", "since-2014"
MADE = {UNTIL_2014: "chart24.csv", SINCE_2014: "chart24_since_2014.csv"}
MADE_WORDS = {UNTIL_2014: "made until November 2014", SINCE_2014: "made since November 2014"}


@dataclass(frozen=True)
class Chart:
    """Known colours: spectra, or CIELAB in one light.

    Parameters
    ----------
    name : str
    spectra : ndarray, shape (n, 31), or None
    lab : ndarray, shape (n, 3), or None
        Where no spectra are known.
    light, observer
        Of `lab`.
    made : str
        A key of `MADE`; "" of a chart that was read itself, and of a print.
    """

    name: str
    spectra: Floats | None
    lab: Floats | None = None
    light: str = "D50"
    observer: int = 2
    made: str = ""

    def xyz(self, light: str, observer: int) -> Floats:
        """Return tristimulus values, shape (n, 3), white 100, under a light.

        Raises
        ------
        InputError
            When only CIELAB under another light is known.
        """
        if self.spectra is not None:
            return reflectance_to_xyz(self.spectra, light, observer)
        if (light, observer) != (self.light, self.observer):
            raise InputError(
                self.name,
                f"is known under {self.light}, {self.observer}° alone",
                f"ask for `light` {self.light} `observer` {self.observer}, or give its spectra",
            )
        return lab_to_xyz(np.asarray(self.lab), white_point(light, observer))


@cache
def usual_chart(made: str = UNTIL_2014) -> Chart:
    """Return the chart as published, by when it was made: a key of `MADE`."""
    text = resources.files("finishmatch.photo").joinpath(f"data/{MADE[made]}").read_text("utf-8")
    rows = [line.split(",") for line in text.splitlines() if line and not line.startswith("#")][1:]
    spectra = np.array(rows, dtype=float)[:, 1:]
    spectra.setflags(write=False)
    return Chart("the usual chart", spectra, made=made)


def chart_named(said: str | Path) -> Chart:
    """Return the chart that is said: a key of `MADE`, or a file as `read_chart` takes it.

    Raises
    ------
    InputError
        Neither; or the file is wrong.
    """
    if str(said) in MADE:
        return usual_chart(str(said))
    if not str(said) or not Path(said).exists():
        mend = f"say when it was made, {' or '.join(MADE)}, or name a readings file of your own chart"
        raise InputError(f"`chart` {str(said)[:60]}", "there is no such file", mend)
    return read_chart(Path(said))


def read_chart(path: Path) -> Chart:
    """Return the chart a shop has read itself: a readings file with the names 1 to 24.

    Raises
    ------
    InputError
        When a patch is missing or there are others.
    """
    readings = read_readings(path)
    wanted = [str(number) for number in range(1, PATCHES + 1)]
    missing = [number for number in wanted if number not in readings]
    if missing:
        raise InputError(
            str(path),
            f"has no reading of patch {missing[0]}",
            "name the patches 1 to 24, row by row from the brown one",
        )
    strangers = sorted(set(readings) - set(wanted))
    if strangers:
        raise InputError(str(path), f"holds {strangers[0][:40]!r}, which is not a patch of the chart", "remove it")
    each = [readings[number] for number in wanted]
    if all(one.is_spectral for one in each):
        return Chart(str(path), np.array([one.repeats.mean(axis=0) for one in each]))
    states = {(one.light, one.observer) for one in each}
    if len(states) > 1 or any(one.is_spectral for one in each):
        raise InputError(str(path), "its patches are known under different lights", "read them all alike")
    light, observer = states.pop()
    return Chart(str(path), None, np.array([one.repeats.mean(axis=0) for one in each]), light, observer)


def patch_centres() -> Floats:
    """Return the middles of the patches, shape (24, 2), in pitches from the middle of patch 1."""
    number = np.arange(PATCHES)
    return np.stack([number % COLUMNS, number // COLUMNS], axis=1).astype(float)


def patch_corners(share: float = PATCH_SHARE) -> Floats:
    """Return the corners of the patches, shape (24, 4, 2), in pitches, drawn to a share of the pitch."""
    half = share / 2
    square = np.array([[-half, -half], [half, -half], [half, half], [-half, half]])
    return np.asarray(patch_centres()[:, None] + square)


def outline(border: float = BORDER) -> Floats:
    """Return the corners of the chart, shape (4, 2), in pitches, from the brown patch's, clockwise."""
    left, right, low = -0.5 - border, COLUMNS - 0.5 + border, ROWS - 0.5 + border
    return np.array([[left, left], [right, left], [right, low], [left, low]])


@cache
def chart_lightness_lab() -> Floats:
    """Return CIELAB of the usual chart, D50 and 2°, shape (24, 3): what it looks like, to be found by."""
    return xyz_to_lab(usual_chart().xyz("D50", 2), white_point("D50", 2))


@dataclass(frozen=True)
class ChartPose:
    """Where the chart lies.

    Parameters
    ----------
    homography : ndarray, shape (3, 3)
        From pitches on the chart (see `patch_centres`) to pixels of the picture.
    agreement : float
        How far its colours lie from the chart's, Lab units, after an affine map.
    mirrored : bool
        Whether the picture is left to right.
    spots : Spots or None
        All even spots of the picture, seen in the copy in which the chart was found, in pixels of the picture.
    """

    homography: Floats
    agreement: float
    mirrored: bool
    spots: Spots | None = None

    def to_px(self, points: Floats) -> Floats:
        """Return pixels, shape (..., 2), of points on the chart in pitches."""
        return through(self.homography, points)

    def to_chart(self, points: Floats) -> Floats:
        """Return places on the chart in pitches of pixels, shape (..., 2)."""
        return through(np.asarray(np.linalg.inv(self.homography)), points)

    @property
    def patch_px(self) -> float:
        """The side of a patch in pixels: the root of the area, at the smallest patch."""
        corners = self.to_px(outline(0.0))
        x, y = corners.T
        whole = 0.5 * abs(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
        ends = self.to_px(np.array([[[i, j], [i + 0.1, j], [i, j + 0.1]] for i in (0, 5) for j in (0, 3)], float))
        one, two = ends[:, 1] - ends[:, 0], ends[:, 2] - ends[:, 0]
        local = 100 * np.abs(one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0])
        return float(PATCH_SHARE * np.sqrt(min(local.min(), whole / PATCHES)))


def through(homography: Floats, points: Floats) -> Floats:
    """Return points, shape (..., 2), after a homography."""
    points = np.asarray(points, dtype=float)
    ahead = points @ homography[:, :2].T + homography[:, 2]
    return np.asarray(ahead[..., :2] / ahead[..., 2:])
