"""A card named the standard and the standard the card: how often it is asked about, and how often for nothing.

A rough shop of the booth, whose cards come out far off; the target is read by an instrument, or known by a photograph;
a camera is off by as much as it says, by the same for both. `python -m benchmarks.test_exchanged` measures more jobs.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from benchmarks.test_seen_differences import BATCH_G
from benchmarks.workshop_job import Shop, grams_of, wished_for
from booth.workshop import CALM, ROUGH, Conditions
from finishmatch.colour import Floats, de00, reflectance_to_lab
from finishmatch.correct.blunders import SprayedCard
from finishmatch.correct.correct_seen import correct_seen
from finishmatch.correct.other_way_round import Exchange, PairSeen, exchange_seen
from finishmatch.correct.updated_tin import TinRecord
from finishmatch.evidence.target import colour_target
from finishmatch.mix.propose import propose_recipes
from finishmatch.mix.weighing import Scale
from finishmatch.mix.wishes import RecipeRequest
from finishmatch.readings import Reading
from finishmatch.readings.reading import SeenDifference, TargetFacts
from finishmatch.readings.seen import covariance_within, seen_beside

CAMERA_U95, SEEN_U95, SHOPS, CARDS = 2.5, 0.7, (101, 102), 2
FAR = 3.0  # ΔE00 of a card that is spoilt by going the wrong way


@dataclass(frozen=True)
class Named:
    """A card: how far it is off (ΔE00), and what speaks for an exchange where it is named rightly and where wrongly."""

    off: float
    rightly: Exchange
    wrongly: Exchange


def cards_of(shop: Shop, r: np.random.Generator, target_u95: float) -> Iterator[Named]:
    """Yield the first cards of a job, each photographed beside its piece."""
    booth, names, (_, prior) = shop.workshop, shop.names, shop.today()
    truth = reflectance_to_lab(booth.spray(wished_for(shop, r), np.ones(len(names))))

    def within(u95: float) -> Floats:
        return np.linalg.cholesky(covariance_within(u95, truth)) @ r.standard_normal(3) if u95 else np.zeros(3)

    facts = TargetFacts(u95=target_u95) if target_u95 else None
    standard = Reading("target", (truth + within(target_u95))[None], target=facts)
    target = colour_target(standard, ("D65",), 10)
    wishes = RecipeRequest(tolerance=SEEN_U95, prior=prior)
    recipe = propose_recipes(target, shop.fit.optics, booth.tints, BATCH_G, wishes).recipes[0]
    tin, shown = booth.fill(grams_of(recipe.parts, names), recipe.letdowns, r)
    for _ in range(CARDS):
        card = reflectance_to_lab(booth.spray(tin, shop.strengths, r))
        delta, camera = card - truth + within(SEEN_U95), within(CAMERA_U95)
        parts = tuple((name, float(grams)) for name, grams in zip(names, shown, strict=True) if grams > 0)
        seen, both = [], (truth + camera, truth + delta + camera)
        for way, labs in ((1, both), (-1, both[::-1])):
            trial = seen_beside(standard, [SeenDifference(way * delta, SEEN_U95)], "card", ("D65", 10))
            one = SprayedCard(trial, shop.fit.optics, booth.tints, Scale(0.1, 0.3), prior)
            seen.append((trial, exchange_seen(one, parts, [PairSeen(*labs, CAMERA_U95)])))
        (trial, rightly), (_, wrongly) = seen
        assert rightly is not None
        assert wrongly is not None
        yield Named(float(de00(truth, card)), rightly, wrongly)
        found = correct_seen(target, shop.fit.optics, booth.tints, parts, trial, record=TinRecord(prior))
        prior = found.posterior or prior
        tin, shown = booth.add(tin, shown, grams_of(found.additions, names), found.letdowns, r)


def named(conditions: Conditions, jobs: int, target_u95: float) -> list[Named]:
    """Return the cards of some jobs of each shop."""
    found = []
    for seed in SHOPS:
        shop = Shop(conditions, seed)
        for number in range(jobs):
            found += cards_of(shop, np.random.default_rng([seed, number, 5]), target_u95)
            shop.open_new_tins()
    return found


def told(cards: Sequence[Named]) -> str:
    """Return how often cards were asked about, and told of, in a line."""
    far = [one for one in cards if one.off > FAR]
    rates = [
        f"named {way}: asked {np.mean([getattr(one, way).surely for one in cards]):.3f}, "
        f"asked or told {np.mean([getattr(one, way).likely for one in cards]):.3f}"
        for way in ("rightly", "wrongly")
    ]
    of_far = f"; of {len(far)} off by more than {FAR:g} asked {np.mean([one.wrongly.surely for one in far] or [0]):.2f}"
    return f"{len(cards)} cards; {'; '.join(rates)}{of_far}"


def test_cards_far_off_that_are_named_wrongly_are_asked_about_and_none_for_nothing() -> None:
    cards = named(ROUGH, 5, 0.0)
    print("\n", told(cards))
    far = [one for one in cards if one.off > FAR]
    assert len(far) >= 4
    assert np.mean([one.wrongly.surely for one in far]) >= 0.6
    assert not any(one.rightly.surely for one in cards)
    assert np.mean([one.rightly.likely for one in cards]) <= 0.05


if __name__ == "__main__":
    for conditions, called in ((CALM, "calm"), (ROUGH, "rough")):
        for u95 in (0.0, 2.0):
            print(f"{called}, target known to ±{u95:g}: {told(named(conditions, 40, u95))}")
