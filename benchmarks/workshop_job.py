"""Jobs in a shop of the virtual booth, one after the other, with the record that the shop keeps of its tins.

A tin lasts some jobs, then one of another strength is opened. What is asked for is poured by hand, and what the scale
shows is what the batch is said to be. Each job matches a colour that its tints can make, sprays, corrects twice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from booth.workshop import Conditions, Workshop
from finishmatch.colour import Floats
from finishmatch.correct.card_as_panel import card_panel
from finishmatch.correct.card_strengths import card_strengths
from finishmatch.correct.correct import correct_batch
from finishmatch.correct.correction import Correction
from finishmatch.correct.next_card import next_card
from finishmatch.correct.updated_tin import EarlierCard, TinRecord, updated_tin
from finishmatch.evidence.target import ColourTarget, colour_target
from finishmatch.mix.foretold import Foretold, against_foretold, borne_out
from finishmatch.mix.propose import propose_recipes
from finishmatch.mix.recipe import Recipe
from finishmatch.mix.weighing import Scale
from finishmatch.mix.wishes import RecipeRequest
from finishmatch.optics import CardPanel, TintOptics, bank_today, fit_bank
from finishmatch.optics.strength import StrengthEvidence, StrengthPrior, lot_spread
from finishmatch.readings import Reading
from finishmatch.steps.tins_to_try import tins_to_try

LIGHTS = ("D65", "A", "F11")
BATCH_G = 500.0
MAX_GROWTH = 0.2
NEW_TIN = 0.1  # how often a tin is empty after a job
CORRECTIONS = 2

Parts = tuple[tuple[str, float], ...]
Intervals = dict[str, tuple[float, float]]


@dataclass(frozen=True)
class ShopJob:
    """What came of one job.

    Parameters
    ----------
    off : tuple of float
        True ΔE00 in the worst light of the first card and of the corrected ones.
    held : tuple of (bool, ...)
        For each card and light, whether the range stated beforehand holds the true difference.
    predicted : bool
        Whether the first card reads within the `u95` of what was predicted of the batch.
    chances : tuple of (float, bool, bool)
        The chance stated of being inside the tolerance, whether the card then read inside, and whether it truly was.
    held_as_read : tuple of (bool, ...)
        For each corrected card and light, whether the range stated beforehand holds the difference that was read.
    predicted_again : tuple of bool
        Whether each corrected card reads within the `u95` of what was predicted of its batch by the card before it.
    growth : float
        Of the tin, in all, beyond what was wanted; below 0 where it came to less.
    letdowns : int
        By which tins were tried before the recipe.
    times : float
        How many times as far off as is to be expected first cards came so far.
    """

    off: tuple[float, ...]
    held: tuple[tuple[bool, ...], ...]
    predicted: bool
    chances: tuple[tuple[float, bool, bool], ...]
    held_as_read: tuple[tuple[bool, ...], ...]
    predicted_again: tuple[bool, ...]
    growth: float
    letdowns: int = 0
    times: float = 1.0


class Shop:
    """A shop with its fitted bank, its tins and its record.

    `tries` is whether a tin that `mix` asks to try is tried by a letdown, weighed as its panel was and read.
    """

    def __init__(self, conditions: Conditions, seed: int, tries: bool = False) -> None:
        self.workshop, self.tries = Workshop(conditions, seed), tries
        self.bank = self.workshop.bank()
        self.fit = fit_bank(self.bank)
        self._random = np.random.default_rng([seed, 77])
        self.strengths = self.workshop.lots(self._random)
        self.lot = np.zeros(len(self.names), dtype=int)
        self.record: list[StrengthEvidence] = []
        self.letdowns: list[StrengthEvidence] = []
        self.cards: list[CardPanel] = []
        self.foretold: list[Foretold] = []
        self.foretold_by_cards: list[Foretold] = []
        self.tin_cards: list[EarlierCard] = []
        self.known_before: tuple[TintOptics, StrengthPrior] | None = None

    @property
    def names(self) -> tuple[str, ...]:
        """The tints."""
        return self.fit.optics.names

    def tin(self, name: str) -> str:
        """Return what sets the open tin of a tint apart."""
        return f"{name}#{self.lot[self.names.index(name)]}"

    def today(self) -> tuple[TintOptics, StrengthPrior]:
        """Return the bank with the cards of the record, and what these show of the open tins."""
        spread = lot_spread([*self.record, *self.letdowns])
        found = bank_today(self.fit, self.cards, {name: self.tin(name) for name in self.names}, spread)
        tins = found.tins.given(*self.letdowns).chosen([self.tin(name) for name in self.names])
        return found.fit.optics, replace(tins, names=self.names)

    def remember(self, job: int, batch: Parts, reading: Reading) -> None:
        """Keep a card, and what it shows of its tins by itself."""
        own, tints = self.fit.optics, self.workshop.tints
        card = card_panel(own, tints, batch, reading, Scale())
        self.cards.append(replace(card, tins=tuple(self.tin(name) for name in card.names), mixture=f"job {job}"))
        self.record.append(self._shown(batch, reading))

    def _shown(self, parts: Parts, reading: Reading) -> StrengthEvidence:
        """Return what a card or letdown by itself shows of its tins."""
        before = [*self.record, *self.letdowns]
        known = StrengthPrior.default((), lot_spread(before)).given(*before)
        known = replace(known.chosen([self.tin(name) for name in self.names]), names=self.names)
        shown = card_strengths(self.fit.optics, self.workshop.tints, parts, reading, Scale(), known).evidence
        return replace(shown, names=tuple(self.tin(name) for name in shown.names))

    def try_tins(self, recipe: Recipe, r: np.random.Generator) -> bool:
        """Draw and read a letdown of each tin that `mix` asks to try; return whether it asked for any."""
        if not self.tries or recipe.first_pour is None:
            return False
        shown = [one.names for one in [*self.record, *self.letdowns]]
        together = [[name for name in self.names if self.tin(name) in tins] for tins in shown]
        asked = tins_to_try(self.bank, recipe.parts, self.today()[1], together)
        for one in asked:
            grams = grams_of(one.parts, self.names)
            weighed = grams * np.exp(self.workshop.conditions.amount * r.standard_normal(grams.shape))
            read = self.workshop.read(self.workshop.spray(weighed, self.strengths, r), r)
            self.letdowns.append(self._shown(tuple(one.parts), Reading("letdown", read)))
        return bool(asked)

    def open_new_tins(self) -> None:
        """Open a new tin of each tint that ran out."""
        empty = self._random.uniform(size=len(self.names)) < NEW_TIN
        self.strengths = np.where(empty, self.workshop.lots(self._random), self.strengths)
        self.lot = self.lot + empty


def run_jobs(conditions: Conditions, seed: int, count: int, tolerance: float, tries: bool = False) -> list[ShopJob]:
    """Return some jobs of one shop, in order."""
    shop, jobs = Shop(conditions, seed, tries), []
    for number in range(count):
        jobs.append(_run_job(shop, number, np.random.default_rng([seed, number]), tolerance))
        shop.open_new_tins()
    return jobs


def wished_for(shop: Shop, r: np.random.Generator) -> Floats:
    """Return grams of a colour of two to four tints; where the bank only has letdowns, of as many in the white."""
    n = len(shop.names)
    wished = np.zeros(n)
    if shop.workshop.conditions.doses_percent is None:
        members = r.choice(n, int(r.integers(2, 5)), replace=False)
        wished[members] = r.dirichlet(np.ones(members.size))
        return wished
    members = r.choice(np.arange(1, n), int(r.integers(2, 5)), replace=False)
    wished[members] = np.exp(r.uniform(np.log(0.3), np.log(4), members.size))
    wished[0] = 100 - wished.sum()
    return wished


def _run_job(shop: Shop, number: int, r: np.random.Generator, tolerance: float) -> ShopJob:
    booth, names, tried = shop.workshop, shop.names, len(shop.letdowns)
    optics, prior = shop.today()
    truth = booth.spray(wished_for(shop, r), np.ones(len(names)))
    target = colour_target(Reading("target", booth.read(truth, r)), LIGHTS, 10)
    judge = colour_target(Reading("truth", truth[None]), LIGHTS, 10)
    request = RecipeRequest(tolerance=tolerance, prior=prior)
    recipe, at_letdowns = propose_recipes(target, optics, booth.tints, BATCH_G, request).recipes[0], r.spawn(1)[0]
    while shop.try_tins(recipe, at_letdowns):
        optics, prior = shop.today()
        request = RecipeRequest(tolerance=tolerance, prior=prior)
        recipe = propose_recipes(target, optics, booth.tints, BATCH_G, request).recipes[0]
    first = recipe if recipe.first_pour is None else recipe.first_pour
    tin, shown = booth.fill(grams_of(first.parts, names), first.letdowns, r)
    card = booth.spray(tin, shop.strengths, r)
    off = [judge.differences(card)]
    held = [_held(first.intervals, off[0])]
    told = _foretold((optics, prior), shown, Reading("card", booth.read(card, r, 1)), False)
    predicted = _as_predicted(told, shop.foretold)
    chances: list[tuple[float, bool, bool]] = []
    as_read: list[tuple[bool, ...]] = []
    again: list[bool] = []
    shop.tin_cards, reading = [], Reading("card", booth.read(card, r))
    for _ in range(CORRECTIONS):
        found = _corrected(shop, target, shown, reading, tolerance, number, recipe.grams)
        tin, shown = booth.add(tin, shown, grams_of(found.additions, names), found.letdowns, r)
        card = booth.spray(tin, shop.strengths, r)
        off.append(judge.differences(card))
        held.append(_held(found.intervals, off[-1]))
        again.append(_as_predicted_by_its_card(shop, target, shown, reading := Reading("card", booth.read(card, r))))
        read = target.differences(reading.repeats.mean(axis=0))
        as_read.append(_held(found.intervals, read))
        chances.append((found.chance, bool(read.max() <= tolerance), bool(off[-1].max() <= tolerance)))
    worst = tuple(float(each.max()) for each in off)
    return ShopJob(
        worst,
        tuple(held),
        predicted,
        tuple(chances),
        tuple(as_read),
        tuple(again),
        float(tin.sum() / recipe.grams - 1),
        len(shop.letdowns) - tried,
        borne_out(shop.foretold).times,
    )


def _corrected(
    shop: Shop, target: ColourTarget, shown: Floats, reading: Reading, tolerance: float, job: int, wanted: float
) -> Correction:
    """Return a correction by the record so far; the card is then kept in it."""
    batch = tuple((name, float(g)) for name, g in zip(shop.names, shown, strict=True) if g > 0)
    (optics, prior), tints = shop.today(), shop.workshop.tints
    record = TinRecord(prior, tuple(shop.tin_cards), wanted)
    found = correct_batch(target, optics, tints, batch, reading, tolerance, MAX_GROWTH, record=record)
    shop.known_before = optics, prior
    shop.foretold.append(_foretold((optics, prior), shown, reading, bool(shop.tin_cards)))
    shop.tin_cards.append(EarlierCard(batch, Reading("card", reading.repeats.mean(axis=0, keepdims=True))))  # as kept
    shop.remember(job, batch, reading)
    return found


def _as_predicted(card: Foretold, before: Sequence[Foretold]) -> bool:
    """Return whether a card reads within what was predicted of its batch 95 times in 100, by the cards `before`."""
    return card.de00 <= card.within * borne_out(before, card.again, card.by_card).times


def _as_predicted_by_its_card(shop: Shop, target: ColourTarget, shown: Floats, reading: Reading) -> bool:
    """Return whether a card reads within what was predicted of its batch 95 times in 100 by the card before it."""
    assert shop.known_before is not None
    (optics, prior), last = shop.known_before, shop.tin_cards[-1]
    more = shown - grams_of(last.batch, shop.names)
    since = tuple((name, float(g)) for name, g in zip(shop.names, more, strict=True) if g > 0)
    record = TinRecord(prior, tuple(shop.tin_cards[:-1]), since=since)
    tin = updated_tin(target, optics, shop.workshop.tints, last.batch, last.reading, Scale(), record).tin
    told = next_card(tin, last.reading, Scale()).against(reading)
    shop.foretold_by_cards.append(told)
    return _as_predicted(told, shop.foretold_by_cards[:-1])


def _foretold(today: tuple[TintOptics, StrengthPrior], shown: Floats, reading: Reading, again: bool) -> Foretold:
    """Return a card against what was foretold of its batch."""
    (optics, prior), at = today, np.flatnonzero(shown > 0)
    own = prior.strengthened(optics.chosen([optics.names[i] for i in at]))
    covariance = prior.chosen(own.names).log_covariance
    lab = reading.lab_in("D65", 10)
    return against_foretold(own, shown[at], Scale().step_g, covariance, lab, len(reading.repeats), again)


def grams_of(parts: tuple[tuple[str, float], ...], names: tuple[str, ...]) -> Floats:
    """Return grams of all tints."""
    grams = np.zeros(len(names))
    for name, weight in parts:
        grams[names.index(name)] += weight
    return grams


def _held(stated: Intervals, off: Floats) -> tuple[bool, ...]:
    return tuple(low <= value <= high for value, (low, high) in zip(off, stated.values(), strict=True))
