"""A correction that knows what paints look like.

Two dozen patches leave open what a camera makes of other colours. But once its response is known, roughly, so is what
it would make of any paint. A family of invented paints, seen so, joins the patches of the chart; what lies between is
interpolated.

What known colours leave open of other paints is estimated too. The fields of a print are mixtures of four inks, so one
field left out is predicted by the others far better than a paint is: how far a paint may be off is estimated from how
far the camera's response is left open, in that paint's spectrum.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib import resources

import numpy as np

from finishmatch.colour import Floats, de00_metric, reflectance_to_lab, xyz_to_lab
from finishmatch.optics.camera_look import value_roots
from finishmatch.photo.correct.capture import Known, Priors, undo, undo_raised, undo_slopes
from finishmatch.photo.correct.plain_camera import PlainCamera, fit_plain_camera

# tuned on rendered pictures of other paints than those of the benchmarks
REACH = 1.5  # of the interpolation, in standard deviations of the colours
LOOSE = 0.01  # variance of the colours about the interpolation, of what they vary by beyond the trend
KNOTS = 160  # paints that carry the interpolation: the first of the family, which lie far apart
CUT_OFF = 0.03  # of full scale: paints that the file would cut off by more than this at the bottom are left out
_TREND = 4
_BLACK_L = 0.05
OPEN_SHARE = 0.45  # of what the response is left open by; its prior is wide («measured on rendered pictures»)
NEAR_LAB, NEAR_MANY = 8.0, 8  # paints this near a colour speak for it, or as many where none is


@cache
def paint_spectra() -> Floats:
    """Return the family of paints, shape (n, 31), from `data/paints.csv`: the first ones lie far apart."""
    text = resources.files("finishmatch.photo").joinpath("data/paints.csv").read_text("utf-8")
    lines = [line for line in text.splitlines() if line and not line.startswith("#")][1:]
    spectra = np.array(",".join(lines).split(","), dtype=float).reshape(len(lines), -1)
    spectra.setflags(write=False)
    return spectra


@cache
def paint_lab(light: str, observer: int) -> Floats:
    """Return CIELAB of the family of paints, shape (n, 3)."""
    return reflectance_to_lab(paint_spectra(), light, observer)


def real_paints(values: Floats) -> np.ndarray:
    """Return which paints, by their camera values, (n, 3), the file would not cut off, shape (n,)."""
    return np.asarray((values > -CUT_OFF).all(axis=1))


class _Interpolation:
    """A trend and what lies about it, from camera values to CIELAB, carried by knots.

    References
    ----------
    Rasmussen and Williams, Gaussian Processes for Machine Learning (2006), 8.3.1 (subset of regressors).
    """

    def __init__(self, values: Floats, lab: Floats, knots: int, first: int) -> None:
        """Fit it to values and colours of n paints; the first `knots` carry it, the first `first` can be left out."""
        roots = value_roots(values)
        self.middle = roots.mean(axis=0)
        spread = np.cov((roots - self.middle).T) + 1e-6 * np.eye(3)
        self.whiten = np.linalg.inv(np.linalg.cholesky(spread)).T
        at = (roots - self.middle) @ self.whiten
        self.knots = at[:knots]
        terms = self._terms(at)
        normal = terms.T @ terms / LOOSE
        normal[:_TREND, :_TREND] += 1e-9 * np.eye(_TREND)
        normal[_TREND:, _TREND:] += self._kernel(self.knots) + 1e-6 * np.eye(knots)
        inverse = np.linalg.inv(np.linalg.cholesky(normal))
        self.pull = inverse.T @ (inverse @ (terms.T @ lab)) / LOOSE
        own = ((terms[:first] @ inverse.T) ** 2).sum(axis=1) / LOOSE
        self.residuals = terms[:first] @ self.pull - lab[:first]
        self.misses = self.residuals / np.maximum(1 - own, 0.05)[:, None]

    def _kernel(self, at: Floats) -> Floats:
        apart = (at**2).sum(axis=1)[:, None] + (self.knots**2).sum(axis=1) - 2 * at @ self.knots.T
        return np.asarray(np.exp(-np.maximum(apart, 0) / (2 * REACH**2)))

    def _terms(self, at: Floats) -> Floats:
        return np.hstack([np.ones((len(at), 1)), at, self._kernel(at)])

    def lab(self, values: Floats) -> Floats:
        """Return CIELAB of camera values, shape (n, 3)."""
        found: Floats = self._terms((value_roots(values) - self.middle) @ self.whiten) @ self.pull
        found[:, 0] = np.maximum(found[:, 0], _BLACK_L)
        return found

    def slopes(self, values: Floats) -> Floats:
        """Return how CIELAB moves with the camera values, shape (n, 3, 3)."""
        at, out = self.lab(values), np.empty((len(values), 3, 3))
        for i in range(3):
            moved = values.copy()
            step = 1e-4 * np.maximum(values[:, i], 1e-3)
            moved[:, i] += step
            out[:, :, i] = (self.lab(moved) - at) / step[:, None]
        return out


@dataclass(frozen=True)
class PaintFit:
    """The correction by paints.

    Parameters
    ----------
    camera : PlainCamera
    priors : Priors
        What was known of the capture beforehand.
    interpolation : _Interpolation
    residuals, misses : ndarray, shape (n, 3)
        By what the known colours are off as fitted, and would be off if each were left out, in the axes of
        `de00_metric`.
    """

    camera: PlainCamera
    priors: Priors
    interpolation: _Interpolation
    residuals: Floats
    misses: Floats

    @property
    def numbers(self) -> Floats:
        """Tone, flare, light, shape (SIZE,): see `capture`."""
        return self.camera.numbers

    @property
    def covariance(self) -> Floats:
        """Of the numbers, shape (SIZE, SIZE)."""
        return self.camera.covariance

    def lab(self, linear: Floats, places: Floats) -> Floats:
        """Return CIELAB, shape (n, 3), of camera values at places."""
        return self.interpolation.lab(undo(self.numbers, linear, places))

    def slopes(self, linear: Floats, places: Floats) -> tuple[Floats, Floats]:
        """Return how CIELAB moves with the numbers, (n, 3, SIZE), and with the camera values, (n, 3, 3)."""
        steps = 1e-4 * self.priors.deviations()
        values, moved = undo_slopes(self.numbers, linear, places, steps)
        by_value = self.interpolation.slopes(values)
        by_number = np.einsum("nij,snj->nis", by_value, (moved - values) / steps[:, None, None])
        step_up = 1e-4 * np.maximum(linear, 1e-3)
        raised = undo_raised(self.numbers, linear, places, step_up)
        growth = (raised - values) / step_up.T[:, :, None]
        return by_number, np.einsum("nij,knj->nik", by_value, growth)


def fit_paints(
    known: Known, spectra: Floats, light: str, observer: int, priors: Priors, inks: bool = False
) -> PaintFit:
    """Return the correction by paints.

    Parameters
    ----------
    known : Known
    spectra : ndarray, shape (n, 31)
        Of the known colours.
    light, observer
        For which the colours are given.
    priors : Priors
        What is known of the capture beforehand.
    inks : bool
        Whether the known colours are a print.
    """
    camera = fit_plain_camera(known, spectra, priors, inks)
    lab, count = xyz_to_lab(known.xyz, known.white), len(known.linear)
    paint_values = paint_spectra() @ camera.response
    real = real_paints(paint_values)
    knots = count + int(real[:KNOTS].sum())
    interpolation = _Interpolation(
        np.vstack([camera.values, paint_values[real]]), np.vstack([lab, paint_lab(light, observer)[real]]), knots, count
    )
    # left out of the interpolation, whose other paints are seen by a camera found without it
    astray = camera.misses - (camera.values - spectra @ camera.response)
    strayed = np.einsum("nij,nj->ni", interpolation.slopes(camera.values), astray)
    metric = de00_metric(lab)
    residuals, misses = (
        np.asarray(np.einsum("nij,nj->ni", metric, off))
        for off in (interpolation.residuals, interpolation.misses + strayed)
    )
    return PaintFit(camera, priors, interpolation, residuals, misses)


@dataclass(frozen=True)
class PaintDoubt:
    """How far the colours of paints may be off.

    Parameters
    ----------
    fit : PaintFit
    lab : ndarray, shape (n, 3)
        CIELAB of the family of paints.
    variances : ndarray, shape (n, 3)
        Of their camera values, as far as the response is left open.
    misses : ndarray, shape (n,)
        By what the interpolation is off at them, ΔE00².
    """

    fit: PaintFit
    lab: Floats
    variances: Floats
    misses: Floats

    def squared(self, linear: Floats, place: Floats) -> float:
        """Return the mean square by which a paint of some camera values, (3,), at a place, (2,), may be off, ΔE00²."""
        values = undo(self.fit.numbers, linear[None], place[None])
        lab = self.fit.interpolation.lab(values)
        apart = ((self.lab - lab) ** 2).sum(axis=1)
        reach = max(NEAR_LAB**2, float(np.partition(apart, NEAR_MANY)[NEAR_MANY]))
        weights = np.exp(-apart / (2 * reach))
        weights /= weights.sum()
        in_de00 = de00_metric(lab)[0] @ self.fit.interpolation.slopes(values)[0]
        left_open = float((in_de00**2).sum(axis=0) @ (weights @ self.variances))
        return OPEN_SHARE**2 * left_open + float(weights @ self.misses)


def paint_doubt(fit: PaintFit, light: str, observer: int) -> PaintDoubt:
    """Return what the known colours of a fit leave open of other paints.

    Parameters
    ----------
    fit : PaintFit
    light, observer
        For which the colours are given.
    """
    spectra, lab = paint_spectra(), paint_lab(light, observer)
    paint_values = spectra @ fit.camera.response
    real = real_paints(paint_values)
    variances = np.stack(
        [((spectra[real] @ left) * spectra[real]).sum(axis=1) for left in fit.camera.left_open], axis=1
    )
    off = np.einsum("nij,nj->ni", de00_metric(lab[real]), fit.interpolation.lab(paint_values[real]) - lab[real])
    return PaintDoubt(fit, lab[real], np.maximum(variances, 0), (off**2).sum(axis=1))
