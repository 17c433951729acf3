"""A whole job in the virtual booth, many times over: a noisy bank, tins of another strength, a card, one correction.

The pigments come from a seed and are not the demo's; the booth is adding-doubling (iadpython), which knows nothing of
the optics the product uses.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from booth.bank_writer import Noise, TintSpec
from booth.banks import booth_bank, tint_specs
from booth.virtual_booth import film_reflectance
from finishmatch.correct.correct import Correction, correct_batch
from finishmatch.evidence.target import ColourTarget, colour_target
from finishmatch.mix.propose import propose_recipes
from finishmatch.mix.recipe import Recipe
from finishmatch.optics import BankFit, Tint, fit_bank, volume_fractions
from finishmatch.readings import Reading

LIGHTS = ("D65", "A", "F11")
READING_SD = 0.0005
READINGS = 3
WEIGHING_SD_G = 0.05
STRENGTH_SD = 0.05
BATCH_G = 500.0


@dataclass(frozen=True)
class Job:
    """What came of one job: what was promised, and the true ΔE00 in each light of the first and the corrected card."""

    recipe: Recipe
    first: dict[str, float]
    correction: Correction
    second: dict[str, float]


@dataclass(frozen=True)
class Shop:
    """A bank of tints with its fit."""

    specs: list[TintSpec]
    tints: tuple[Tint, ...]
    fit: BankFit

    def spray(self, grams: np.ndarray, strengths: np.ndarray) -> np.ndarray:
        """Return the true reading of a hiding film of grams from tins of these strengths."""
        shares = volume_fractions(grams, self.fit.optics.dry_ml_per_g)
        pigments = [spec.pigment.strengthened(float(s)) for spec, s in zip(self.specs, strengths, strict=True)]
        return film_reflectance(shares, pigments)


def open_shop(seed: int, count: int = 10, anisotropy: float = 0.0) -> Shop:
    """Return a shop whose bank was read and weighed with the booth's noise."""
    specs = tint_specs(seed, count, anisotropy)
    bank = booth_bank(specs, Noise(READING_SD, WEIGHING_SD_G), seed=seed)
    return Shop(specs, bank.tints, fit_bank(bank))


def run_job(shop: Shop, seed: int, tolerance: float, max_growth: float = 0.2) -> Job:
    """Match a random colour of 2 to 4 of the tints, spray, correct once, and spray again."""
    r = np.random.default_rng(seed)
    n = len(shop.specs)
    wanted = np.zeros(n)
    members = r.choice(n, int(r.integers(2, 5)), replace=False)
    wanted[members] = r.dirichlet(np.ones(members.size))
    truth = shop.spray(wanted, np.ones(n))
    target = colour_target(Reading("target", read(truth, r)), LIGHTS, 10)
    judge = colour_target(Reading("truth", truth[None]), LIGHTS, 10)
    strengths = np.exp(r.normal(0, STRENGTH_SD, n))
    recipe = propose_recipes(target, shop.fit.optics, shop.tints, BATCH_G).recipes[0]
    names = shop.fit.optics.names
    tin = poured(recipe.parts, names, r)
    card = shop.spray(tin, strengths)
    batch = tuple((name, float(g)) for name, g in zip(names, tin, strict=True) if g > 0)
    correction = correct_batch(
        target, shop.fit.optics, shop.tints, batch, Reading("card", read(card, r)), tolerance, max_growth
    )
    corrected = shop.spray(tin + poured(correction.additions, names, r), strengths)
    return Job(recipe, off(judge, card), correction, off(judge, corrected))


def read(truth: np.ndarray, r: np.random.Generator) -> np.ndarray:
    """Return the repeats of a reading, shape (READINGS, 31)."""
    return truth[None] + r.normal(0, READING_SD, (READINGS, truth.size))


def poured(parts: tuple[tuple[str, float], ...], names: tuple[str, ...], r: np.random.Generator) -> np.ndarray:
    """Return what is poured for parts that were asked for: off by half a scale step of 0.1 g at most."""
    grams = np.zeros(len(names))
    for name, weight in parts:
        grams[names.index(name)] += max(weight + r.uniform(-0.05, 0.05), 0)
    return grams


def off(judge: ColourTarget, card: np.ndarray) -> dict[str, float]:
    """Return the true ΔE00 of a card in each light."""
    return {light: float(de) for light, de in zip(judge.lights, judge.differences(card), strict=True)}
