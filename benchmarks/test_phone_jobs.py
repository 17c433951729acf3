"""A shop with no instrument, job after job: what its first cards and its corrections come to as the record grows.

The bank is of two or four panels a tint, seen by a phone as in `test_seen_bank`; a target is the shop's piece, its
colour known as a photograph tells it; each spray-out is seen beside the piece, in daylight and under a lamp; each card
is kept, and is a panel of the bank from then on. `python -m benchmarks.test_phone_jobs` measures more shops and jobs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pytest

from benchmarks.test_seen_bank import TINTS, WEIGHED_SD, seen_bank
from benchmarks.workshop_job import BATCH_G, grams_of
from booth.workshop import CALM, ROUGH, Conditions, Workshop
from finishmatch.colour import Floats, de00, reflectance_to_lab
from finishmatch.correct.card_as_panel import seen_card_panel
from finishmatch.correct.card_strengths import card_strengths
from finishmatch.correct.correct_seen import correct_seen
from finishmatch.correct.updated_tin import TinRecord
from finishmatch.evidence.target import ColourTarget, colour_target
from finishmatch.mix.expected_difference import drawn_differences, itself_drawn
from finishmatch.mix.foretold import U95_OF_RMS, Foretold, seen_against_foretold, seen_borne_out
from finishmatch.mix.propose import propose_recipes
from finishmatch.mix.recipe import Recipe
from finishmatch.mix.weighing import Scale
from finishmatch.mix.wishes import RecipeRequest
from finishmatch.optics import CardPanel, TintOptics, bank_today, fit_bank, predicted_reflectance
from finishmatch.optics.card_panels import of_cards
from finishmatch.optics.strength import PANELS_OWN_SD, StrengthEvidence, StrengthPrior, lot_spread
from finishmatch.readings import Reading
from finishmatch.readings.reading import SeenDifference, TargetFacts
from finishmatch.readings.seen import covariance_within, seen_beside, seen_de00
from finishmatch.steps.tins_to_try import TinToTry, tins_to_try

LIGHTS = ("D65", "A", "F11")
TOLD_U95 = 0.5  # ΔE00 of a difference, in one light; «common practice» for two photographs
TARGET_U95 = 2.0  # of the piece's colour as a photograph tells it
TOLERANCE, MAX_GROWTH, CORRECTIONS = 0.5, 0.2, 2
NEW_TIN, UNSPRAYED = 0.1, 40
OFTEN, ALL, SHOPS = 8, 20, range(201, 207)
TAUGHT_JOBS, TAUGHT = 14, range(211, 217)


@dataclass(frozen=True)
class PhoneJob:
    """What came of one job.

    Parameters
    ----------
    asked : float
        ΔE00 (D65) of the first card from the colour that was asked for, which is off from the piece's own.
    off : ndarray, shape (3, lights)
        ΔE00 of the first card and of the corrected ones from the piece.
    held : tuple of bool
        Whether the ranges stated of the first card and of the corrected ones hold, D65.
    growth : float
        Of the tin, in all, beyond what was wanted; below 0 where it came to less.
    """

    asked: float
    off: Floats
    held: tuple[bool, ...]
    growth: float


class PhoneShop:
    """A shop with its bank of colours, its tins and its record.

    `own` is whether the panels were drawn from the tins that are open at the first job, and the shop says so; `tries`
    whether a tin that `mix` asks to try is tried by a letdown, drawn and weighed as its panel was and seen beside it;
    `rendered` whether the bank's colours are off as those of rendered pictures (`test_seen_bank`).
    """

    def __init__(
        self,
        conditions: Conditions,
        seed: int,
        panels: int,
        teaches: bool = True,
        own: bool = False,
        tries: bool = False,
        rendered: bool = False,
    ) -> None:
        self.workshop, self.tries = Workshop(conditions, seed, TINTS, 0.3), tries
        self._random = np.random.default_rng([seed, 78])
        noise = np.random.default_rng([seed, panels])

        def drawn(grams: Floats) -> Floats:
            self.panels = self.workshop.spray(grams, np.ones(TINTS), noise)
            return self.panels

        self.weighed_sd = max(conditions.amount, WEIGHED_SD)
        self.bank = seen_bank(self.workshop.specs, panels, drawn, noise, self.weighed_sd, rendered)
        self.fit, self.teaches = fit_bank(self.bank), teaches
        lots = self.workshop.lots(self._random)
        self.strengths = np.ones(TINTS) if own else lots
        self.of_panels = frozenset(f"{name}#0" for name in self.names) if own else frozenset()
        self.lot = np.zeros(TINTS, dtype=int)
        self.cards: list[CardPanel] = []
        self.record: list[StrengthEvidence] = []
        self.letdowns: list[StrengthEvidence] = []
        self.foretold: list[Foretold] = []

    @property
    def shown(self) -> list[StrengthEvidence]:
        """What cards and letdowns show of their tins, each by itself."""
        return [*self.record, *self.letdowns]

    @property
    def names(self) -> tuple[str, ...]:
        """The tints that can be mixed."""
        return self.fit.optics.names

    def tins(self) -> dict[str, str]:
        """Return of each tint what sets its open tin apart."""
        return {name: f"{name}#{lot}" for name, lot in zip(self.names, self.lot, strict=True)}

    def today(self) -> tuple[TintOptics, StrengthPrior]:
        """Return the bank with the cards of the record, and what these show of the open tins."""
        open_now, spread = self.tins(), lot_spread(self.shown, self.of_panels)
        cards = self.cards if self.teaches else []
        found = bank_today(self.fit, cards, open_now, spread, self.of_panels, self.letdowns)
        known = found.tins if self.teaches else self._before(spread).given(*self.record)
        if self.teaches:
            still = sorted(self.of_panels.intersection(open_now.values()).difference(known.names))
            known = known.beside(StrengthPrior.default(still, PANELS_OWN_SD))
        known = known.given(*of_cards(self.letdowns, cards)[1])
        tins = known.chosen([open_now[name] for name in self.names])
        return found.fit.optics, replace(tins, names=self.names)

    def foretold_off(self, seed: int) -> float:
        """Return how far mixtures of the open tins that nobody sprayed are from what is foretold, mean ΔE00, D65."""
        optics, tins = self.today()
        grams = np.stack([_wished(np.random.default_rng([seed, 9, i])) for i in range(UNSPRAYED)])
        true = reflectance_to_lab(self.workshop.spray(grams, self.strengths))
        return float(de00(true, reflectance_to_lab(predicted_reflectance(tins.strengthened(optics), grams))).mean())

    def remember(self, job: int, batch: tuple[tuple[str, float], ...], trial: Reading) -> None:
        """Keep a card, and what it shows of its tins by itself."""
        own, tints, tins = self.fit.optics, self.workshop.tints, self.tins()
        card = seen_card_panel(own, tints, batch, trial, Scale(), f"job {job}")
        assert card is not None
        self.cards.append(replace(card, tins=tuple(tins[name] for name in card.names), mixture=f"job {job}"))
        shown = card_strengths(own, tints, batch, trial, Scale(), self._believed()).evidence
        self.record.append(replace(shown, names=tuple(tins[name] for name in shown.names)))

    def _believed(self) -> StrengthPrior:
        """Return what cards and letdowns by themselves show of the open tins."""
        tins = self.tins()
        known = self._before(lot_spread(self.shown, self.of_panels)).given(*self.shown)
        return replace(known.chosen([tins[name] for name in self.names]), names=self.names)

    def to_try(self, recipe: Recipe) -> tuple[TinToTry, ...]:
        """Return the tins that `mix` asks to try."""
        if not self.tries or recipe.first_pour is None:
            return ()
        tins = self.tins()
        together = [[name for name, tin in tins.items() if tin in one.names] for one in self.shown]
        own = [name for name, tin in tins.items() if tin in self.of_panels]
        return tins_to_try(self.bank, recipe.parts, self.today()[1], together, own)

    def try_tin(self, tin: TinToTry, r: np.random.Generator) -> None:
        """Draw a letdown of a tin, see it beside its panel, and keep what it shows."""
        grams, tins = grams_of(tin.parts, self.names), self.tins()
        weighed = grams * np.exp(self.weighed_sd * r.standard_normal(TINTS))
        panel = self.panels[[one.name for one in self.bank.panels].index(tin.panel)]
        labs = reflectance_to_lab(np.stack([panel, self.workshop.spray(weighed, self.strengths, r)]))
        delta = labs[1] - labs[0] + np.linalg.cholesky(covariance_within(TOLD_U95, labs[0])) @ r.standard_normal(3)
        made = Reading(tin.panel, predicted_reflectance(self.fit.optics, grams)[None])
        trial = seen_beside(made, [SeenDifference(delta, TOLD_U95, "D65")], "letdown", ("D65", 10))
        shown = card_strengths(
            self.fit.optics, self.workshop.tints, tin.parts, trial, Scale(), self._believed(), beside=tin.parts
        ).evidence
        self.letdowns.append(replace(shown, names=tuple(tins[name] for name in shown.names)))

    def _before(self, spread: float) -> StrengthPrior:
        """Return what is known of the tins that the panels were drawn from before any card."""
        return replace(StrengthPrior.default(sorted(self.of_panels), PANELS_OWN_SD), spread=spread)

    def open_new_tins(self) -> None:
        """Open a new tin of each tint that ran out."""
        empty = self._random.uniform(size=TINTS) < NEW_TIN
        self.strengths = np.where(empty, self.workshop.lots(self._random), self.strengths)
        self.lot = self.lot + empty


def phone_jobs(conditions: Conditions, seed: int, panels: int, count: int, teaches: bool = True) -> list[PhoneJob]:
    """Return some jobs of one shop, in order."""
    return jobs_in(PhoneShop(conditions, seed, panels, teaches), seed, count)


def jobs_in(shop: PhoneShop, seed: int, count: int) -> list[PhoneJob]:
    """Return some jobs, in order; the last leaves its tins open."""
    jobs = []
    for number in range(count):
        if number:
            shop.open_new_tins()
        jobs.append(_job(shop, number, np.random.default_rng([seed, number, 6])))
    return jobs


def _wished(r: np.random.Generator) -> Floats:
    """Return grams of a colour of two or three tints with white, as `test_seen_bank` has them."""
    wished = np.zeros(TINTS)
    used = r.choice(np.arange(1, TINTS), int(r.integers(2, 4)), replace=False)
    wished[used] = np.exp(r.uniform(np.log(0.5), np.log(12), used.size))
    wished[0] = 100 - wished.sum()
    return wished


def _proposed(shop: PhoneShop, target: ColourTarget, r: np.random.Generator) -> Recipe:
    """Return the first recipe, the tins tried that were asked for."""
    while True:
        optics, prior = shop.today()
        times_off = seen_borne_out(shop.foretold).times
        request = RecipeRequest(tolerance=TOLERANCE, prior=prior, times_off=times_off)
        usable = optics.chosen(shop.fit.usable)
        recipe = propose_recipes(target, usable, shop.workshop.tints, BATCH_G, request).recipes[0]
        asked = shop.to_try(recipe)
        if not asked:
            return recipe
        for tin in asked:
            shop.try_tin(tin, r)


def _job(shop: PhoneShop, number: int, r: np.random.Generator) -> PhoneJob:
    booth, names = shop.workshop, shop.names
    piece = booth.spray(_wished(r), np.ones(TINTS))
    truth = reflectance_to_lab(piece)
    lab = truth + np.linalg.cholesky(covariance_within(TARGET_U95, truth)) @ r.standard_normal(3)
    standard = Reading("piece", lab[None], target=TargetFacts(u95=TARGET_U95))
    target = colour_target(standard, ("D65",), 10)
    recipe = _proposed(shop, target, np.random.default_rng([number, 8]))
    first = recipe if recipe.first_pour is None else recipe.first_pour
    tin, shown = booth.fill(grams_of(first.parts, names), first.letdowns, r)
    judge = colour_target(Reading("truth", piece[None]), LIGHTS, 10)
    card = booth.spray(tin, shop.strengths, r)
    off, (low, high) = [judge.differences(card)], first.intervals["D65"]
    asked = float(de00(lab, reflectance_to_lab(card)))
    held = [low <= asked <= high]
    told = {
        light: np.linalg.cholesky(covariance_within(TOLD_U95, reflectance_to_lab(piece, light))) for light in LIGHTS
    }
    for card_number in range(CORRECTIONS):
        seen = []
        for light in ("D65", "A"):
            delta = reflectance_to_lab(card, light) - reflectance_to_lab(piece, light)
            seen.append(SeenDifference(delta + told[light] @ r.standard_normal(3), TOLD_U95, light))
        trial = seen_beside(standard, seen, "card", ("D65", 10))
        batch = tuple((name, float(g)) for name, g in zip(names, shown, strict=True) if g > 0)
        optics, prior = shop.today()
        usable, record = optics.chosen(shop.fit.usable), TinRecord(prior, wanted=recipe.grams)
        found = correct_seen(target, usable, booth.tints, batch, trial, TOLERANCE, MAX_GROWTH, record=record)
        if card_number == 0:
            shop.foretold.append(_foretold(target, usable.chosen([name for name, _ in batch]), prior, shown, trial))
        shop.remember(number, batch, trial)
        tin, shown = booth.add(tin, shown, grams_of(found.additions, names), found.letdowns, r)
        card = booth.spray(tin, shop.strengths, r)
        off.append(judge.differences(card))
        low, high = found.intervals["D65"]
        held.append(bool(low <= off[-1][0] <= high))
    return PhoneJob(asked, np.array(off), tuple(held), float(tin.sum() / recipe.grams - 1))


def _foretold(target: ColourTarget, own: TintOptics, prior: StrengthPrior, shown: Floats, trial: Reading) -> Foretold:
    """Return how far a first card is seen to differ from its piece, against how far it was to be expected to."""
    known, grams = prior.chosen(own.names), shown[shown > 0]
    itself = itself_drawn(target) or target
    pour_sd = Scale().pour_sd_g(grams)
    drawn = drawn_differences(itself, known.strengthened(own), grams, pour_sd, known.log_covariance)
    return seen_against_foretold(drawn[:, 0], seen_de00(trial)["D65"], TOLD_U95 / U95_OF_RMS)


def told(name: str, jobs: Sequence[PhoneJob]) -> str:
    """Return what came of jobs, in a line."""
    off, asked = np.array([job.off for job in jobs]), [job.asked for job in jobs]
    each = ", ".join(f"{np.median(c):.2f} ({np.percentile(c, 90):.2f})" for c in off[:, :, 0].T)
    growth = [job.growth for job in jobs]
    others = " ".join(f"{light} {np.median(off[:, -1, i]):.2f}" for i, light in enumerate(LIGHTS) if i)
    held = " ".join(f"{share:.2f}" for share in np.mean([job.held for job in jobs], axis=0))
    return (
        f"{name}, {len(jobs)} jobs: first card from what was asked for {np.median(asked):.2f} "
        f"({np.percentile(asked, 90):.2f}), from the piece and after each correction {each}; after two: {others}; "
        f"growth {np.median(growth):.3f} ({np.percentile(growth, 95):.2f}); held {held}"
    )


@pytest.mark.parametrize(("tries", "first"), [(False, (1.5, 3.0)), (True, (0.9, 1.9))])
def test_corrections_in_a_rough_phone_shop_come_near(tries: bool, first: tuple[float, float]) -> None:
    shop = PhoneShop(ROUGH, 303, 2, tries=tries)
    before = shop.foretold_off(303)
    jobs = jobs_in(shop, 303, OFTEN)
    after = shop.foretold_off(303)
    print(f"\nmixtures nobody sprayed are foretold to {before:.2f}, after {OFTEN} jobs to {after:.2f}")
    assert after < 0.8 * before
    print("\n", told("rough", jobs))
    off = np.array([job.off[:, 0] for job in jobs])
    asked = [job.asked for job in jobs]
    assert np.median(asked) <= first[0]
    assert np.percentile(asked, 90) <= first[1]
    assert np.median(off[:, 0]) <= 3.0
    assert np.median(off[:, 1]) <= 0.6
    assert np.median(off[:, 2]) <= 0.4
    assert np.mean([job.held for job in jobs]) >= 0.9
    growth = [job.growth for job in jobs]
    assert np.median(growth) <= 0.1
    assert np.percentile(growth, 95) <= 0.4


def main() -> None:
    """Measure shops of twenty jobs, with two panels a tint and four, with cards as panels and with strengths alone."""
    for name, conditions in (("calm", CALM), ("rough", ROUGH)):
        for of_panels, tries, what in (
            (True, False, "drawn from the first tins"),
            (False, True, "new tins tried"),
            (True, True, "drawn from the first tins, new ones tried"),
        ):
            tried = [PhoneShop(conditions, seed, 2, own=of_panels, tries=tries) for seed in SHOPS]
            jobs = [jobs_in(shop, seed, ALL) for shop, seed in zip(tried, SHOPS, strict=True)]
            print(told(f"{name}, 2 panels a tint, {what}", [job for each in jobs for job in each]))
            print(f"  letdowns a job: {sum(len(shop.letdowns) for shop in tried) / ALL / len(SHOPS):.2f}")
            _by_fives(jobs)
        for of_panels, tries in ((False, True), (True, True), (False, False)):
            seen = [PhoneShop(conditions, seed, 2, own=of_panels, tries=tries, rendered=True) for seed in SHOPS]
            jobs = [jobs_in(shop, seed, ALL) for shop, seed in zip(seen, SHOPS, strict=True)]
            what = f"{'panels of the first tins, ' * of_panels}{'new tins tried' if tries else 'no tin tried'}"
            print(told(f"{name}, 2 panels a tint as rendered, {what}", [job for each in jobs for job in each]))
            _by_fives(jobs)
        for panels in (2, 4):
            for teaches in (True, False):
                shops = [phone_jobs(conditions, seed, panels, ALL, teaches) for seed in SHOPS]
                told_of = f"{name}, {panels} panels a tint, {'cards as panels' if teaches else 'strengths alone'}"
                print(told(told_of, [job for jobs in shops for job in jobs]), flush=True)
                pairs = []
                for seed in TAUGHT:
                    shop = PhoneShop(conditions, seed, panels, teaches)
                    before, _ = shop.foretold_off(seed), jobs_in(shop, seed, TAUGHT_JOBS)
                    pairs.append((before, shop.foretold_off(seed)))
                print("  mixtures nobody sprayed, before and after fourteen jobs:", np.mean(pairs, axis=0).round(2))
                _by_fives(shops)


def _by_fives(shops: Sequence[Sequence[PhoneJob]]) -> None:
    for first in range(0, ALL, 5):
        some = [job.asked for jobs in shops for job in jobs[first : first + 5]]
        at_90 = np.percentile(some, 90)
        print(f"  first cards of jobs {first + 1} to {first + 5}: {np.median(some):.2f} ({at_90:.2f})", flush=True)


if __name__ == "__main__":
    main()
