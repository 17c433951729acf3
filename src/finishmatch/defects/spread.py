"""What a length in µm at the defect may be: the predictive distribution of a build, a depth, a cut."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from finishmatch.defects.film import FilmLayer
from finishmatch.defects.practice import Pair, Practice

Floats = npt.NDArray[np.floating[Any]]


@dataclass(frozen=True)
class StudentLength:
    """A length spread as Student's t about its centre; normal when the degrees of freedom are infinite.

    It is never negative: what the distribution puts below 0 is counted as no film at all.
    """

    centre_um: float
    scale_um: float
    freedom: float = math.inf

    def below(self, length_um: Floats) -> Floats:
        """Return the chance of being below each length (before what is negative is gathered at 0)."""
        from scipy.special import ndtr, stdtr

        if self.scale_um == 0:
            step: Floats = (length_um > self.centre_um) + 0.5 * (length_um == self.centre_um)
            return step
        standard = (length_um - self.centre_um) / self.scale_um
        chance: Floats = ndtr(standard) if math.isinf(self.freedom) else stdtr(self.freedom, standard)
        return chance

    @property
    def mean_um(self) -> float:
        """Its centre."""
        return self.centre_um

    @property
    def reach_um(self) -> float:
        """A length it exceeds once in a thousand at most."""
        from scipy.special import ndtri, stdtrit

        far = ndtri(0.999) if math.isinf(self.freedom) else stdtrit(self.freedom, 0.999)
        return max(0.0, self.centre_um + float(far) * self.scale_um)


@dataclass(frozen=True)
class EvenLength:
    """A length that is as likely anywhere from low to high."""

    low_um: float
    high_um: float

    def below(self, length_um: Floats) -> Floats:
        """Return the chance of being below each length."""
        chance: Floats = np.clip((length_um - self.low_um) / (self.high_um - self.low_um), 0.0, 1.0)
        return chance

    @property
    def mean_um(self) -> float:
        """Its middle."""
        return (self.low_um + self.high_um) / 2

    @property
    def reach_um(self) -> float:
        """Its upper end."""
        return self.high_um


Length = StudentLength | EvenLength


def normal_length(pair: Pair) -> StudentLength:
    """Return a normally spread length from its mean and standard deviation in µm."""
    return StudentLength(pair[0], pair[1])


def predicted_build(layer: FilmLayer, practice: Practice) -> StudentLength:
    """Return the build of a layer at a spot where it was not read, from readings around the spot.

    Parameters
    ----------
    layer : FilmLayer
        With n readings of mean m and standard deviation s.
    practice : Practice
        The gauge's error and the spread to assume where the readings can't tell.

    Returns
    -------
    StudentLength
        Student's t with n - 1 degrees of freedom about m, scale s·sqrt(1 + 1/n); s is not taken below the gauge's
        error. With one reading, or readings all the same, a normal distribution about m whose s is the assumed share
        of the build and the gauge's error, added as squares.

    References
    ----------
    Prediction of one further value from n of a normal distribution: ISO 16269-8. The assumed spread is
    «common practice».
    """
    n, mean = len(layer.builds_um), layer.mean_um
    widen = math.sqrt(1 + 1 / n)
    if spread_is_assumed(layer):
        return StudentLength(mean, widen * math.hypot(practice.spread * mean, practice.gauge_um))
    s = math.sqrt(math.fsum((build - mean) ** 2 for build in layer.builds_um) / (n - 1))
    return StudentLength(mean, widen * max(s, practice.gauge_um), n - 1)


def spread_is_assumed(layer: FilmLayer) -> bool:
    """Tell whether the readings can't tell a spread: there is one, or they are all the same."""
    return max(layer.builds_um) == min(layer.builds_um)
