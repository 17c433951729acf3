"""What spray-outs tell of the tins: one card after the other, and never less sure for knowing more."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from scipy.optimize import least_squares

from finishmatch.correct.card_strengths import CARD_SD_FLOOR, CARD_SD_SHARE, update_strengths
from finishmatch.correct.correct import correct_batch
from finishmatch.correct.updated_tin import TinRecord
from finishmatch.evidence.target import colour_target
from finishmatch.mix.propose import propose_recipes
from finishmatch.mix.weighing import POUR_SD_STEPS
from finishmatch.mix.wishes import RecipeRequest
from finishmatch.optics import predicted_reflectance
from finishmatch.optics.strength import (
    PRIOR_SD,
    StrengthEvidence,
    StrengthPrior,
    Strengths,
    lot_spread,
    strength_evidence,
)
from finishmatch.readings import Reading
from tests.helpers.booth_fit import BANK, OPTICS

NAMES = OPTICS.names
LIGHTS = ("D65", "A", "F11")


def card(grams: np.ndarray, strengths: np.ndarray, noise: np.ndarray | float = 0.0) -> Reading:
    """What is read of a batch whose tins have these strengths."""
    return Reading("card", (predicted_reflectance(OPTICS.strengthened(strengths), grams) + noise)[None])


def batch(parts: dict[int, float]) -> np.ndarray:
    """Grams of all tints."""
    grams = np.zeros(len(NAMES))
    for index, amount in parts.items():
        grams[index] = amount
    return grams


def learnt(
    prior: StrengthPrior, names: Sequence[str], grams: np.ndarray, found: Strengths, pour_sd_g: float = 0.0
) -> StrengthPrior:
    """What is believed after a card that was judged from this prior."""
    return prior.given(strength_evidence(names, grams, found, prior, pour_sd_g))


def linear_update(prior: StrengthPrior, rows: np.ndarray, read: np.ndarray, sd: float) -> Strengths:
    """The posterior when the reading is linear in the logarithms: what `update_strengths` finds, without a film."""
    weight = np.linalg.inv(prior.log_covariance)
    covariance = np.linalg.inv(weight + rows.T @ rows / sd**2)
    return Strengths(np.exp(covariance @ (weight @ prior.log_mean + rows.T @ read / sd**2)), covariance)


def test_one_tin_by_hand() -> None:
    # prior 0 ± 0.05 and a card that says 0.10 ± 0.05: half way, and surer by the root of two
    prior = StrengthPrior.default(["blue"], 0.05)
    found = linear_update(prior, np.ones((1, 1)), np.array([0.10]), 0.05)
    after = learnt(prior, ["blue"], np.array([20.0]), found)
    assert after.log_mean == pytest.approx([0.05])
    assert after.sd == pytest.approx([0.05 / np.sqrt(2)])
    # a pour of 2 g that may be 0.1 g off: the card says 0.10 ± √(0.05² + 0.05²), so a third of the way
    poured = learnt(prior, ["blue"], np.array([2.0]), found, pour_sd_g=0.1)
    assert poured.log_mean == pytest.approx([0.10 / 3])
    assert poured.sd == pytest.approx([0.05 * np.sqrt(2 / 3)])


def test_what_a_card_tells_is_conditioning_of_tins_pours_and_reading_together() -> None:
    """Against the textbook: all unknowns in one normal vector, conditioned on the reading."""
    r = np.random.default_rng(8)
    root = r.normal(0, 0.03, (4, 4))
    prior = StrengthPrior(("a", "b", "c", "d"), r.normal(0, 0.03, 4), root @ root.T + 1e-4 * np.eye(4))
    names, grams, pour, sd = ("d", "b", "a"), np.array([3.0, 200.0, 12.0]), 0.1, 0.02
    rows, read = r.normal(0, 1, (6, 3)), r.normal(0, 0.05, 6)
    after = learnt(prior, names, grams, linear_update(prior.chosen(names), rows, read, sd), pour)

    of_tins = np.zeros((6, 4))
    of_tins[:, [3, 1, 0]] = rows
    design = np.hstack([of_tins, rows])  # tins, then the slips of the pours
    everything = np.zeros((7, 7))
    everything[:4, :4] = prior.log_covariance
    everything[4:, 4:] = np.diag((pour / grams) ** 2)
    mean = np.concatenate([prior.log_mean, np.zeros(3)])
    gain = everything @ design.T @ np.linalg.inv(design @ everything @ design.T + sd**2 * np.eye(6))
    assert after.names == prior.names
    np.testing.assert_allclose(after.log_mean, (mean + gain @ (read - design @ mean))[:4], rtol=1e-8)
    np.testing.assert_allclose(after.log_covariance, (everything - gain @ design @ everything)[:4, :4], atol=1e-12)


def test_the_most_likely_strengths_are_those_of_an_outside_solver() -> None:
    """SciPy's least squares on the same film, prior and noise."""
    used = [0, 1, 3, 5]
    grams = batch({0: 380.0, 3: 70.0, 5: 35.0, 1: 15.0})
    r = np.random.default_rng(3)
    strengths = np.exp(r.normal(0, 0.05, len(NAMES)))
    read = card(grams, strengths, r.normal(0, 0.0005, 31))
    root = r.normal(0, 0.02, (4, 4))
    mine = OPTICS.chosen([NAMES[i] for i in used])
    prior = StrengthPrior(mine.names, r.normal(0, 0.02, 4), root @ root.T + 2e-4 * np.eye(4))
    sd = CARD_SD_FLOOR + CARD_SD_SHARE * read.reflectance
    whiten = np.linalg.inv(np.linalg.cholesky(prior.log_covariance))

    def out(log: np.ndarray) -> np.ndarray:
        film = predicted_reflectance(mine.strengthened(np.exp(log)), grams[used])
        return np.concatenate([(film - read.reflectance) / sd, whiten @ (log - prior.log_mean)])

    best = least_squares(out, np.zeros(4), xtol=1e-14, ftol=1e-14, gtol=1e-14)
    found = update_strengths(mine, grams[used], read, prior=prior)
    np.testing.assert_allclose(np.log(found.factors), best.x, atol=1e-6)
    np.testing.assert_allclose(found.covariance, np.linalg.inv(best.jac.T @ best.jac), rtol=1e-3, atol=1e-8)


def test_the_order_of_two_cards_does_not_matter() -> None:
    strengths = np.exp(np.random.default_rng(5).normal(0, 0.05, len(NAMES)))
    one, other = batch({0: 300.0, 3: 60.0, 5: 20.0}), batch({0: 150.0, 5: 50.0, 6: 90.0})

    def after(*batches: np.ndarray) -> StrengthPrior:
        prior = StrengthPrior.default([NAMES[i] for i in (0, 3, 5, 6)])
        for grams in batches:
            used = [NAMES[i] for i in np.flatnonzero(grams)]
            found = update_strengths(OPTICS.chosen(used), grams[grams > 0], card(grams, strengths), prior=prior)
            prior = learnt(prior, used, grams[grams > 0], found)
        return prior

    forth, back = after(one, other), after(other, one)
    np.testing.assert_allclose(forth.log_mean, back.log_mean, atol=0.002)
    np.testing.assert_allclose(forth.sd, back.sd, rtol=0.1)
    assert (forth.sd < PRIOR_SD).all()


def test_a_tin_that_was_not_sprayed_stays_as_it_was() -> None:
    prior = StrengthPrior.default(NAMES[:4])
    found = linear_update(prior.chosen(NAMES[:2]), np.eye(2), np.array([0.1, 0.0]), 0.01)
    after = learnt(prior, NAMES[:2], np.array([100.0, 50.0]), found)
    assert after.log_mean[2:] == pytest.approx([0, 0])
    assert after.sd[2:] == pytest.approx([PRIOR_SD, PRIOR_SD])
    assert after.chosen([NAMES[7]]).sd == pytest.approx([PRIOR_SD])  # and one never heard of is as any tin


def test_two_corrections_in_a_row_know_more_than_the_second_alone() -> None:
    """Forty tins in a plain film model with the booth's noise; the tins' truth is known."""
    r = np.random.default_rng(17)
    goal = colour_target(card(batch({0: 380.0, 3: 70.0, 5: 35.0}), np.ones(len(NAMES))), LIGHTS, 10)
    errors: dict[str, list[float]] = {"second alone": [], "both": []}
    held = []
    for _ in range(40):
        strengths = np.exp(r.normal(0, PRIOR_SD, len(NAMES)))
        grams = batch({0: 380.0 + r.normal(0, 20), 3: 70.0 + r.normal(0, 5), 5: 35.0 + r.normal(0, 3)})
        noise = r.normal(0, 0.0005 / np.sqrt(3), (2, 31))

        def corrected(grams: np.ndarray, reading: Reading, prior: StrengthPrior | None) -> StrengthPrior:
            poured = tuple((name, float(g)) for name, g in zip(NAMES, grams, strict=True) if g > 0)
            found = correct_batch(goal, OPTICS, BANK.tints, poured, reading, 20.0, record=TinRecord(prior))
            assert found.posterior is not None
            return found.posterior

        first = corrected(grams, card(grams, strengths, noise[0]), None)
        later = grams + batch({3: 40.0, 0: 60.0})
        second_card = card(later, strengths, noise[1])
        both, alone = corrected(later, second_card, first), corrected(later, second_card, None)
        assert (both.sd <= first.sd + 1e-12).all()
        assert (both.sd <= alone.sd + 1e-12).all()
        truth = np.log(strengths[[NAMES.index(name) for name in both.names]])
        held += list(np.abs(both.log_mean - truth) <= 1.96 * both.sd)
        for name, told in (("second alone", alone), ("both", both)):
            off = told.log_mean - truth
            errors[name].append(float(((off - off.mean()) ** 2).mean()))  # a film that hides tells the ratios only
    assert np.mean(errors["both"]) < 0.9 * np.mean(errors["second alone"])
    assert 0.90 <= np.mean(held) <= 0.99


def test_a_recipe_for_known_tins_is_made_for_these_and_is_surer() -> None:
    strengths = np.exp(np.random.default_rng(6).normal(0, 0.06, len(NAMES)))
    goal = colour_target(card(batch({0: 300.0, 2: 60.0, 5: 30.0}), np.ones(len(NAMES))), LIGHTS, 10)
    known = StrengthPrior(NAMES, np.log(strengths), 1e-6 * np.eye(len(NAMES)))
    plain = propose_recipes(goal, OPTICS, BANK.tints, 400.0).recipes[0]
    today = propose_recipes(goal, OPTICS, BANK.tints, 400.0, RecipeRequest(prior=known)).recipes[0]

    def true_worst(parts: tuple[tuple[str, float], ...]) -> float:
        grams = batch({NAMES.index(name): weight for name, weight in parts})
        return float(goal.differences(card(grams, strengths).reflectance).max())

    assert true_worst(today.parts) < 0.15 < true_worst(plain.parts)
    assert max(high for _, high in today.intervals.values()) < 0.6 * max(high for _, high in plain.intervals.values())


def test_the_spread_of_tins_is_learnt_from_cards() -> None:
    r = np.random.default_rng(5)

    def shown(spread: float, tins: int, known_to: float = 0.02) -> list[StrengthEvidence]:
        weight = known_to**-2
        found = r.normal(0, np.hypot(spread, known_to), tins)
        return [
            StrengthEvidence((f"tin {i}",), np.eye(1) * weight, np.array([weight * x])) for i, x in enumerate(found)
        ]

    assert lot_spread([]) == PRIOR_SD
    assert lot_spread(shown(0.05, 2)) == PRIOR_SD
    assert 0.08 < lot_spread(shown(0.05, 6)) < PRIOR_SD  # six tins tell a little
    for spread in (0.05, 0.3):
        assert lot_spread(shown(spread, 200)) == pytest.approx(spread, rel=0.2)
    vague = [StrengthEvidence((f"tin {i}",), np.eye(1) * 1e-6, np.zeros(1)) for i in range(9)]
    assert lot_spread(vague) == pytest.approx(PRIOR_SD, rel=0.05)  # a card that shows nothing of its tins


def test_the_tins_that_the_panels_were_drawn_from_tell_nothing_of_others() -> None:
    sure = 0.02**-2
    own = [StrengthEvidence((f"own {i}",), np.eye(1) * sure, np.zeros(1)) for i in range(12)]
    names = [name for card in own for name in card.names]
    assert lot_spread(own) < 0.6 * PRIOR_SD
    assert lot_spread(own, names) == PRIOR_SD
    # a card shows how strong two tins are against each other: beside one of the panels' own all of it is the other's
    against = np.array([[1.0, -1.0], [-1.0, 1.0]]) * sure
    others = [StrengthEvidence((f"new {i}", "own 0"), against, against @ [0.3, 0.0]) for i in range(12)]
    assert lot_spread([*own, *others], names) > 1.6 * PRIOR_SD
    assert lot_spread([*own, *others], names) == pytest.approx(lot_spread(others, ["own 0"]), rel=0.15)


def test_small_pours_teach_little_of_their_tin() -> None:
    """A part of three scale steps may be a third off: that isn't the tin's strength."""
    goal = colour_target(card(batch({0: 400.0, 3: 50.0}), np.ones(len(NAMES))), LIGHTS, 10)
    grams = batch({0: 400.0, 3: 50.0, 5: 0.3})
    poured = tuple((name, float(g)) for name, g in zip(NAMES, grams, strict=True) if g > 0)
    found = correct_batch(goal, OPTICS, BANK.tints, poured, card(grams, np.ones(len(NAMES))), 5.0)
    sd = dict(zip(found.posterior.names, found.posterior.sd, strict=True))
    assert POUR_SD_STEPS == 1.0
    assert sd[NAMES[5]] > 0.9 * PRIOR_SD > sd[NAMES[3]]
