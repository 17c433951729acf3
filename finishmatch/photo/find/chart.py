"""The 24-patch chart: how it is laid out, and what its patches are in the light that is asked for."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib import resources
from pathlib import Path

import numpy as np

from finishmatch.colour import Floats, lab_to_xyz, reflectance_to_xyz, white_point, xyz_to_lab
from finishmatch.errors import InputError

COLUMNS, ROWS = 6, 4
PATCHES = COLUMNS * ROWS
NEUTRALS = tuple(range(19, 25))  # white to black
PATCH_SHARE = 0.84  # of the pitch; charts in use have 0.80 to 0.90
BORDER = 0.35  # of the pitch, from the patches to the outer edge of the chart


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
    """

    name: str
    spectra: Floats | None
    lab: Floats | None = None
    light: str = "D50"
    observer: int = 2

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
                f"ask for --light {self.light} --observer {self.observer}, or give its spectra",
            )
        return lab_to_xyz(np.asarray(self.lab), white_point(light, observer))


@cache
def usual_chart() -> Chart:
    """Return the chart as published: the mean of thirty, from `data/chart24.csv`."""
    text = resources.files("finishmatch.photo").joinpath("data/chart24.csv").read_text("utf-8")
    rows = [line.split(",") for line in text.splitlines() if line and not line.startswith("#")][1:]
    spectra = np.array(rows, dtype=float)[:, 1:]
    spectra.setflags(write=False)
    return Chart("the usual chart", spectra)


def read_chart(path: Path) -> Chart:
    """Return the chart a shop has read itself: a readings file with the names 1 to 24.

    Raises
    ------
    InputError
        When a patch is missing or there are others.
    """
    from finishmatch.readings import read_readings

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
        raise InputError(str(path), f"holds {strangers[0][:40]!r}, which is no patch of the chart", "remove it")
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
