"""What is gained by knowing today's tins: the first card of a recipe made for them, against one made for the bank's."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from booth.bank_writer import Noise, TintSpec
from booth.banks import booth_bank, tint_specs
from booth.virtual_booth import film_reflectance
from finishmatch.correct.correct import correct_batch
from finishmatch.correct.correction import Correction
from finishmatch.correct.updated_tin import TinRecord
from finishmatch.evidence.target import ColourTarget, colour_target
from finishmatch.mix.propose import propose_recipes
from finishmatch.mix.weighing import Scale
from finishmatch.mix.wishes import RecipeRequest
from finishmatch.optics import BankFit, Tint, fit_bank, volume_fractions
from finishmatch.optics.strength import StrengthPrior
from finishmatch.readings import Reading

LIGHTS = ("D65", "A", "F11")
READING_SD = 0.0005
READINGS = 3
WEIGHING_SD_G = 0.05
STRENGTH_SD = 0.05
BATCH_G = 500.0
SEED = 101
COUNT = 4  # docs/accuracy.md was measured with twelve


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


@dataclass(frozen=True)
class Told:
    """How far the strengths told are off, and the first cards of another colour of the same tins."""

    alone: float
    both: float
    unknown_tins: float
    known_tins: float
    held: float


def _error(told: Correction, shop: Shop, strengths: np.ndarray) -> float:
    """Mean square error of the logarithms of the strengths, less what all share, which a film that hides can't tell."""
    assert told.posterior is not None
    truth = np.log(strengths[[shop.fit.optics.index(name) for name in told.posterior.names]])
    error = told.posterior.log_mean - truth
    return float(((error - error.mean()) ** 2).mean())


def _run(shop: Shop, seed: int) -> Told:
    """A colour of three tints is poured, sprayed, corrected, sprayed again; then another colour of these is mixed."""
    r = np.random.default_rng(seed)
    names = shop.fit.optics.names
    strengths = np.exp(r.normal(0, STRENGTH_SD, len(names)))
    members = r.choice(len(names), 3, replace=False)

    def colour() -> np.ndarray:
        wanted = np.zeros(len(names))
        wanted[members] = r.dirichlet(np.full(3, 2.0))
        return wanted

    wanted = colour()
    target = colour_target(Reading("target", read(shop.spray(wanted, np.ones(len(names))), r)), LIGHTS, 10)

    def judged(grams: np.ndarray, card: Reading, prior: StrengthPrior | None) -> Correction:
        batch = tuple((name, float(g)) for name, g in zip(names, grams, strict=True) if g > 0)
        scale, record = Scale(letdowns=False), TinRecord(prior)  # which strengths are found is asked, not the pour
        return correct_batch(target, shop.fit.optics, shop.tints, batch, card, 0.15, 0.5, scale, record)

    tin = poured(tuple((names[i], round(BATCH_G * wanted[i], 1)) for i in members), names, r)
    first = judged(tin, Reading("card 1", read(shop.spray(tin, strengths), r)), None)
    tin = tin + poured(first.additions, names, r)
    second_card = Reading("card 2", read(shop.spray(tin, strengths), r))
    both, alone = judged(tin, second_card, first.posterior), judged(tin, second_card, None)

    truth = shop.spray(colour(), np.ones(len(names)))
    goal = colour_target(Reading("next", read(truth, r)), LIGHTS, 10)
    judge = colour_target(Reading("truth", truth[None]), LIGHTS, 10)
    worst, held = [], []
    for prior in (None, both.posterior):
        recipe = propose_recipes(goal, shop.fit.optics, shop.tints, BATCH_G, RecipeRequest(prior=prior)).recipes[0]
        card = off(judge, shop.spray(poured(recipe.parts, names, r), strengths))
        worst.append(max(card.values()))
        held = [low <= card[light] <= high for light, (low, high) in recipe.intervals.items()]
    return Told(_error(alone, shop, strengths), _error(both, shop, strengths), *worst, float(np.mean(held)))


@pytest.fixture(scope="module")
def told() -> list[Told]:
    """Jobs in one shop."""
    shop = open_shop(SEED)
    return [_run(shop, 5000 * SEED + i) for i in range(COUNT)]


def test_two_cards_tell_more_of_the_tins_than_one(told: list[Told]) -> None:
    alone, both = (float(np.sqrt(np.mean([getattr(job, name) for job in told]))) for name in ("alone", "both"))
    print(f"\nstrengths off (SD): by the second card alone {100 * alone:.1f} %, by both {100 * both:.1f} %")
    assert both < alone


def test_a_recipe_for_known_tins_comes_nearer_at_the_first_card(told: list[Told]) -> None:
    unknown, known = [job.unknown_tins for job in told], [job.known_tins for job in told]
    for name, values in (("as the bank's", unknown), ("as the cards told", known)):
        print(f"\nfirst card, tins {name}: median {np.median(values):.2f}, 95th {np.percentile(values, 95):.2f}")
    assert np.median(known) < np.median(unknown)
    assert np.percentile(known, 95) < 0.75 * np.percentile(unknown, 95)
    assert np.mean([job.held for job in told]) >= 0.8  # of some tens of intervals that hold 95 times in 100
