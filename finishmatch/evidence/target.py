"""What a recipe is to match: a spectrum, or CIELAB under one light."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from finishmatch.colour import (
    Floats,
    de00,
    de00_metric,
    de00_vectors,
    de00_vectors_and_slope,
    weights,
    white_point,
    xyz_to_lab,
    xyz_to_lab_slope,
)
from finishmatch.colour.local_metric import WITHIN_95
from finishmatch.errors import InputError
from finishmatch.optics.panel_set import REPEATABILITY_SD
from finishmatch.readings import Reading
from finishmatch.readings.reading_noise import reading_noise
from finishmatch.readings.seen import covariance_within


@dataclass(frozen=True)
class ColourTarget:
    """A colour to be matched, as seen in the lights it is to be judged in.

    Parameters
    ----------
    name : str
    reflectance : ndarray, shape (31,), or None
        None when only CIELAB is known.
    lights : tuple of str
        The lights the match is judged in; the first is the reference. With only CIELAB, the one it is known under.
    observer : int
    labs : ndarray, shape (lights, 3)
    warnings : tuple of str
        What can't be promised of this target.
    far : bool
        Whether it lies so far from what can be mixed that nearness is measured in ΔE*ab: CIEDE2000 was made for small
        differences, and beyond them its rotation term takes a grey for nearer to a vivid blue than a paler blue is.
    reading_sd : float
        Standard deviation of its reflectance at each wavelength, by the noise of its readings.
    place_sd : float
        Standard deviation of its reflectance at all wavelengths together, by where on the sample it was read.
    conversion_sd : ndarray, shape (31,), or None
        Standard deviation of its reflectance, at all wavelengths together, when it was converted from another geometry.
    unseen_lights : tuple of str
        With only CIELAB, the lights it was to be judged in as well, in which it isn't known.
    covariance : ndarray, shape (3, 3), or None
        How surely it is known what the colour itself is, in CIELAB of its first light; None where nothing says so.
    u95 : float or None
        The same as the ΔE00 that holds it 95 times in 100.
    likely : ndarray, shape (m, 31), or None
        With only CIELAB, what its spectrum may be, each as likely as the next, where a camera saw more than a colour.
    """

    name: str
    reflectance: Floats | None
    lights: tuple[str, ...]
    observer: int
    labs: Floats
    warnings: tuple[str, ...] = ()
    far: bool = False
    reading_sd: float = 0.0
    place_sd: float = 0.0
    conversion_sd: Floats | None = None
    unseen_lights: tuple[str, ...] = ()
    covariance: Floats | None = None
    u95: float | None = None
    likely: Floats | None = None

    def distances(self, reflectance: Floats) -> Floats:
        """Return what is made small, in each light: ΔE00, or for a far target ΔE*ab, of spectra of shape (..., 31)."""
        distance: Floats = np.sqrt((self.vectors(reflectance) ** 2).sum(axis=-1))
        return distance

    def differences(self, reflectance: Floats) -> Floats:
        """Return ΔE00 to the target in each light, shape (..., lights), of spectra of shape (..., 31)."""
        de: Floats = de00(self.labs, self._labs_of(reflectance))
        return de

    def vectors(self, reflectance: Floats) -> Floats:
        """Return differences to the target as vectors of length ΔE00, shape (..., lights, 3)."""
        labs = self._labs_of(reflectance)
        return labs - self.labs if self.far else de00_vectors(self.labs, labs)

    def vectors_and_slope(self, reflectance: Floats) -> tuple[Floats, Floats]:
        """Return `vectors` and their slope with respect to the spectrum, shape (..., lights, 3, 31)."""
        table, white = _lights_together(self.lights, self.observer)
        xyz = self._xyz_of(reflectance)
        labs, per_xyz = xyz_to_lab(xyz, white), xyz_to_lab_slope(xyz, white)
        per_light = table.T.reshape(*white.shape, -1)
        if self.far:
            return labs - self.labs, np.matmul(per_xyz, per_light)
        vectors, per_lab = de00_vectors_and_slope(self.labs, labs)
        return vectors, np.matmul(np.matmul(per_lab, per_xyz), per_light)

    def _labs_of(self, reflectance: Floats) -> Floats:
        return xyz_to_lab(self._xyz_of(reflectance), _lights_together(self.lights, self.observer)[1])

    def _xyz_of(self, reflectance: Floats) -> Floats:
        table, white = _lights_together(self.lights, self.observer)
        xyz: Floats = np.asarray(reflectance) @ table
        return xyz.reshape(*xyz.shape[:-1], *white.shape)


@cache
def _lights_together(lights: tuple[str, ...], observer: int) -> tuple[Floats, Floats]:
    """Return the tristimulus weights of all lights side by side, shape (31, 3·lights), and their whites (lights, 3)."""
    return (
        np.concatenate([weights(light, observer) for light in lights], axis=1),
        np.stack([white_point(light, observer) for light in lights]),
    )


def colour_target(reading: Reading, lights: tuple[str, ...], observer: int) -> ColourTarget:
    """Return the target a reading stands for, judged in the lights named.

    Raises
    ------
    InputError
        When no light is named, or a CIELAB reading's own light is not the one asked for.
    """
    if not lights:
        raise InputError("`lights`", "no light is named", "name at least one, for example D65")
    covariance, u95 = _known_to(reading)
    if reading.reflectance is not None:
        labs = np.stack([reading.lab_in(light, observer) for light in lights])
        noise = REPEATABILITY_SD / float(np.sqrt(len(reading.repeats)))
        return ColourTarget(
            reading.name,
            reading.reflectance,
            lights,
            observer,
            labs,
            reading.warnings,
            reading_sd=noise,
            place_sd=reading_noise(reading).together,
            conversion_sd=reading.conversion_sd,
            covariance=covariance,
            u95=u95,
        )
    warning = (
        f"only Lab under {reading.light}, {reading.observer}° is known of {reading.name}: the match is made there; "
        "without a spectrum nothing can be promised in another light (metamerism)"
    )
    lab = reading.lab_in(reading.light, reading.observer)
    return ColourTarget(
        reading.name,
        None,
        (reading.light,),
        reading.observer,
        lab[None],
        (*reading.warnings, warning),
        conversion_sd=reading.conversion_sd,
        unseen_lights=tuple(light for light in lights if light != reading.light),
        covariance=covariance,
        u95=u95,
    )


def _known_to(reading: Reading) -> tuple[Floats | None, float | None]:
    """Return how surely a colour is known by what its file says, as covariance and as ΔE00."""
    facts = reading.target
    if facts is None or not (facts.u95 or facts.covariance is not None):
        return None, None
    lab = reading.lab_in(reading.light, reading.observer)
    covariance = covariance_within(facts.u95 or 0.0, lab) if facts.covariance is None else facts.covariance
    metric = de00_metric(lab)
    u95 = facts.u95 or WITHIN_95 * float(np.sqrt(np.trace(metric @ covariance @ metric.T) / 3))
    return covariance, u95
