"""The rest of a batch of which a part was poured and sprayed: it mends what the card shows, and fills the batch up."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from finishmatch.correct.correct import correct_batch
from finishmatch.correct.correction import Correction
from finishmatch.correct.limits import Limits
from finishmatch.correct.rest_of_batch import rest_of_batch
from finishmatch.correct.updated_tin import TinRecord
from finishmatch.evidence.target import colour_target
from finishmatch.mix.weighing import Scale
from finishmatch.optics.strength import StrengthPrior
from finishmatch.readings import Reading
from tests.helpers.plain_paints import GOAL, NAMES, PAINTS, POURED, TINTS, WISHED, batch_of, card_of, grams, tin_of

SCALE = Scale()
PLENTY = np.full(4, 1e3)
HALF = WISHED / 2
WHOLE = float(WISHED.sum())
STRENGTHS = np.array([1.0, 1.4, 0.8, 1.0])


def corrected(poured: np.ndarray, wanted: float, *, off: np.ndarray = STRENGTHS, **other: float) -> Correction:
    """The correction of a tin of paints that are stronger or weaker than the bank has them, by its card."""
    prior, tints = StrengthPrior.default(NAMES), tuple(TINTS[:4])
    card = card_of(poured * off)
    return correct_batch(GOAL, PAINTS, tints, batch_of(poured), card, 0.3, record=TinRecord(prior, (), wanted), **other)


def added_by(found: Correction) -> np.ndarray:
    """Grams of all four paints."""
    return grams(**dict(found.additions))


def test_the_rest_fills_the_batch_up_and_mends_what_the_card_showed() -> None:
    found = corrected(HALF, WHOLE)
    assert found.reachable
    assert found.fills_to == WHOLE
    assert found.growth == 0
    tin = HALF + added_by(found)
    assert tin.sum() == pytest.approx(WHOLE, abs=0.5)
    # by the strengths as they are the tin is what was wished for, within what strengths can be told
    assert GOAL.differences(card_of(tin * STRENGTHS).reflectance).max() < 0.4
    blue = NAMES.index("blue")
    assert added_by(found)[blue] < 0.7 * HALF[blue]  # it is too strong: of half a batch that needn't cost paint
    assert "the rest of the batch" in found.why


def test_the_same_tin_as_a_whole_batch_grows() -> None:
    found = corrected(WISHED, 0.0)
    assert found.fills_to is None
    assert found.growth > 0.05


def test_a_card_that_is_inside_gets_its_rest_too() -> None:
    found = corrected(HALF, WHOLE, off=np.ones(4))
    assert max(found.before.values()) <= 0.3
    np.testing.assert_allclose(added_by(found), HALF, atol=1.5)
    assert "inside the tolerance" in found.why
    nothing = corrected(HALF, float(HALF.sum()), off=np.ones(4))
    assert nothing.additions == ()
    assert nothing.fills_to is None


def test_what_half_a_batch_has_too_much_of_makes_it_grow_by_no_more_than_it_must() -> None:
    found = corrected(HALF, WHOLE, off=np.array([1.0, 2.3, 1.0, 1.0]))
    assert found.fills_to == WHOLE
    assert found.reachable
    assert 0 < found.growth <= 0.2
    within = corrected(HALF, WHOLE, off=np.array([1.0, 4.0, 1.0, 1.0]))
    assert not within.reachable
    assert within.growth <= 0.2 + 1e-9
    assert within.growth_needed is not None
    assert within.growth_needed > 0.2
    assert 0.5 < within.growth_needed <= 4.0 / 2 - 1  # twice what was wanted, as half had four times, or a little less
    assert "within a growth of 20 %" in within.why


def test_a_colour_that_no_rest_reaches_is_filled_up_all_the_same_and_said_to_be() -> None:
    far = colour_target(Reading("far", np.full((1, 31), 0.9)), ("D65", "A"), 10)  # whiter than the white
    record = TinRecord(StrengthPrior.default(NAMES), (), WHOLE)
    found = correct_batch(far, PAINTS, tuple(TINTS[:4]), batch_of(HALF), card_of(HALF), 0.3, record=record)
    assert not found.reachable
    assert added_by(found).sum() >= WHOLE / 2 - 0.5
    assert found.fills_to == WHOLE
    scarce = tuple(replace(tint, stock_g=40.0) for tint in TINTS[:4])
    short = correct_batch(far, PAINTS, scarce, batch_of(HALF), card_of(HALF), 0.3, record=record)
    assert added_by(short).sum() < WHOLE / 2 - 1
    assert short.fills_to is None  # it doesn't
    assert short.growth == pytest.approx(added_by(short).sum() / HALF.sum())


@pytest.mark.parametrize("step_g", [0.1, 5.0])
def test_whatever_the_scale_what_is_said_to_fill_the_batch_up_does(step_g: float) -> None:
    prior, scale = StrengthPrior.default(NAMES), Scale(step_g, 3 * step_g)
    for tolerance in (0.02, 0.1, 0.3):
        found = correct_batch(
            GOAL, PAINTS, tuple(TINTS[:4]), batch_of(HALF), card_of(HALF * STRENGTHS), tolerance,
            scale=scale, record=TinRecord(prior, (), WHOLE),
        )  # fmt: skip
        if found.fills_to is not None:
            assert added_by(found).sum() >= WHOLE / 2 - scale.smallest_g - 1e-6


def test_stock_that_does_not_do_for_the_rest_is_no_rest() -> None:
    assert rest_of_batch(tin_of(HALF), np.array([100.0, 200.0, 150.0, 100.0]), WHOLE / 2, SCALE) is None
    assert rest_of_batch(tin_of(HALF), PLENTY, WHOLE / 2, SCALE) is not None


def test_a_tint_that_is_not_in_the_tin_comes_in_where_it_shows_and_not_for_a_trifle() -> None:
    lacking = np.where(np.array(NAMES) == "red", 0.0, HALF)
    rest = rest_of_batch(tin_of(lacking), PLENTY, WHOLE - lacking.sum(), SCALE)
    assert rest is not None
    tin = lacking + rest
    np.testing.assert_allclose(tin / tin.sum(), WISHED / WHOLE, atol=2e-3)
    near = rest_of_batch(tin_of(HALF), PLENTY, WHOLE / 2, SCALE)
    assert near is not None
    assert near[NAMES.index("black")] == 0


@given(
    st.lists(st.floats(0.75, 1.3), min_size=3, max_size=3),
    st.floats(0.3, 0.8),
    st.sampled_from([0.01, 0.1, 1.0]),
)
def test_whatever_was_poured_the_rest_can_be_weighed_and_comes_as_near_as_any_grams(
    slips: list[float], share: float, step_g: float
) -> None:
    poured = np.append(np.array(slips), 1.0) * WISHED * share
    lacking, scale = float(WHOLE - poured.sum()), Scale(step_g, 3 * step_g)
    assume(lacking > 10 * scale.smallest_g)
    tin = tin_of(poured)
    rest = rest_of_batch(tin, PLENTY, lacking, scale)
    assert rest is not None
    assert (rest >= 0).all()
    assert rest.sum() == pytest.approx(lacking, abs=step_g)
    np.testing.assert_allclose(rest / step_g, np.round(rest / step_g), atol=1e-6)
    assert (rest[rest > 0] >= scale.smallest_g - 1e-9).all()
    if (poured <= WISHED).all() and step_g < 1:  # nothing was poured beyond what the whole wants
        assert tin.differences(rest).max() < 0.15


def test_drops_of_a_strong_tint_in_the_rest_are_poured_by_a_letdown_where_that_pays() -> None:
    wished = grams(white=498.6, black=1.4)
    target = colour_target(card_of(wished), ("D65", "A"), 10)
    poured = wished / 2
    record = TinRecord(StrengthPrior.default(NAMES), (), 500.0)
    found = correct_batch(target, PAINTS, tuple(TINTS[:4]), batch_of(poured), card_of(poured), 0.15, record=record)
    assert found.fills_to == 500.0
    assert [one.tint for one in found.letdowns] == ["black"]
    assert found.additions[-1][0] == "black"
    straight = correct_batch(
        target, PAINTS, tuple(TINTS[:4]), batch_of(poured), card_of(poured), 0.15,
        scale=Scale(letdowns=False), record=record,
    )  # fmt: skip
    assert straight.letdowns == ()
    assert found.chance is not None
    assert straight.chance is not None
    assert found.chance > straight.chance


def test_limits_count_growth_beyond_what_was_wanted() -> None:
    tin = tin_of(POURED)
    whole = Limits(tin, PLENTY, 0.3, 0.2, 370.0, SCALE, "")
    assert (whole.lacking, whole.batch, whole.most) == (0.0, 370.0, pytest.approx(74.0))
    assert whole.growth(grams(white=37.0)) == pytest.approx(0.1)
    part = replace(whole, wanted=500.0)
    assert (part.lacking, part.batch, part.most) == (130.0, 500.0, pytest.approx(230.0))
    assert part.short(grams(white=100.0))
    assert part.growth(grams(white=100.0)) == 0
    assert not part.short(grams(white=129.8))
    assert part.growth(grams(white=130.2)) == 0  # what rounding brings is no growth
    assert part.growth(grams(white=180.0)) == pytest.approx(0.1)
    assert replace(whole, wanted=370.2).lacking == 0  # less than the scale weighs
