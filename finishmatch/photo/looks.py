"""What the camera of a photograph saw of a standard and a trial beside it, apart from what colours it makes of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats
from finishmatch.optics.camera_look import CameraLook, to_lab_by_roots
from finishmatch.photo.across_lights import Look
from finishmatch.photo.correct.capture import undo, undo_raised, undo_slopes
from finishmatch.photo.correct.paints import PaintFit
from finishmatch.photo.find.spot import Spot
from finishmatch.photo.open.picture import RAW
from finishmatch.photo.read import PhotoReading, PhotoRegion


@dataclass(frozen=True)
class Noise:
    """What the logarithms of two samples' values are off by, beside what the evenness of the light leaves open.

    Parameters
    ----------
    alike, each : float
        In all channels alike, and in each by itself.
    least : float
        Of full scale.
    spread : float
        Share of the variance by which a sample differs from piece to piece: its mean is known better.
    """

    alike: float
    each: float
    least: float
    spread: float


# «measured on rendered pictures»; of raw files, which no camera has worked on, a half more than was measured
DEVELOPED, OF_A_SENSOR = Noise(0.002, 0.002, 3e-4, 0.03), Noise(0.001, 0.0007, 1e-4, 0.01)
# Their light comes in lines, of which two dozen colours don't tell what the camera makes.
IN_LINES = ("F2", "F11")
# How far the chart's patches, each left out, are from what a camera makes of their spectra, relative: beyond it the
# camera has worked on the file (docs/accuracy.md, Under a lamp as well).
WORKED_ON = 0.1
NO_CHART = "no chart lies beside the two, and a print shows too little of what the camera sees; lay one there"
NO_SPECTRA = "what the chart's patches are is known by L*a*b* alone; give their spectra"
LINES = "its light comes in lines, of which a chart doesn't tell what the camera makes; a tungsten or LED lamp would do"
WORKED = (
    "the camera has worked on the file (local contrast, sharpening), or the chart isn't as published, so that what it "
    "sees of each wavelength can't be told; a raw file (DNG) would do"
)
_DARKEST = 1e-3


def look_of(reading: PhotoReading, called: tuple[str, str]) -> Look | str:
    """Return what a photograph's camera saw of standard and trial; or why that isn't known well enough.

    It is known by a chart whose correction goes by the camera's response. The four inks of a print leave too much of
    that open (benchmarks/test_two_lights.py).

    Parameters
    ----------
    reading : PhotoReading
        That shows the two.
    called : (str, str)
        What standard and trial are called in it.
    """
    why = why_no_look(reading)
    if why:
        return why
    assert reading.fit is not None
    assert reading.fit.paints is not None
    fit, spots = reading.fit.paints, {one.name: one.spot for one in reading.regions}
    both = [spots[name] for name in called]
    values = undo(fit.numbers, np.stack([one.linear for one in both]), np.stack([one.place for one in both]))
    noise = _noise(fit, both, values, OF_A_SENSOR if reading.picture.kind == RAW else DEVELOPED)
    return Look(reading.light, fit.camera.response, values, noise, fit.camera.left_open)


def panel_look(reading: PhotoReading, region: PhotoRegion) -> CameraLook | None:
    """Return what a photograph's camera saw of one sample; None where that isn't known well enough (`why_no_look`).

    Parameters
    ----------
    reading : PhotoReading
        As the photograph was read by itself.
    region : PhotoRegion
        Of it.
    """
    if why_no_look(reading):
        return None
    assert reading.fit is not None
    assert reading.fit.paints is not None
    fit = reading.fit.paints
    values = undo(fit.numbers, region.spot.linear[None], region.spot.place[None])
    by_value = fit.interpolation.slopes(values)[0]
    to_lab = to_lab_by_roots(by_value, values[0])
    return CameraLook(reading.light, fit.camera.response, values[0], to_lab, region.lab, fit.camera.misfit)


def why_no_look(reading: PhotoReading) -> str:
    """Return why the camera of a photograph isn't known well enough to say what it sees of a spectrum; "" if it is."""
    if reading.printed:
        return NO_CHART
    if reading.fit is None or reading.fit.paints is None:
        return NO_SPECTRA
    if reading.light in IN_LINES:
        return LINES
    return WORKED if reading.fit.paints.camera.misfit > WORKED_ON else ""


def _noise(fit: PaintFit, both: list[Spot], values: Floats, known: Noise) -> Floats:
    """Return the covariance of the logarithm of the trial's values less the standard's, shape (3, 3)."""
    linear, places = np.stack([one.linear for one in both]), np.stack([one.place for one in both])
    size = np.maximum(values, _DARKEST)
    steps = 1e-4 * fit.priors.deviations()
    at, moved = undo_slopes(fit.numbers, linear, places, steps)
    by_number = (moved - at) / steps[:, None, None] / size
    uneven = (by_number[:, 1] - by_number[:, 0]).T
    up = 1e-4 * np.maximum(linear, _DARKEST)
    growth = (undo_raised(fit.numbers, linear, places, up) - at) / up.T[:, :, None] / size
    spread = sum(grown @ one.spread @ grown.T for grown, one in zip(growth.transpose(1, 2, 0), both, strict=True))
    dark = (known.least / size) ** 2
    own = known.alike**2 * np.ones((3, 3)) + np.diag(known.each**2 + dark.sum(axis=0))
    return np.asarray(uneven @ fit.covariance @ uneven.T + known.spread * spread + own)
