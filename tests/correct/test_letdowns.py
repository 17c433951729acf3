"""Drops of a strong tint poured by a letdown: what the cup does to the tin, and when it pays."""

from __future__ import annotations

import numpy as np
import pytest

from booth.workshop import ROUGH, Workshop
from finishmatch.correct.correct import correct_batch
from finishmatch.correct.finer_pour import finer_pour
from finishmatch.correct.letdown_scale import letdown_scale
from finishmatch.correct.likeliest_addition import SURE, chance_after, likeliest_addition
from finishmatch.correct.limits import Limits
from finishmatch.correct.updated_tin import TinRecord
from finishmatch.evidence.target import colour_target
from finishmatch.mix.letdowns import MOST_LETDOWNS, MOST_TAKEN, LetdownScale, letdowns_of
from finishmatch.mix.weighing import PARTS, Scale
from finishmatch.optics import predicted_reflectance
from finishmatch.readings import Reading
from tests.helpers.plain_paints import NAMES, PAINTS, POURED, TINTS, batch_of, card_of, grams, tin_of

SCALE = Scale()
PLENTY = np.full(4, 1e3)
NO_CLEAR = TINTS[:4]
GREY = colour_target(  # a white that lacks a drop of black
    Reading("grey", predicted_reflectance(PAINTS, grams(white=300.0, black=1.2))[None]), ("D65", "A"), 10
)
NEARLY = grams(white=300.0, black=1.05)


def scale_with(*tints: str, step_g: float = 0.1) -> LetdownScale:
    return LetdownScale(step_g, 3 * step_g, let_down=tuple(name in tints for name in NAMES))


def after(tin: np.ndarray, added: np.ndarray, scale: LetdownScale) -> np.ndarray:
    """The tin when each pour is exact: out of the tin into the cup, and back, by the sums of a tin and a cup."""
    total, letdowns = float(tin.sum()), letdowns_of(NAMES, added, float(tin.sum()), scale)
    by_cup = [NAMES.index(one.tint) for one in letdowns]
    straight = added.copy()
    straight[by_cup] = [one.straight_g for one in letdowns]
    tin = tin + straight
    filled_from = total + float(added.sum() - added[by_cup].sum())  # what is poured straight is in the tin before
    for i, one in zip(by_cup, letdowns, strict=True):
        assert one.filled_g == pytest.approx(PARTS * one.tint_g)
        taken = (one.filled_g - one.tint_g) * tin / tin.sum()
        assert taken.sum() <= MOST_TAKEN * filled_from + 1e-9
        cup = taken + np.eye(4)[i] * one.tint_g
        assert one.back_g <= cup.sum()
        tin = tin - taken + cup * one.back_g / cup.sum()
    return tin


@pytest.mark.parametrize("total", [100.0, 500.0, 4000.0])
@pytest.mark.parametrize("share", [0.0001, 0.0004, 0.002, 0.008])
def test_the_shares_of_the_tin_come_out_as_if_the_whole_tin_had_been_added_to(total: float, share: float) -> None:
    tin, scale = POURED * total / POURED.sum(), scale_with("black", "red")
    added = grams(black=np.round(share * total, 2), red=np.round(share * total / 2, 2), white=0.05 * total)
    came, meant = after(tin, added, scale), tin + added
    step = 0.5 * scale.step_g / PARTS  # what goes back is in whole steps of the scale
    np.testing.assert_allclose(came / came.sum() * meant.sum(), meant, atol=1.2 * step + 2e-4 * added.sum())


def test_what_is_too_much_for_a_cup_goes_straight_but_for_the_rest() -> None:
    (one,) = letdowns_of(NAMES, grams(black=5.43), 500.0, scale_with("black"))
    assert one.straight_g == pytest.approx(4.4)
    assert one.tint_g <= 3
    (small,) = letdowns_of(NAMES, grams(black=0.43), 500.0, scale_with("black"))
    assert small.straight_g == 0
    assert letdowns_of(NAMES, grams(white=5.0), 500.0, scale_with("black")) == ()


def test_pours_land_within_what_the_scale_states() -> None:
    """In the booth, whose hand slips by a step and whose scale shows whole steps."""
    shop = Workshop(ROUGH, 7)
    names, r = [tint.name for tint in shop.tints], np.random.default_rng(3)
    tin = np.zeros(len(names))
    tin[:3] = 400.0, 60.0, 40.0
    scale = LetdownScale(let_down=tuple(i == 4 for i in range(len(names))))
    for weight in (0.06, 0.4, 1.5, 5.43):
        added = np.eye(len(names))[4] * weight
        poured = letdowns_of(names, added, tin.sum(), scale)
        off = []
        for _ in range(300):
            came, said = shop.add(tin, tin, added, poured, r)
            assert said[4] == weight
            off.append(came[4] / came.sum() * (tin.sum() + weight) - weight)
        stated = scale.pour_sd_g(added)[4]
        assert abs(np.mean(off)) < 0.5 * stated  # what goes back is in whole steps
        assert 0.8 * stated < np.std(off) < 1.4 * stated
        assert stated < 0.4 * SCALE.step_g


def test_only_tints_whose_slip_shows_are_let_down_and_only_where_the_tin_can_spare_it() -> None:
    tin = tin_of()
    fine = letdown_scale(tin, 370.0, 0.3, SCALE)
    assert fine is not None
    by_name = dict(zip(NAMES, fine.let_down, strict=True))
    assert by_name["black"]
    assert not by_name["white"]
    assert letdown_scale(tin, 370.0, 50.0, SCALE) is None
    assert letdown_scale(tin, 100.0, 0.3, SCALE) is None  # the scale can't weigh a cup that a small tin can spare
    np.testing.assert_allclose(fine.steps_g(4)[[0, 3]], [0.1, 0.01])
    np.testing.assert_allclose(fine.smallest_parts_g(4)[[0, 3]], [0.3, 0.03])


def test_a_letdown_is_taken_where_it_brings_the_card_nearer_and_not_where_pouring_straight_is_sure() -> None:
    tolerance, most = 0.2, 0.2 * float(NEARLY.sum())
    tin = tin_of(NEARLY, target=GREY)
    straight, _ = likeliest_addition(tin, PLENTY, tolerance, most, SCALE)

    def finer(stock: np.ndarray, straight: np.ndarray | None, tolerance: float):  # type: ignore[no-untyped-def]
        limits = Limits(tin, stock, tolerance, 0.2, tin.total, SCALE, "")
        return finer_pour(limits, straight, lambda room, scale: likeliest_addition(tin, room, tolerance, most, scale))

    found = finer(PLENTY, straight, tolerance)
    assert found is not None
    added, fine, _ = found
    assert 0 < sum(fine.let_down) <= MOST_LETDOWNS
    assert tin.differences(added).max() <= tolerance
    assert chance_after(tin, added, tolerance, fine) > (
        0 if straight is None else chance_after(tin, straight, tolerance, SCALE)
    )
    scarce = np.where(np.array(fine.let_down), 0.9, PLENTY)  # enough for the addition, and not for the cup
    assert finer(scarce, straight, tolerance) is None
    wide, _ = likeliest_addition(tin, PLENTY, 3.0, most, SCALE)
    assert wide is not None
    assert chance_after(tin, wide, 3.0, SCALE) >= SURE
    assert finer(PLENTY, wide, 3.0) is None


def test_the_correction_says_how_it_is_poured_and_does_without_when_told_to() -> None:
    def corrected(scale: Scale):  # type: ignore[no-untyped-def]
        return correct_batch(GREY, PAINTS, NO_CLEAR, batch_of(NEARLY), card_of(NEARLY), 0.2, scale=scale)

    found = corrected(SCALE)
    assert found.letdowns
    added = dict(found.additions)
    for one in found.letdowns:
        assert one.straight_g <= added[one.tint]
        assert one.tint_g > 0
    others = {name: weight for name, weight in added.items() if name not in {one.tint for one in found.letdowns}}
    assert all(weight * 10 == pytest.approx(round(weight * 10)) for weight in others.values())
    straight = corrected(Scale(letdowns=False))
    assert straight.letdowns == ()
    assert all(weight * 10 == pytest.approx(round(weight * 10)) for _, weight in straight.additions)
    assert found.chance is not None
    assert straight.chance is not None
    assert found.chance > straight.chance


def test_the_rest_of_a_batch_is_in_the_tin_before_a_cup_is_filled_from_it() -> None:
    half = NEARLY / 2  # too little for a cup of its own

    def corrected(wanted: float):  # type: ignore[no-untyped-def]
        record = TinRecord(wanted=wanted)
        return correct_batch(GREY, PAINTS, NO_CLEAR, batch_of(half), card_of(half), 0.2, record=record)

    assert corrected(0.0).letdowns == ()
    found = corrected(301.0)
    (one,) = found.letdowns
    assert one.tint == "black"
    assert found.fills_to == 301.0
    assert 9 * one.tint_g > MOST_TAKEN * half.sum()
    assert 9 * one.tint_g <= MOST_TAKEN * 301.0
