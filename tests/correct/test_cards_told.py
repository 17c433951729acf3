"""What a card shows, of paints whose K and S are known exactly: verdicts, strengths and doubts by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from finishmatch.colour import cielab_delta, de00, difference_words, metamerism_index, reflectance_to_lab
from finishmatch.correct.as_sprayed import off_in_words, sprayed_differences
from finishmatch.correct.card_as_panel import card_panel, doubt_between
from finishmatch.correct.card_strengths import card_strengths, coloured_parts, left_open, update_strengths
from finishmatch.correct.sprayed_film import BUILD_SD, sprayed_film
from finishmatch.correct.updated_tin import TinRecord, updated_tin
from finishmatch.correct.verdict import judge
from finishmatch.errors import InputError
from finishmatch.mix.weighing import Scale
from finishmatch.optics import Backing, predicted_reflectance
from finishmatch.optics.card_rows import CARD_NOISE_SD
from finishmatch.optics.panel_set import MODEL_FLOOR, MODEL_SHARE, REPEATABILITY_SD
from finishmatch.optics.strength import StrengthPrior
from finishmatch.readings import Reading
from finishmatch.readings.reading_noise import reading_noise
from tests.helpers.plain_paints import GOAL, NAMES, PAINTS, POURED, TINTS, WISHED, batch_of, card_of, grams

SCALE = Scale()


def test_a_verdict_is_trial_less_standard_in_each_light() -> None:
    one, two = (predicted_reflectance(PAINTS, poured) for poured in (WISHED, POURED))
    standard, trial = Reading("s", one[None], warnings=("a", "b")), Reading("t", two[None], warnings=("b", "c"))
    found = judge(standard, trial, ("D65", "A", "F11"), 2, 1.5)
    labs = {
        light: (reflectance_to_lab(one, light, 2), reflectance_to_lab(two, light, 2)) for light in ("D65", "A", "F11")
    }
    assert found.lights == pytest.approx({light: float(de00(*pair)) for light, pair in labs.items()})
    assert found.de00 == pytest.approx(found.lights["D65"])
    assert found.de76 == pytest.approx(float(np.linalg.norm(labs["D65"][1] - labs["D65"][0])))
    assert float(found.delta.L) == pytest.approx(float(cielab_delta(*labs["D65"]).L))
    assert found.words == tuple(difference_words(*labs["D65"]))
    assert found.metamerism == pytest.approx(
        max(float(metamerism_index(one, two, "D65", light, 2)) for light in ("A", "F11"))
    )
    np.testing.assert_allclose(found.standard_lab, labs["D65"][0])
    np.testing.assert_allclose(found.trial_lab, labs["D65"][1])
    assert (found.observer, found.tolerance, found.warnings) == (2, 1.5, ("a", "b", "c"))
    assert found.worst_light == max(found.lights, key=lambda light: found.lights[light])
    worst = found.lights[found.worst_light]
    assert replace(found, tolerance=worst).within
    assert not replace(found, tolerance=worst - 1e-9).within
    assert judge(standard, trial, ("D65",)).metamerism is None
    assert judge(standard, trial, ("D65",)).observer == 10
    assert judge(standard, trial, ("D65",)).tolerance == 1.0


def test_where_only_lab_is_known_the_verdict_is_made_in_its_light() -> None:
    spectral = card_of(POURED)
    typed = Reading("typed", np.array([[50.0, 1, 2]]), "A", 2)
    found = judge(spectral, typed, ("D65", "A"))
    assert (list(found.lights), found.observer, found.metamerism) == (["A"], 2, None)
    assert found.warnings == ("only Lab is known, so they are judged under A, 2° alone",)
    assert judge(typed, spectral, ("D65",), 10).warnings == found.warnings
    assert judge(typed, typed, ("A",), 2).warnings == ()
    assert judge(typed, typed, ("A",), 10).warnings == found.warnings
    with pytest.raises(InputError) as caught:
        judge(typed, replace(typed, name="trial", light="D65", observer=10), ("D65",))
    assert str(caught.value) == (
        "trial: the two are Lab under different conditions (A, 2° and D65, 10°); give both under one light and observer"
    )
    for tolerance, shown in ((0.0, "0"), (-1.0, "-1"), (np.inf, "inf"), (np.nan, "nan")):
        with pytest.raises(InputError) as caught:
            judge(typed, typed, ("A",), 2, tolerance)
        assert str(caught.value) == f"`tolerance`: {shown} is not a tolerance; give a ΔE00 above 0"


def test_two_geometries_are_warned_of_once() -> None:
    one, two = replace(card_of(POURED), geometry="di8"), replace(card_of(POURED), geometry="45/0")
    (told,) = judge(one, two, ("D65",)).warnings
    assert told.startswith("the geometries differ (di8, 45/0): ")
    already = replace(one, warnings=(told,))
    assert judge(already, two, ("D65",)).warnings == (told,)
    assert judge(one, one, ("D65",)).warnings == ()
    assert judge(one, replace(two, geometry=""), ("D65",)).warnings == ()
    assert judge(replace(one, geometry=""), two, ("D65",)).warnings == ()


def test_a_spray_out_is_held_to_its_target_light_by_light() -> None:
    card = card_of(POURED)
    found = sprayed_differences(GOAL, card)
    assert list(found) == ["D65", "A"]
    assert list(found.values()) == pytest.approx([float(v) for v in GOAL.differences(card.reflectance)])
    assert off_in_words(GOAL, card) == difference_words(GOAL.labs[0], card.lab_in("D65", 10))


def test_the_parts_of_a_batch_are_its_coloured_tints_each_once() -> None:
    batch = (("blue", 10.0), ("clear", 30.0), ("white", 80.0), ("blue", 5.0), ("red", 0.0), ("clear", 2.0))
    assert coloured_parts(PAINTS, TINTS, batch) == ({"blue": 15.0, "white": 80.0}, 32.0)
    assert coloured_parts(PAINTS, TINTS, batch[:1]) == ({"blue": 10.0}, 0.0)
    for wrong, told in (
        ((("tar", 1.0),), "the batch, tint 'tar': its optics aren't known; add letdowns of it to the bank"),
        ((("clear", 1.0),), "the batch: holds no coloured tint; check the batch file"),
        ((("red", 0.0),), "the batch: holds no coloured tint; check the batch file"),
    ):
        with pytest.raises(InputError) as caught:
            coloured_parts(PAINTS, TINTS, wrong)
        assert str(caught.value) == told


def test_strengths_far_from_the_banks_are_told_and_those_no_tin_has() -> None:
    def warnings(**strengths: float) -> tuple[str, ...]:
        strong = PAINTS.strengthened(np.array([strengths.get(name, 1.0) for name in NAMES]))
        card = Reading("card", predicted_reflectance(strong, POURED)[None])
        prior = StrengthPrior(NAMES, np.zeros(4), np.diag([1e-6, 4.0, 1e-6, 1.0]), 0.01)
        return card_strengths(PAINTS, TINTS, batch_of(POURED), card, SCALE, prior).warnings

    assert warnings() == ()
    assert warnings(blue=1.1) == ()
    assert warnings(blue=1.3) == (
        "blue: today's strength is far from the bank's; check the weights poured and the tin",
    )
    assert warnings(blue=0.7) == warnings(blue=1.3)
    (impossible, far) = warnings(blue=20.0)
    assert impossible.startswith("blue comes out ")
    assert impossible.endswith(
        " times as strong as the bank's, more than a tin can be off; it is counted as found: read the card again "
        "before anything is added"
    )
    assert far == warnings(blue=1.3)[0]


def test_a_reading_that_may_be_off_teaches_less() -> None:
    names = ("white", "blue", "red")
    mine = PAINTS.chosen(names)
    weights = POURED[:3]
    card = Reading("card", predicted_reflectance(mine.strengthened(np.array([1, 1.15, 1])), weights)[None])
    sure = update_strengths(mine, weights, card)
    doubtful = update_strengths(mine, weights, card, doubt=0.03 * np.ones((1, 31)))
    lab = update_strengths(mine, weights, replace(card, repeats=card.lab_in("A", 2)[None], light="A", observer=2))
    for found in (sure, doubtful, lab):
        assert found.factors[1] / found.factors[0] == pytest.approx(1.15, rel=0.05)
    sd = [float(np.sqrt([1, -1, 0] @ found.covariance @ [1, -1, 0])) for found in (sure, doubtful, lab)]
    assert sd[0] < 0.9 * sd[1]
    assert sd[0] < 0.9 * sd[2]
    known = StrengthPrior(names, np.log([1.0, 1.3, 1.0]), 1e-10 * np.eye(3))
    assert update_strengths(mine, weights, card, prior=known).factors == pytest.approx([1.0, 1.3, 1.0], abs=1e-4)
    narrow = update_strengths(mine, weights, card, 1e-4)
    assert narrow.factors == pytest.approx([1, 1, 1], abs=0.01)


def test_what_the_bank_leaves_open_counts_where_it_is_more_than_the_theory() -> None:
    """The variance of the draws' readings, less four times the theory's 0.4 % of the reading, squared."""
    assert left_open(PAINTS, POURED).shape == (0, 31)
    off = np.random.default_rng(1).standard_normal((40, 4, 1))

    def drawn(sd: float) -> tuple[np.ndarray, np.ndarray]:
        draws = np.array([[PAINTS.K * np.exp(sd * one), PAINTS.S] for one in off])
        readings = np.array([predicted_reflectance(replace(PAINTS, K=K, S=S), POURED) for K, S in draws])
        return left_open(replace(PAINTS, draws=draws), POURED), readings

    assert len(drawn(1e-3)[0]) == 0
    wide, readings = drawn(0.5)
    assert wide.shape == (40, 31)
    np.testing.assert_allclose(wide.sum(axis=0), 0, atol=1e-9)
    theory = ((4 * 0.004 * readings.mean(axis=0)) ** 2).sum()
    assert (wide**2).sum() == pytest.approx(readings.var(axis=0).sum() - theory)
    np.testing.assert_allclose((wide[0] / wide[1]), (readings[0] - readings.mean(0)) / (readings[1] - readings.mean(0)))


def test_a_card_is_a_panel_as_surely_as_it_was_read() -> None:
    card = replace(card_of(POURED), repeats=np.stack([predicted_reflectance(PAINTS, POURED)] * 4))
    found = card_panel(PAINTS, TINTS, (*batch_of(POURED), ("clear", 9.0)), card, SCALE)
    assert found.tins == found.names == ("white", "blue", "red")
    np.testing.assert_allclose(found.grams, [300, 50, 20])
    np.testing.assert_allclose(found.reading_sd, np.sqrt(REPEATABILITY_SD**2 / 4 + CARD_NOISE_SD**2))
    assert found.pour_sd_g == pytest.approx(0.1)
    mean = card_panel(PAINTS, TINTS, batch_of(POURED), card, SCALE, mean_of=3)
    np.testing.assert_allclose(mean.reading_sd, np.sqrt(REPEATABILITY_SD**2 / 12 + CARD_NOISE_SD**2))
    spread = replace(card, repeats=card.repeats + np.array([-0.03, -0.01, 0.01, 0.03])[:, None])
    rough = card_panel(PAINTS, TINTS, batch_of(POURED), spread, SCALE)
    np.testing.assert_allclose(rough.reading_sd, np.sqrt(0.002 / 3 / 4 + CARD_NOISE_SD**2))
    np.testing.assert_allclose(rough.reading, card.reflectance)
    doubt = np.linspace(0, 0.01, 31)
    wide = card_panel(PAINTS, TINTS, batch_of(POURED), replace(card, conversion_sd=doubt), SCALE, (2 * doubt,))
    np.testing.assert_allclose(wide.reading_sd**2 - found.reading_sd**2, 31 * 5 * doubt**2, atol=1e-15)
    with pytest.raises(InputError) as caught:
        card_panel(PAINTS, TINTS, batch_of(POURED), Reading("card", np.array([[50.0, 0, 0]])), SCALE)
    assert str(caught.value) == "card: is known as Lab only, which is no panel; measure its spectrum"


def test_the_doubt_between_two_films_is_what_separates_their_readings() -> None:
    thin, thick = (PAINTS.over(Backing("grey", build, np.full(31, 0.3))) for build in (20.0, 40.0))
    batch = (*batch_of(POURED), ("unknown", 7.0), ("blue", 5.0))
    weights = POURED + grams(blue=5.0)
    apart = predicted_reflectance(thin, weights) - predicted_reflectance(thick, weights)
    np.testing.assert_allclose(doubt_between(thin, thick, 2.0, batch), apart / 2)


def test_a_film_is_over_its_ground_or_over_any_of_them() -> None:
    dark, light = np.full(31, 0.05), np.full(31, 0.8)
    grounds = (("White", light), ("black", dark))
    for build, optics in ((None, PAINTS), (0.0, PAINTS), (30.0, replace(PAINTS, per_um=False))):
        assert sprayed_film(optics, grounds, "white", build).optics is optics
        assert sprayed_film(optics, grounds, "white", build).alternatives == ()
    known = sprayed_film(PAINTS, grounds, " BLACK ", 30.0)
    assert known.optics.backing.build_um == 30.0
    assert known.optics.backing.ground is dark
    ((thicker, own, sds),) = known.alternatives
    assert (thicker.backing.build_um, own.backing.build_um, sds) == (pytest.approx(30 * (1 + BUILD_SD)), 30.0, 1.0)
    for told, ends in ((grounds, (dark, light)), ((), (np.full(31, 0.03), np.full(31, 0.9)))):
        unknown = sprayed_film(PAINTS, told, "primer", 30.0)
        np.testing.assert_allclose(unknown.optics.backing.ground, (ends[0] + ends[1]) / 2)
        (_, (over_light, over_dark, wide)) = unknown.alternatives
        np.testing.assert_allclose(over_light.backing.ground, ends[1])
        np.testing.assert_allclose(over_dark.backing.ground, ends[0])
        assert (over_dark.backing.build_um, wide) == (30.0, pytest.approx(np.sqrt(12)))


def test_what_reading_and_model_differ_by_is_partly_kept() -> None:
    """By the variance of the theory over that and the reading's noise."""
    card = card_of(POURED, 0.004)
    prior = StrengthPrior(NAMES, np.zeros(4), 1e-12 * np.eye(4))
    found = updated_tin(GOAL, PAINTS, TINTS, (*batch_of(POURED), ("clear", 30.0)), card, SCALE, TinRecord(prior))
    assert found.total == pytest.approx(400.0)
    assert found.tin.total == pytest.approx(370.0)
    np.testing.assert_allclose(found.tin.poured, POURED)
    assert found.strengths == pytest.approx({"white": 1, "blue": 1, "red": 1}, abs=1e-3)
    noise, model = reading_noise(card), predicted_reflectance(PAINTS, POURED)
    theory = (MODEL_SHARE * model) ** 2 + MODEL_FLOOR**2
    kept = theory / (theory + noise.each**2 + noise.together**2)
    np.testing.assert_allclose(found.tin.offset, 0.004 * kept, rtol=1e-2)
    np.testing.assert_allclose(found.tin.reading_sd, np.sqrt(kept) * noise.each)
    np.testing.assert_allclose(found.tin.place_sd, np.sqrt(kept) * noise.together)
    assert found.warnings == ()
    typed = Reading("card", card.lab_in("A", 2)[None], "A", 2, warnings=("note",))
    lab = updated_tin(GOAL, PAINTS, TINTS, batch_of(POURED), typed, SCALE, TinRecord(prior))
    np.testing.assert_allclose(lab.tin.lab_offset, typed.lab - reflectance_to_lab(model, "A", 2), atol=1e-3)
    assert lab.warnings == (
        "note", "the spray-out is known as Lab only: the strengths are less certain than from a spectrum",
    )  # fmt: skip
    np.testing.assert_allclose(lab.tin.moved().labs, GOAL.labs - lab.tin.lab_offset)
