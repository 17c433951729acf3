"""What a card seen in several lights tells: what its lights share counts once, and nothing counts twice."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from finishmatch.colour import Floats, reflectance_to_lab, reflectance_to_lab_slope
from finishmatch.correct.card_strengths import card_strengths
from finishmatch.correct.seen_tin import CARD_SD_LAB, brought_to, drawn_labs, lab_beside
from finishmatch.evidence.target import colour_target
from finishmatch.mix.weighing import Scale
from finishmatch.optics import TintOptics, predicted_reflectance
from finishmatch.optics.strength import StrengthPrior
from finishmatch.readings import Reading
from finishmatch.readings.reading import SeenDifference, TargetFacts
from finishmatch.readings.seen import seen_beside
from tests.helpers.plain_paints import NAMES, PAINTS, POURED, TINTS, batch_of, grams

U95 = 0.5
OURS = ("white", "blue", "red")
WEIGHTS = POURED[:3]
OFF = np.random.default_rng(4).standard_normal((32, 2, 4, 1))


def left(sd: float, model_sd: float = 0.01) -> TintOptics:
    """The paints as a bank has them that leaves log K and log S open, alike at all wavelengths, by a deviation."""
    draws = np.stack([PAINTS.K, PAINTS.S]) * np.exp(sd * OFF)
    return replace(PAINTS, model_sd=model_sd, model_run=5.0, draws=draws)


def seen_in(lights: tuple[str, ...], standard_u95: float, optics: TintOptics = PAINTS) -> Reading:
    """A card that looks as its standard does, which is what the paints make of it."""
    standard = Reading("standard", predicted_reflectance(optics, POURED)[None], target=TargetFacts(u95=standard_u95))
    return seen_beside(standard, [SeenDifference(np.zeros(3), U95, light) for light in lights], "card", ("D65", 10))


def sds(optics: TintOptics, trial: Reading) -> Floats:
    """How surely a card tells the strengths of its tins."""
    found = card_strengths(optics, TINTS, batch_of(POURED), trial, Scale(), None)
    return np.sqrt(np.diag(found.strengths.covariance))


def slope_in(lights: tuple[str, ...]) -> Floats:
    """The slope of the card's CIELAB in some lights, one below the other."""
    made = predicted_reflectance(PAINTS, POURED)
    return np.vstack([reflectance_to_lab_slope(made, light, 10) for light in lights])


def by_log(lights: tuple[str, ...]) -> Floats:
    """The slope of that by the logarithm of each tin's strength."""
    mine, step = PAINTS.chosen(OURS), 1e-5
    stronger = np.stack([predicted_reflectance(mine.strengthened(np.exp(step * one)), WEIGHTS) for one in np.eye(3)])
    return slope_in(lights) @ (stronger - predicted_reflectance(mine, WEIGHTS)).T / step


def lasting(optics: TintOptics, trial: Reading) -> Floats:
    """The covariance of what standard, theory and bank are off by, each one error for all lights."""
    mine, lights = optics.chosen(OURS), tuple(one.light for one in trial.seen)
    run = (2 / 3) ** np.abs(np.subtract.outer(np.arange(31), np.arange(31)))  # (5 - 1) / (5 + 1)
    theory = slope_in(lights) * (0.01 * predicted_reflectance(PAINTS, POURED)) @ np.linalg.cholesky(run)
    labs = np.hstack([reflectance_to_lab(drawn(mine, WEIGHTS), light, 10) for light in lights])
    bank = (labs - labs.mean(axis=0)).T / np.sqrt(len(labs) - 1)
    shared = np.hstack([np.vstack([root_of(one.standard_covariance) for one in trial.seen]), theory, bank])
    return np.asarray(shared @ shared.T + CARD_SD_LAB**2 * np.eye(len(shared)))


def seeing(trial: Reading) -> Floats:
    """The covariance of how the differences were seen, each by itself."""
    found = np.zeros((3 * len(trial.seen), 3 * len(trial.seen)))
    for i, one in enumerate(trial.seen):
        found[3 * i : 3 * i + 3, 3 * i : 3 * i + 3] = one.covariance
    return found


def drawn(optics: TintOptics, weights: Floats) -> Floats:
    """What a mixture reads by each draw of the bank."""
    assert optics.draws is not None
    return np.stack([predicted_reflectance(replace(optics, K=K, S=S), weights) for K, S in optics.draws])


def root_of(covariance: Floats | None) -> Floats:
    """The symmetric root of a covariance."""
    assert covariance is not None
    values, vectors = np.linalg.eigh(covariance)
    return np.asarray(vectors @ np.diag(np.sqrt(np.maximum(values, 0))) @ vectors.T)


@pytest.mark.parametrize("lights", [("D65",), ("D65", "D50"), ("D65", "A", "F11")], ids=len)
@pytest.mark.parametrize("standard_u95", [0.0, 3.0])
@pytest.mark.parametrize("open_sd", [0.001, 0.3], ids=["instrument's", "phone's"])
def test_what_standard_theory_and_bank_are_off_by_counts_once_for_all_lights(
    lights: tuple[str, ...], standard_u95: float, open_sd: float
) -> None:
    trial, optics = seen_in(lights, standard_u95), left(open_sd)
    slope, doubt = by_log(lights), lasting(optics, trial) + seeing(trial)
    before = np.linalg.inv(StrengthPrior.default(OURS).log_covariance)
    by_hand = np.linalg.inv(slope.T @ np.linalg.solve(doubt, slope) + before)
    np.testing.assert_allclose(sds(optics, trial), np.sqrt(np.diag(by_hand)), rtol=1e-4)


def test_a_second_light_like_the_first_tells_little_more_of_a_standard_that_is_known_badly() -> None:
    alone, both = (sds(left(0.001), seen_in(lights, 3.0)) for lights in (("D65",), ("D65", "D50")))
    told = (StrengthPrior.default(OURS).sd - alone).mean()
    assert 0 < (alone - both).mean() < 0.2 * told


@pytest.mark.parametrize("kind", ["spectrum", "Lab"])
def test_what_a_phones_bank_leaves_open_counts_where_a_card_was_read_too(kind: str) -> None:
    card = Reading("card", predicted_reflectance(PAINTS, POURED)[None])
    if kind == "Lab":
        card = replace(card, repeats=card.lab_in("A", 2)[None], light="A", observer=2)
    known, unknown = (sds(optics, card) for optics in (replace(left(0.3), draws=None), left(0.3)))
    assert (known < 0.8 * unknown).all()


def test_lights_that_go_together_tell_of_each_other() -> None:
    """Of a card that looks alike in both, what one light says more and the other less is how it was seen."""
    trial, optics = seen_in(("D65", "D50"), 0.0), left(0.3)
    one, other = (replace(one, delta=np.array([x, 0, 0])) for one, x in zip(trial.seen, (1.0, 0.0), strict=True))
    goal = colour_target(Reading("standard", predicted_reflectance(PAINTS, POURED)[None]), ("D65", "D50"), 10)
    _, offset, _ = brought_to(goal, optics, POURED, np.zeros((4, 4)), replace(trial, seen=(one, other)))
    assert offset[0, 0] + offset[1, 0] == pytest.approx(1.0, abs=0.05)
    assert offset[0, 0] - offset[1, 0] < 0.5
    noise, known = seeing(trial), lasting(optics, trial)
    np.testing.assert_allclose(offset.ravel(), known @ np.linalg.solve(known + noise, [1.0, 0, 0, 0, 0, 0]), atol=1e-6)


def test_what_is_left_of_a_difference_is_drawn_as_its_lights_go_together() -> None:
    trial, optics = seen_in(("D65", "D50"), 1.0), left(0.05)
    strengths = 0.1**2 * np.eye(4)
    goal = colour_target(Reading("standard", predicted_reflectance(PAINTS, POURED)[None]), ("D65", "D50"), 10)
    goal, _, root = brought_to(goal, optics, POURED, strengths, trial)
    slope, noise = by_log(("D65", "D50")), seeing(trial)
    before = slope @ strengths[:3, :3] @ slope.T + lasting(optics, trial)
    by_hand = np.linalg.inv(np.linalg.inv(before) + np.linalg.inv(noise))
    np.testing.assert_allclose(root @ root.T, by_hand, atol=1e-4 * by_hand.max())
    off = (drawn_labs(goal.labs, root) - goal.labs).reshape(-1, 6)
    np.testing.assert_allclose(np.cov(off.T), by_hand, atol=0.2 * by_hand.max())
    assert np.corrcoef(off[:, 0], off[:, 3])[0, 1] > 0.3


def test_a_light_that_the_standard_isnt_known_in_is_taken_as_it_was_seen() -> None:
    lab = reflectance_to_lab(predicted_reflectance(PAINTS, POURED))
    standard = Reading("standard", lab[None], target=TargetFacts(u95=1.0))
    seen = [SeenDifference(np.array([0.4, 0.2, 0.1]), U95, light) for light in ("D65", "A")]
    trial = seen_beside(standard, seen, "card", ("D65", 10))
    goal, offset, root = brought_to(colour_target(standard, ("D65",), 10), left(0.05), POURED, np.eye(4), trial)
    under_a = reflectance_to_lab(predicted_reflectance(PAINTS, POURED), "A", 10)
    np.testing.assert_allclose(goal.labs, [lab, under_a - seen[1].delta], atol=1e-9)
    np.testing.assert_array_equal(offset[1], 0)
    np.testing.assert_array_equal(root[3:, :3], 0)
    np.testing.assert_allclose(root[3:, 3:] @ root[3:, 3:].T, trial.seen[1].covariance, rtol=1e-9)
    np.testing.assert_allclose(sds(left(0.05), trial), sds(left(0.05), replace(trial, seen=trial.seen[:1])), rtol=1e-9)


PANEL = grams(white=90.0, blue=10.0)[:2]


def beside(optics: TintOptics, weighed: Floats) -> Floats:
    """The covariance of what a letdown shows that was seen beside its panel."""
    mine = optics.chosen(NAMES[:2])
    made = Reading("panel", predicted_reflectance(mine, PANEL)[None])
    seen = [SeenDifference(np.ones(3), U95, light) for light in ("D65", "A")]
    return lab_beside(mine, weighed, PANEL, seen_beside(made, seen, "letdown", ("D65", 10))).covariance


def test_what_the_bank_leaves_open_is_the_same_in_a_letdown_and_its_panel() -> None:
    """Of the same grams it drops out; of others it counts as far as it moves them apart."""
    known, unknown = replace(left(0.3), draws=None), left(0.3)
    np.testing.assert_allclose(beside(unknown, PANEL), beside(known, PANEL), atol=1e-12)
    other = grams(white=90.0, blue=14.0)[:2]
    labs = [
        np.hstack([reflectance_to_lab(drawn(unknown.chosen(NAMES[:2]), of), light, 10) for light in ("D65", "A")])
        for of in (other, PANEL)
    ]
    more = beside(unknown, other) - beside(known, other)
    np.testing.assert_allclose(more, np.cov((labs[0] - labs[1]).T), atol=1e-9)


def test_what_was_weighed_into_the_panel_of_a_letdown_is_as_far_off_as_into_any_mixture() -> None:
    rough = replace(left(0.05), dispersal_sd=0.06, neighbour_sd=0.08)
    mine, step = rough.chosen(NAMES[:2]), 1e-5
    made = predicted_reflectance(mine, PANEL)
    # the largest part is what the amounts of others are held against
    moved = (predicted_reflectance(mine.strengthened(np.array([1.0, np.exp(step)])), PANEL) - made) / step
    by_blue = np.concatenate([reflectance_to_lab_slope(made, light, 10) @ moved for light in ("D65", "A")])
    more = beside(rough, PANEL) - beside(left(0.05), PANEL)
    np.testing.assert_allclose(more, 0.1**2 * np.outer(by_blue, by_blue), rtol=1e-3, atol=1e-6)
