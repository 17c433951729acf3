"""A correction that knows what paints look like.

Two dozen patches leave open what the camera makes of other colours. But from the spectra of the chart and the camera's
values of it follows, roughly, what the camera sees at each wavelength under this light; and so what it would make of
any paint. A family of invented paints, seen so, joins the patches of the chart; what lies between is interpolated.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib import resources

import numpy as np
from numpy.typing import NDArray

from finishmatch.colour import Floats, reflectance_to_lab, xyz_to_lab
from finishmatch.readings.photo.capture import undo
from finishmatch.readings.photo.colourfit import ColourFit, Known, de00_metric

# tuned on rendered pictures of other paints than these
SMOOTH, SMALL = 0.3, 3e-3  # how even the camera's sensitivity is taken to be, and how small
REACH = 1.5  # of the interpolation, in standard deviations of the colours
LOOSE = 0.003  # variance of the colours about the interpolation, of what they vary by beyond the trend
GROUPS = 6  # patches are left out in so many groups: one by one would take too long
_LEAST = 1e-5
_BLACK_L = 0.05


@cache
def paint_spectra() -> Floats:
    """Return the family of paints, shape (n, 31), from `data/paints.csv`."""
    text = resources.files("finishmatch.readings.photo").joinpath("data/paints.csv").read_text("utf-8")
    rows = [line.split(",") for line in text.splitlines() if line and not line.startswith("#")][1:]
    spectra = np.array(rows, dtype=float)
    spectra.setflags(write=False)
    return spectra


@cache
def paint_lab(light: str, observer: int) -> Floats:
    """Return CIELAB of the family of paints, shape (n, 3)."""
    return reflectance_to_lab(paint_spectra(), light, observer)


def camera_response(values: Floats, spectra: Floats) -> Floats:
    """Return what a camera makes of each wavelength, shape (31, 3), by its linear values of known spectra.

    Least squares with an even (second differences) and small sensitivity; errors count relative to the value.

    References
    ----------
    Regularised estimation of camera sensitivities: Finlayson, Darrodi and Mackiewicz, J. Opt. Soc. Am. A 33 (2016) 589.
    """
    bands = spectra.shape[1]
    bend = np.diff(np.eye(bands), 2, axis=0)
    weight = 1 / np.maximum(values.mean(axis=1), 0.02)
    seen = spectra * weight[:, None]
    normal = seen.T @ seen + SMOOTH * bend.T @ bend + SMALL * np.eye(bands)
    return np.asarray(np.linalg.solve(normal, seen.T @ (values * weight[:, None])))


class _Interpolation:
    """A trend and what lies about it (kriging), from camera values to CIELAB."""

    def __init__(self, values: Floats, lab: Floats) -> None:
        roots = _roots(values)
        self.middle = roots.mean(axis=0)
        spread = np.cov((roots - self.middle).T) + 1e-6 * np.eye(3)
        self.whiten = np.linalg.inv(np.linalg.cholesky(spread)).T
        self.at = (roots - self.middle) @ self.whiten
        trend = self._trend(self.at)
        self.slope = np.linalg.lstsq(trend, lab, rcond=None)[0]
        kernel = self._kernel(self.at) + LOOSE * np.eye(len(lab))
        self.pull = _solve(kernel, lab - trend @ self.slope)

    @staticmethod
    def _trend(at: Floats) -> Floats:
        return np.column_stack([at, np.ones(len(at))])

    def _kernel(self, at: Floats) -> Floats:
        apart = (at**2).sum(axis=1)[:, None] + (self.at**2).sum(axis=1) - 2 * at @ self.at.T
        return np.asarray(np.exp(-np.maximum(apart, 0) / (2 * REACH**2)))

    def lab(self, values: Floats) -> Floats:
        """Return CIELAB of camera values, shape (n, 3)."""
        at = (_roots(values) - self.middle) @ self.whiten
        found: Floats = self._trend(at) @ self.slope + self._kernel(at) @ self.pull
        found[:, 0] = np.maximum(found[:, 0], _BLACK_L)
        return found


def _solve(matrix: Floats, goal: Floats, block: int = 40) -> Floats:
    """Return the solution of a positive definite system, by its Cholesky factor in small blocks.

    A library that shares a small solve out among threads may wait longer for them than the solve takes.
    """
    factor = np.linalg.cholesky(matrix)
    cuts = [slice(start, min(start + block, len(goal))) for start in range(0, len(goal), block)]
    found = goal.copy()
    for cut in cuts:
        found[cut] = np.linalg.solve(factor[cut, cut], found[cut] - factor[cut, : cut.start] @ found[: cut.start])
    for cut in reversed(cuts):
        found[cut] = np.linalg.solve(factor[cut, cut].T, found[cut] - factor[cut.stop :, cut].T @ found[cut.stop :])
    return found


def _roots(values: Floats) -> Floats:
    return np.cbrt(np.maximum(values, _LEAST))


@dataclass(frozen=True)
class PaintFit:
    """The correction by paints, on top of a fit whose tone, flare and light it takes over.

    Parameters
    ----------
    base : ColourFit
    interpolation : _Interpolation
    residuals, misses : ndarray, shape (n, 3)
        By what the known colours are off as fitted, and when left out with three others at a time (so rather too
        much), in the axes of `de00_metric`.
    """

    base: ColourFit
    interpolation: _Interpolation
    residuals: Floats
    misses: Floats

    def lab(self, linear: Floats, places: Floats) -> Floats:
        """Return CIELAB, shape (n, 3), of camera values at places."""
        return self.interpolation.lab(undo(self.base.numbers, linear, places))


def fit_paints(base: ColourFit, known: Known, spectra: Floats, light: str, observer: int) -> PaintFit:
    """Return the correction by paints.

    Parameters
    ----------
    base : ColourFit
    known : Known
        What it was fitted on.
    spectra : ndarray, shape (n, 31)
        Of the known colours.
    light, observer
        What the colours are told in.
    """
    values = undo(base.numbers, known.linear, known.places)
    lab = xyz_to_lab(known.xyz, known.white)
    metric = de00_metric(lab)
    paints = paint_lab(light, observer)

    def interpolation(rows: NDArray[np.intp]) -> _Interpolation:
        seen = paint_spectra() @ camera_response(values[rows], spectra[rows])
        real = (seen > 0).all(axis=1)
        return _Interpolation(np.vstack([values[rows], seen[real]]), np.vstack([lab[rows], paints[real]]))

    def off(found: Floats, rows: NDArray[np.intp]) -> Floats:
        return np.asarray(np.einsum("nij,nj->ni", metric[rows], found - lab[rows]))

    every = np.arange(len(lab))
    whole = interpolation(every)
    misses = np.empty_like(lab)
    for group in range(GROUPS):
        rows = every[group::GROUPS]
        misses[rows] = off(interpolation(np.setdiff1d(every, rows)).lab(values[rows]), rows)
    return PaintFit(base, whole, off(whole.lab(values), every), misses)
