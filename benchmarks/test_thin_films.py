"""Thin films over black and white, of mixtures no panel held: colour and contrast ratio, against the booth."""

from __future__ import annotations

import numpy as np
import pytest

from booth.bank_writer import BLACK_GROUND, WHITE_GROUND, Noise
from booth.banks import booth_bank, random_grams, tint_specs
from booth.virtual_booth import film_reflectance
from finishmatch.colour import de00, reflectance_to_lab, reflectance_to_xyz
from finishmatch.mix.hiding_build import contrast_ratio
from finishmatch.optics import Backing, fit_bank, predicted_reflectance, volume_fractions

BANKS = ((4, 0.0), (5, 0.0), (4, 0.6), (5, 0.6))  # seed, and how far the pigments scatter forward
FILMS = 40


def film_errors(seed: int, anisotropy: float, noise: Noise) -> tuple[list[float], list[float]]:
    """ΔE00 of films of 30 to 80 µm over black and over white, and the errors of their contrast ratios."""
    tints = tint_specs(seed, 10, anisotropy)
    pigments = [tint.pigment for tint in tints]
    optics = fit_bank(booth_bank(tints, noise, thin=True, seed=seed)).optics
    grams = random_grams(seed + 50, 10, FILMS)
    builds = np.random.default_rng(seed + 2).uniform(30, 80, FILMS)
    off, ratios = [], []
    for share, weighed, build in zip(volume_fractions(grams, optics.dry_ml_per_g), grams, builds, strict=True):
        luminous = []
        for ground in (BLACK_GROUND, WHITE_GROUND):
            true = film_reflectance(share, pigments, build_um=build, ground=ground)
            ours = predicted_reflectance(optics.over(Backing("card", build, ground)), weighed)
            off.append(float(de00(reflectance_to_lab(true), reflectance_to_lab(ours))))
            luminous.append(float(reflectance_to_xyz(true)[1]))
        black, white = luminous
        ratios.append(abs(black / white - contrast_ratio(optics, weighed, build, BLACK_GROUND, WHITE_GROUND)))
    return off, ratios


@pytest.mark.parametrize(
    ("noise", "median", "high", "ratio", "worst_bank"),
    [(Noise(), 0.15, 0.4, 0.003, 0.003), (Noise(0.0005, 0.05), 0.3, 0.6, 0.003, 0.0035)],
    ids=["read without noise", "with the booth's noise"],
)
def test_films_over_black_and_white(noise: Noise, median: float, high: float, ratio: float, worst_bank: float) -> None:
    banks = BANKS if noise != Noise() else BANKS[::2]  # without noise one bank of each kind tells the theory
    found = [film_errors(seed, anisotropy, noise) for seed, anisotropy in banks]
    for (seed, g), (off, ratios) in zip(banks, found, strict=True):
        print(
            f"\nbank {seed}, g {g}: ΔE00 median {np.median(off):.3f}, 95th {np.percentile(off, 95):.3f}, worst "
            f"{max(off):.3f}; contrast ratio off by {np.percentile(ratios, 95):.4f} (95th)"
        )
    for g in (0.0, 0.6):
        of_kind = np.concatenate([off for (_, own), (off, _) in zip(banks, found, strict=True) if own == g])
        print(f"g {g}: {np.median(of_kind):.3f} / {np.percentile(of_kind, 95):.3f} / {max(of_kind):.3f}")
    off, ratios = (np.concatenate([each[i] for each in found]) for i in (0, 1))
    print(
        f"all: ΔE00 median {np.median(off):.3f}, 95th {np.percentile(off, 95):.3f}; contrast ratio 95th "
        f"{np.percentile(ratios, 95):.4f}"
    )
    assert np.median(off) <= median
    assert np.percentile(off, 95) <= high
    assert np.percentile(ratios, 95) <= ratio
    assert max(np.percentile(each[1], 95) for each in found) <= worst_bank
