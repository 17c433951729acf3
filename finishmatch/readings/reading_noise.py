"""How far the mean of a reading's repeats is off: by noise, and by where on the sample each was read."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from finishmatch.optics.panel_set import REPEATABILITY_SD
from finishmatch.readings.reading import Reading

# of the reflectance at all wavelengths together, by the place on a sample that was read and how the instrument stood
# there («common practice»: half a tenth of L* on a mid grey)
PLACE_SD = 0.0008
_PLACE_WORTH = 2  # repeats: what they show of it counts for more than that the more of them there are


@dataclass(frozen=True)
class ReadingNoise:
    """Standard deviations of the mean of a spectrum's repeats.

    Parameters
    ----------
    each : float
        Of its reflectance at each wavelength by itself.
    together : float
        Of its reflectance at all wavelengths together.
    """

    each: float
    together: float


def reading_noise(reading: Reading) -> ReadingNoise:
    """Return how far the mean of a spectrum's repeats is off.

    Notes
    -----
    Repeats at several places of a panel part from one another as a whole, and colour keeps what all wavelengths share;
    noise of each wavelength all but averages out in it. So the two are told apart by the variance of the repeats' means
    and that of what is left (one-way analysis of variance), the first drawn to `PLACE_SD`, as few repeats show little
    of it.
    """
    count, wavelengths = reading.repeats.shape
    means = reading.repeats.mean(axis=1)
    seen = between = 0.0
    if count > 1:
        seen = float((reading.repeats - means[:, None]).var(axis=0, ddof=1).mean())
        between = max(float(means.var(ddof=1)) - seen / wavelengths, 0.0)
    together = (_PLACE_WORTH * PLACE_SD**2 + (count - 1) * between) / (_PLACE_WORTH + count - 1)
    return ReadingNoise(
        float(np.sqrt(max(REPEATABILITY_SD**2, seen) / count)),
        float(np.sqrt(together / count)),
    )
