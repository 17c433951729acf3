"""Which mixtures stand for a standard of which only a colour is known doesn't hang on the last digit of a float."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from finishmatch.evidence.target import colour_target
from finishmatch.mix.metamers import OF_EACH_SIZE, likely_metamers
from finishmatch.optics import TintOptics, fit_bank
from finishmatch.readings import Reading, read_bank
from tests.conftest import ROOT

LIGHTS = ("D65", "A", "F11")


def _trembling(optics: TintOptics, seed: int) -> TintOptics:
    """The same tints as another processor would have fitted them."""
    r = np.random.default_rng(seed)
    K, S = (values * (1 + 1e-12 * r.standard_normal(values.shape)) for values in (optics.K, optics.S))
    return replace(optics, K=K, S=S)


def test_the_same_mixtures_are_thought_of_on_every_machine() -> None:
    optics = fit_bank(read_bank(ROOT / "swatches/bank")).optics
    target = colour_target(Reading("piece", np.array([[44.6, -4.7, -15.6]])), LIGHTS, 10)
    first = likely_metamers(target, optics)
    assert first is not None
    assert len(first.spectra) > OF_EACH_SIZE
    for seed in range(3):
        again = likely_metamers(target, _trembling(optics, seed))
        assert again is not None
        np.testing.assert_allclose(again.spectra, first.spectra, atol=1e-4)
