"""What a camera saw of a panel, apart from what colour that makes: values, and what it makes of each wavelength.

A colour read of a photograph goes by what most paints are that the camera sees so. The values themselves are three
sums over the panel's spectrum, weighted otherwise than the eye's: of a panel whose pigments are known, roughly, they
say what the colour leaves open.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from finishmatch.colour import Floats, de00_metric

# ΔE00 in each direction by which values of a panel, and of all in its picture, are taken to be off what its spectrum
# makes, where patches left out are off by up to so much, relative (chosen on rendered pictures of real pigments, for
# what is stated of mixtures to hold: benchmarks/test_photographed_bank.py)
OWN_SD, SHARED_SD, PLAIN_TO = 0.35, 0.6, 0.015
_FLOOR = 2e-3  # of full scale: near the bottom values say less and less


@dataclass(frozen=True)
class CameraLook:
    """What a camera saw of a panel in a picture.

    Parameters
    ----------
    light : str
        The CIE light of the picture.
    response : ndarray, shape (31, 3)
        What the camera makes of each wavelength in it.
    values : ndarray, shape (3,)
        Camera values of the panel, in even light, without flare and tone; a perfect white's are near 1.
    to_lab : ndarray, shape (3, 3)
        How CIELAB in that light moves with the roots of the values (`value_roots`).
    lab : ndarray, shape (3,)
        CIELAB in that light, as it was read.
    misfit : float
        How far the chart's patches, each left out, are from what the camera should see of them, relative.
    """

    light: str
    response: Floats
    values: Floats
    to_lab: Floats
    lab: Floats
    misfit: float

    def covariance(self, sd: float) -> Floats:
        """Return the covariance of the colour, shape (3, 3), by which the values are off: `sd` in ΔE00, at the least.

        The more the worse the camera explains its chart.
        """
        metric = np.linalg.inv(de00_metric(self.lab))
        wider = sd * max(1.0, self.misfit / PLAIN_TO)
        return np.asarray(wider**2 * metric @ metric.T)


@dataclass(frozen=True)
class PairLook:
    """What a camera saw of a standard and a trial beside it, in one picture.

    `noise`, shape (3, 3), is the covariance of what the trial's CIELAB less the standard's is off by in this picture
    alone: grain, how the light falls off, what a file that was made small has lost.
    """

    standard: CameraLook
    trial: CameraLook
    noise: Floats


@dataclass(frozen=True)
class CameraSaw:
    """What cameras saw of a sample whose colour was read of photographs.

    Parameters
    ----------
    lab : ndarray, shape (3,)
        CIELAB as it was read of all of them.
    looks : tuple of CameraLook
        In each photograph.
    share : float
        Of a colour that was weighed from several samples, how much of it this one makes.
    """

    lab: Floats
    looks: tuple[CameraLook, ...]
    share: float = 1.0


@dataclass(frozen=True)
class LookRows:
    """Which of q rows are looks, shape (q,), and of each its response (q, 31, 3), the roots of its values (q, 3) and
    `to_lab` (q, 3, 3): of no look zeros.
    """

    are: NDArray[np.bool_]
    response: Floats
    roots: Floats
    to_lab: Floats

    @classmethod
    def of(cls, before: int, looks: list[CameraLook]) -> LookRows:
        """Return the rows of looks below so many rows that are none."""
        response = np.array([look.response for look in looks])
        roots = value_roots(np.array([look.values for look in looks]))
        to_lab = np.array([look.to_lab for look in looks])
        are = np.arange(before + len(looks)) >= before
        grown = [np.concatenate([np.zeros((before, *one.shape[1:])), one]) for one in (response, roots, to_lab)]
        return cls(are, grown[0], grown[1], grown[2])

    def at(self, order: NDArray[np.intp] | NDArray[np.bool_]) -> LookRows:
        """Return some of them, in an order."""
        return LookRows(self.are[order], self.response[order], self.roots[order], self.to_lab[order])

    def with_plain(self, count: int) -> LookRows:
        """Return them with so many rows below that are no looks."""
        below = [np.zeros((count, *one.shape[1:])) for one in (self.response, self.roots, self.to_lab)]
        return LookRows(
            np.append(self.are, np.zeros(count, dtype=bool)),
            np.concatenate([self.response, below[0]]),
            np.concatenate([self.roots, below[1]]),
            np.concatenate([self.to_lab, below[2]]),
        )

    def off(self, spectra: Floats) -> Floats:
        """Return by how much spectra, shape (l, 31), of the looks would be seen off what was, in CIELAB, (l, 3)."""
        values = np.einsum("lw,lwk->lk", spectra, self.response[self.are])
        off: Floats = np.einsum("ljk,lk->lj", self.to_lab[self.are], value_roots(values) - self.roots[self.are])
        return off

    def slopes(self, spectra: Floats) -> Floats:
        """Return how that moves with the spectra, shape (l, 3, 31)."""
        response = self.response[self.are]
        steep = root_slopes(np.einsum("lw,lwk->lk", spectra, response))
        slopes: Floats = np.einsum("ljk,lk,lwk->ljw", self.to_lab[self.are], steep, response)
        return slopes


def value_roots(values: Floats) -> Floats:
    """Return the cube roots of camera values, which go on below 0: nearer to what an eye makes of them."""
    return np.asarray(np.cbrt((values + np.hypot(values, _FLOOR)) / 2))


def to_lab_by_roots(by_value: Floats, values: Floats) -> Floats:
    """Return how CIELAB moves with the roots, shape (3, 3), given how it moves with the values, (3, 3), at (3,)."""
    return np.asarray(by_value / root_slopes(values))


def root_slopes(values: Floats) -> Floats:
    """Return how the roots move with the values."""
    return np.asarray((1 + values / np.hypot(values, _FLOOR)) / (6 * value_roots(values) ** 2))
