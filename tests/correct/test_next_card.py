"""What the next card of a tin reads: by its last one, and by what was added since."""

from __future__ import annotations

import numpy as np
import pytest

from finishmatch.colour import de00, reflectance_to_lab
from finishmatch.correct.correct import correct_batch
from finishmatch.correct.next_card import next_card
from finishmatch.correct.tin import Tin
from finishmatch.correct.updated_tin import TinRecord, updated_tin
from finishmatch.mix.weighing import Scale
from finishmatch.optics import TintOptics, predicted_reflectance
from finishmatch.readings import Reading
from tests.helpers.plain_paints import GOAL, NAMES, PAINTS, POURED, TINTS, WISHED, batch_of, card_of, grams, tin_of

SCALE = Scale()
MORE = grams(blue=6.0, black=1.0)
SINCE = (("blue", 6.0), ("black", 1.0))
STRONG = np.array([1.0, 1.15, 0.9, 1.0])


def sprayed(poured: np.ndarray) -> Reading:
    """A card of tins that aren't as strong as the bank's."""
    return Reading("card", predicted_reflectance(PAINTS.strengthened(STRONG), poured)[None])


def tin_after(card: Reading, *since: tuple[str, float]) -> Tin:
    return updated_tin(GOAL, PAINTS, TINTS, batch_of(POURED), card, SCALE, TinRecord(since=since)).tin


def test_what_was_added_since_is_as_unsure_as_what_is_still_to_be_added() -> None:
    tin = tin_of(log_covariance=0.1**2 * np.eye(4), reading_sd=1e-3)
    grown = tin.grown(MORE)
    assert grown.total == pytest.approx(float((POURED + MORE).sum()))
    np.testing.assert_allclose(grown.differences(grams()), tin.differences(MORE))
    np.testing.assert_allclose(grown.drawn(grams(), SCALE), tin.drawn(MORE, SCALE))
    twice = grown.grown(grams(blue=2.0))
    np.testing.assert_allclose(twice.since, MORE + grams(blue=2.0))
    np.testing.assert_allclose(twice.drawn(grams(), SCALE), tin.drawn(MORE + grams(blue=2.0), SCALE))


def test_a_pour_into_a_tin_of_which_as_much_was_added_slips_with_it() -> None:
    tin, coarse = tin_of(reading_sd=0.0), Scale(2.0, 6.0)
    once = tin.grown(grams(blue=20.0)).drawn(grams(), coarse)
    again = tin.grown(grams(blue=10.0)).drawn(grams(blue=10.0), coarse)
    assert again.std() > 1.2 * once.std()


def test_with_nothing_added_the_next_card_reads_what_the_last_one_did() -> None:
    band = 0.01 * np.exp(-(((np.arange(31) - 15) / 3) ** 2))  # what no strength explains
    last = Reading("card", sprayed(POURED).repeats + band)
    found = next_card(tin_after(last), last, SCALE)
    np.testing.assert_allclose(found.reflectance, last.reflectance)
    assert found.against(last).de00 == pytest.approx(0, abs=1e-9)
    added = next_card(tin_after(last, *SINCE), last, SCALE)
    true = sprayed(POURED + MORE).repeats[0] + band
    bank = predicted_reflectance(PAINTS, POURED + MORE)
    off, of_bank = (float(de00(reflectance_to_lab(true), reflectance_to_lab(r))) for r in (added.reflectance, bank))
    assert off < 0.25 * of_bank
    plain = sprayed(POURED)
    now, later = (next_card(tin_after(plain, *since), plain, SCALE).within_95() for since in ((), SINCE))
    assert 0.05 < now < later < 1
    assert found.within_95() > now  # a reading that no strength explains may be one that was off


def test_by_lab_alone_the_colour_moves_from_where_the_card_read() -> None:
    lab = sprayed(POURED).lab_in("D65", 10)
    last = Reading("card", lab[None])
    found, added = (next_card(tin_after(last, *since), last, SCALE) for since in ((), SINCE))
    np.testing.assert_allclose(found.lab_in("D65", 10), lab, atol=1e-6)
    true = sprayed(POURED + MORE).lab_in("D65", 10)
    assert de00(added.lab_in("D65", 10), true) < 0.2 * de00(lab, true)
    np.testing.assert_allclose(
        added.lab_in("A", 10) - reflectance_to_lab(added.reflectance, "A", 10),
        added.lab_in("D65", 10) - reflectance_to_lab(added.reflectance, "D65", 10),
    )
    assert found.within_95() > 0.1  # either reading has its noise


def stirred_and_read(tins: TintOptics, poured: np.ndarray, r: np.random.Generator) -> Reading:
    """A card with the slips of stirring and of one reading."""
    stirred = tins.strengthened(np.exp(0.01 * r.standard_normal(4)))
    noise = 5e-4 * r.standard_normal(31) + 8e-4 * r.standard_normal()
    return Reading("card", (predicted_reflectance(stirred, poured) + noise)[None])


def test_the_next_card_lies_within_it_about_as_often_as_is_said() -> None:
    r, held, times = np.random.default_rng(7), [], []
    for _ in range(80):
        strong = PAINTS.strengthened(np.exp(0.15 * r.standard_normal(4)))

        last = stirred_and_read(strong, POURED, r)
        slip = np.where(MORE > 0, 0.1 * r.standard_normal(4), 0.0)
        read = stirred_and_read(strong, POURED + MORE + slip, r)
        card = next_card(tin_after(last, *SINCE), last, SCALE).against(read)
        held.append(card.de00 <= card.within)
        times.append(card.times)
        assert (card.again, card.by_card) == (True, True)
    assert 0.88 <= np.mean(held) <= 1
    assert 0.7 < np.sqrt(np.mean(np.square(times))) < 1.3


def test_a_correction_of_a_tin_goes_on_from_what_was_added_since() -> None:
    card = card_of(POURED)
    found = correct_batch(GOAL, PAINTS, TINTS, batch_of(POURED), card, 0.3)
    rest = dict(found.additions)
    assert rest["blue"] > 4
    half = (("blue", round(rest["blue"] / 2, 1)), ("clear", 20.0))
    more = correct_batch(GOAL, PAINTS, TINTS, batch_of(POURED), card, 0.3, record=TinRecord(since=half))
    assert dict(more.additions)["blue"] == pytest.approx(rest["blue"] / 2, abs=0.6)
    total = float(POURED.sum()) + sum(g for _, g in half)
    assert more.growth == pytest.approx(sum(g for _, g in more.additions) / total)
    assert more.why.startswith("the batch comes out ")
    as_now = tin_after(card, *half).differences(grams())
    assert [*more.before.values()] == pytest.approx(as_now.tolist())
    whole = ("blue", float((WISHED - POURED)[NAMES.index("blue")]))
    done = correct_batch(GOAL, PAINTS, TINTS, batch_of(POURED), card, 0.3, record=TinRecord(since=(whole,)))
    assert (done.additions, done.reachable) == ((), True)
    # a clear alone moves no colour: the tin is still what its card read
    thinned = correct_batch(GOAL, PAINTS, TINTS, batch_of(POURED), card, 0.3, record=TinRecord(since=(("clear", 9.0),)))
    assert thinned.before == found.before
    assert thinned.why.startswith("the spray-out is ")
