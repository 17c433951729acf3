"""More panels a tint never make the fit worse: mixtures no panel held, by 1 to 8 letdowns of each tint."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import pytest

from booth.banks import tint_specs
from booth.virtual_booth import film_reflectance
from finishmatch.colour import Floats, de00, reflectance_to_lab
from finishmatch.optics import Bank, Panel, Tint, fit_bank, predicted_reflectance, volume_fractions

TINTS, MIXTURES = 6, 40
COUNTS = (1, 2, 4, 8)
SEEDS, ALL_SEEDS = range(31, 34), range(31, 37)  # of every check, and of `python -m benchmarks.test_more_panels`
LEAST, MOST = 0.3, 30.0  # per cent of a tint in the white, of letdowns and of the mixtures that are foretold


@dataclass(frozen=True)
class Booth:
    """How surely panels are made: SD of a reading, of a panel's whole reading, of an instrument, of a tint's amount."""

    reading_sd: float
    panel_sd: float
    instrument_sd: float
    amount_sd: float


CALM = Booth(0.0003, 0.0, 0.0, 0.002)
ROUGH = Booth(0.0005, 0.002, 0.004, 0.045)


def bank_and_mixtures(seed: int, booth: Booth) -> tuple[Bank, list[int], Floats, Floats]:
    """Return a bank of eight letdowns a tint, which letdown each panel is, and mixtures with what is read of them."""
    specs = tint_specs(seed, TINTS, 0.3)
    r = np.random.default_rng(seed)
    dry = np.array([spec.volume_solids / spec.density_kg_l for spec in specs])
    gain = 1 + booth.instrument_sd * r.standard_normal()

    def read(grams: Floats) -> Floats:
        off = np.exp(booth.amount_sd * r.standard_normal(grams.shape) * (grams < 50))
        true = film_reflectance(volume_fractions(grams, dry) * off, [spec.pigment for spec in specs])
        noise = booth.reading_sd * r.standard_normal(true.shape) + booth.panel_sd * r.standard_normal((len(true), 1))
        return np.clip(true * gain + noise, 1e-4, 1.1)

    white = np.eye(TINTS)[0] * 100
    grams, order = [white], [-1]
    for tint in range(1, TINTS):
        for at, share in enumerate(r.permutation(np.geomspace(LEAST, MOST, max(COUNTS)))):
            grams.append(white * (1 - share / 100) + np.eye(TINTS)[tint] * share)
            order.append(at)
    tints = tuple(Tint(s.name, s.role, "", s.density_kg_l, s.volume_solids, 30.0, 5000.0) for s in specs)
    panels = tuple(
        Panel(
            f"panel {i}",
            tuple((spec.name, float(g)) for spec, g in zip(specs, weighed, strict=True) if g > 0),
            None, None, reading[None],
        )
        for i, (weighed, reading) in enumerate(zip(grams, read(np.array(grams)), strict=True))
    )  # fmt: skip
    mixtures = np.zeros((MIXTURES, TINTS))
    for mixture in mixtures:
        used = r.choice(np.arange(1, TINTS), int(r.integers(2, 5)), replace=False)
        mixture[used] = np.exp(r.uniform(np.log(LEAST), np.log(MOST / 4), used.size))
        mixture[0] = 100 - mixture.sum()
    return Bank("drawn", "di8", 1.5, tints, panels, (), "x"), order, mixtures, read(mixtures)


def errors(seed: int, booth: Booth) -> list[float]:
    """Return the mean ΔE00 of the mixtures for each count of panels a tint."""
    bank, order, grams, read = bank_and_mixtures(seed, booth)
    found = []
    for count in COUNTS:
        panels = tuple(panel for panel, at in zip(bank.panels, order, strict=True) if at < count)
        foretold = predicted_reflectance(fit_bank(Bank("b", "di8", 1.5, bank.tints, panels, (), "x")).optics, grams)
        found.append(float(de00(reflectance_to_lab(foretold), reflectance_to_lab(read)).mean()))
    return found


@pytest.mark.parametrize("booth", [CALM, ROUGH], ids=["calm", "rough"])
def test_more_panels_never_hurt(booth: Booth) -> None:
    found = measured(booth, SEEDS)
    steps = np.diff(found, axis=1)
    chance = steps.std(axis=0, ddof=1) / np.sqrt(len(steps))
    assert (steps.mean(axis=0) <= 2 * chance).all()
    assert (found[:, -1] < found[:, 0]).mean() >= 0.8


def measured(booth: Booth, seeds: Iterable[int]) -> Floats:
    """Return the errors of some banks, (banks, counts), printed."""
    found = np.array([errors(seed, booth) for seed in seeds])
    for count, off in zip(COUNTS, found.T, strict=True):
        print(f"\n{count} letdowns a tint: ΔE00 of unseen mixtures {off.mean():.3f}, worst bank {off.max():.3f}")
    return found


if __name__ == "__main__":
    for one in (CALM, ROUGH):
        measured(one, ALL_SEEDS)
