"""Whether the panels that `bank plan` asks for tell as much as letdowns of all tints alike.

Shops of real pigments as in `test_pigment_prior`, seen by a phone, with nothing known of their tins but their Colour
Index names: as weak as watercolours are against their white, and five times as strong. `python -m
benchmarks.test_panel_plan` measures eight shops.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import pytest

from benchmarks.test_pigment_prior import TINTS, Shop
from finishmatch.colour import Floats, de00, reflectance_to_lab
from finishmatch.optics import fit_bank, predicted_reflectance
from finishmatch.optics.panel_plan import plan_panels

COUNTS = (TINTS, 2 * TINTS - 1)
STRENGTHS = (1.0, 5.0)  # of the tints against watercolours, all beside the white
WITHOUT = {COUNTS[0]: (0.1,), COUNTS[1]: (0.4, 0.05)}  # shares of each tint in the white, with the white itself


def planned(shop: Shop, count: int) -> Floats:
    """Return grams of the panels that are asked for of a bank of nothing, shape (count, TINTS)."""
    bank = replace(shop.named("named"), panels=())
    names = [tint.name for tint in bank.tints]
    grams = np.zeros((count, TINTS))
    for row, panel in zip(grams, plan_panels(bank, count).panels, strict=True):
        for tint, weight in panel.parts:
            row[names.index(tint)] = weight
    return grams


def unplanned(shop: Shop, count: int) -> Floats:
    """Return grams of the white and of letdowns of all tints alike, shape (count, TINTS)."""
    white, tints = 100 * np.eye(TINTS)[0], 100 * np.eye(TINTS)[1:]
    return np.array([white, *(share * tint + (1 - share) * white for share in WITHOUT[count] for tint in tints)])


def off(
    seeds: Sequence[int], count: int, way: Callable[[Shop, int], Floats], strength: float = 1.0
) -> tuple[float, float]:
    """Return how far mixtures nobody drew are foretold from what they are, D65: median and 90 in 100, ΔE00."""
    found: list[float] = []
    for seed in seeds:
        shop = Shop(seed, 2)
        shop.K[1:] *= strength
        shop.S[1:] *= strength
        shop.draw_down(way(shop, count))
        optics, grams = fit_bank(shop.named("named")).optics, wished()
        labs = [reflectance_to_lab(each) for each in (predicted_reflectance(optics, grams), shop.true(grams))]
        found += list(de00(*labs))
    return float(np.median(found)), float(np.quantile(found, 0.9))


def wished() -> Floats:
    """Return grams of mixtures of one to three tints with white, light and dark ones, shape (40, TINTS)."""
    r, grams = np.random.default_rng(9), np.zeros((40, TINTS))
    for row in grams:
        used = r.choice(np.arange(1, TINTS), int(r.integers(1, 4)), replace=False)
        row[used] = np.exp(r.uniform(np.log(0.5), np.log(40), used.size))
        row[0] = max(100 - row.sum(), 0.0)
    return grams


@pytest.mark.parametrize("strength", STRENGTHS)
def test_planned_panels_tell_as_much_as_letdowns_of_all_tints(strength: float) -> None:
    asked, plain = (off(range(4), COUNTS[1], way, strength) for way in (planned, unplanned))
    print(f"\nas planned {asked[0]:.2f}, {asked[1]:.2f}; letdowns {plain[0]:.2f}, {plain[1]:.2f}")
    assert asked[0] <= 1.25 * plain[0]
    assert asked[1] <= 1.25 * plain[1]


if __name__ == "__main__":
    for times in STRENGTHS:
        for one in COUNTS:
            for each in (planned, unplanned):
                middle, most = off(range(8), one, each, times)
                print(f"{times:g} times as strong, {one} panels, {each.__name__}: {middle:.2f}, {most:.2f}", flush=True)
