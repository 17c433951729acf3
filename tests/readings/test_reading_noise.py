"""How far the mean of repeats is off: noise of each wavelength, and the place that was read, told apart."""

from __future__ import annotations

import numpy as np
import pytest

from finishmatch.optics.panel_set import REPEATABILITY_SD
from finishmatch.readings import Reading
from finishmatch.readings.reading_noise import PLACE_SD, reading_noise


def _read(each: float, place: float, count: int, seed: int = 3) -> Reading:
    r = np.random.default_rng(seed)
    spectra = 0.3 + place * r.standard_normal((count, 1)) + each * r.standard_normal((count, 31))
    return Reading("panel", spectra)


def test_many_repeats_tell_noise_and_place_apart() -> None:
    count = 400
    found = reading_noise(_read(0.002, 0.005, count))
    assert found.each * count**0.5 == pytest.approx(0.002, rel=0.03)
    assert found.together * count**0.5 == pytest.approx(0.005, rel=0.1)
    assert reading_noise(_read(0.002, 0.0, count)).together * count**0.5 < 0.2 * PLACE_SD


def test_one_reading_is_taken_as_common_practice_has_it() -> None:
    found = reading_noise(_read(0.0, 0.0, 1))
    assert found.each == pytest.approx(REPEATABILITY_SD)
    assert found.together == pytest.approx(PLACE_SD)


def test_three_repeats_hold_the_mean_as_often_as_they_say() -> None:
    place, found = PLACE_SD, []
    for seed in range(300):
        read = _read(0.0005, place, 3, seed)
        off = float(read.repeats.mean()) - 0.3
        found.append(abs(off) <= 1.96 * np.hypot(reading_noise(read).together, 0.0005 / 93**0.5))
    assert 0.85 <= np.mean(found) <= 0.98
