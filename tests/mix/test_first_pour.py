"""How much of a recipe is poured before its first card, where tins aren't known."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from finishmatch.mix.first_pour import SHARES, UNMINDED_GROWTH, UNMINDED_OF_PART, first_pour
from finishmatch.mix.weighing import Scale

GREY = (("white", 444.3), ("blue", 29.1), ("soft black", 24.8), ("violet", 1.8))
SCALE = Scale()


def unknown(sd: float, parts: int = len(GREY)) -> np.ndarray:
    """The covariance of tins that are each known so well."""
    return np.eye(parts) * sd**2


def test_part_is_poured_at_first_where_tins_are_not_known_and_all_where_they_are() -> None:
    shares = []
    for sd in (0.02, 0.03, 0.08, 0.15, 0.2, 0.25):
        pour = first_pour(GREY, unknown(sd), SCALE)
        shares.append(1.0 if pour is None else pour.share)
    assert shares[:2] == [1.0, 1.0]
    assert shares == sorted(shares, reverse=True)
    assert set(shares) == set(SHARES)


def test_tins_that_are_strong_together_and_a_tint_alone_are_poured_at_once() -> None:
    assert first_pour(GREY, np.full((4, 4), 0.2**2), SCALE) is None
    assert first_pour((("black", 500.0),), unknown(0.3, 1), SCALE) is None


def test_the_card_of_a_part_is_that_of_the_whole() -> None:
    pour = first_pour(GREY, unknown(0.2), SCALE)
    assert pour is not None
    for (_, first), (_, whole) in zip(pour.parts, GREY, strict=True):
        assert first == pytest.approx(pour.share * whole, abs=SCALE.step_g / 2 + 1e-9)


def test_the_growth_that_is_said_is_that_of_pouring_and_adding_only() -> None:
    pour = first_pour(GREY, unknown(0.2), SCALE)
    assert pour is not None
    r = np.random.default_rng(8)
    wanted = np.array([grams for _, grams in GREY])
    for first, said in ((np.array([grams for _, grams in pour.parts]), pour.growth), (wanted, pour.growth_at_once)):
        # how far tins of a shop differ is known as from five: most differ little, a few much
        strengths = np.exp(0.2 * r.standard_t(5, (20_000, 4)))
        needed = wanted * strengths[:, :1] / strengths  # for the colour with all of the white
        size = np.maximum((first / needed).max(axis=1), 1.0)
        grown = np.maximum((size[:, None] * needed).sum(axis=1) / wanted.sum() - 1, 0).mean()
        assert said == pytest.approx(grown, abs=0.03)
    assert pour.growth < pour.growth_at_once - 0.03


def test_one_tin_that_is_not_known_is_reason_enough_the_largest_too() -> None:
    for unsure in range(4):
        sds = np.where(np.arange(4) == unsure, 0.25, 0.001)
        pour = first_pour(GREY, np.diag(sds**2), SCALE)
        assert pour is not None
        assert pour.share < 1


def test_growth_that_nobody_minds_is_let_be() -> None:
    for sd in (0.01, 0.02, 0.03):
        assert first_pour(GREY, unknown(sd), SCALE) is None
    more = first_pour(GREY, unknown(0.05), SCALE)
    assert more is not None
    assert more.growth_at_once >= UNMINDED_GROWTH > UNMINDED_OF_PART > more.growth


@given(
    st.lists(st.floats(1.0, 400.0), min_size=2, max_size=5),
    st.floats(0.02, 0.4),
    st.sampled_from([0.01, 0.1, 1.0]),
)
def test_what_is_poured_can_be_weighed_and_is_no_more_than_the_recipe(
    grams: list[float], sd: float, step_g: float
) -> None:
    scale = Scale(step_g, 3 * step_g)
    ordered = sorted((max(round(g / step_g), 3) * step_g for g in grams), reverse=True)
    parts = tuple((f"t{i}", round(weight, 6)) for i, weight in enumerate(ordered))
    pour = first_pour(parts, unknown(sd, len(parts)), scale)
    if pour is None:
        return
    assert [tint for tint, _ in pour.parts] == [tint for tint, _ in parts]
    for (_, first), (_, whole) in zip(pour.parts, parts, strict=True):
        assert scale.smallest_g - 1e-9 <= first <= whole + 1e-9
        assert first / step_g == pytest.approx(round(first / step_g), abs=1e-6)


def test_parts_too_small_to_halve_speak_for_all_at_once() -> None:
    cream = (("white", 486.7), ("soft black", 0.3), ("clean yellow", 0.3))
    assert first_pour(cream, unknown(0.2, 3), SCALE) is None  # half of it would be all of the black and of the yellow
    finer = first_pour(cream, unknown(0.2, 3), Scale(0.01, 0.03))
    assert finer is not None
    assert dict(finer.parts)["soft black"] == pytest.approx(0.15)


def test_the_growth_that_is_said_counts_a_small_part_as_it_is_poured() -> None:
    pale = (("white", 400.0), ("ochre", 40.0), ("blue", 0.4))
    pour, halved = first_pour(pale, unknown(0.2, 3), SCALE), first_pour(pale, unknown(0.2, 3), Scale(0.001, 0.003))
    assert halved is not None
    assert pour is None or pour.growth > halved.growth + 0.02
