"""The difference in a painter's words («common practice»)."""

from __future__ import annotations

import numpy as np
import pytest

from finishmatch.colour import difference_words

CASES = [
    ((50, 0, 0), (53, 0, 0), ["lighter"]),
    ((50, 0, 0), (47, 0, 0), ["darker"]),
    ((90, 0, 1), (90, 0, 4), ["yellower"]),  # a white read as a cream
    ((60, 0, 0), (60, 2, 0), ["redder"]),
    ((60, 0, 0), (60, -2, 0), ["greener"]),
    ((60, 0, 0), (60, 0, -2), ["bluer"]),
    ((50, 40, 0), (50, 45, 0), ["cleaner"]),
    ((50, -40, 0), (50, -34, 0), ["dirtier"]),
    ((50, 30, 30), (50, 26, 34), ["yellower"]),  # an orange turned towards yellow
    ((50, 30, 30), (50, 34, 26), ["redder"]),
    ((50, 0, -40), (50, -6, -40), ["greener"]),  # a blue turned towards green
    ((50, 0, -40), (50, 6, -40), ["redder"]),
    ((60, -30, 30), (60, -26, 34), ["yellower"]),
    ((80, 0, 70), (80, -8, 70), ["greener"]),  # a yellow is redder or greener
    ((80, 0, 70), (80, 8, 70), ["redder"]),
    ((40, -30, -10), (40, -26, -18), ["bluer"]),
    ((50, 20, 10), (50.1, 20.1, 10.1), []),
]


@pytest.mark.parametrize(("standard", "trial", "words"), CASES)
def test_the_direction_is_told(standard: tuple, trial: tuple, words: list[str]) -> None:
    assert difference_words(np.array(standard, float), np.array(trial, float))[: len(words) or 1] == words


def test_the_largest_part_comes_first_and_small_ones_are_silent() -> None:
    assert difference_words(np.array([50, 30, 0.0]), np.array([56, 33, 0.0])) == ["lighter", "cleaner"]
    assert difference_words(np.array([50, 30, 0.0]), np.array([50.8, 38, 0.0])) == ["cleaner", "lighter"]
    assert difference_words(np.array([50, 30, 0.0]), np.array([50.1, 38, 0.0])) == ["cleaner"]


def test_turning_a_difference_round_turns_its_words_round() -> None:
    opposite = {"lighter": "darker", "darker": "lighter", "cleaner": "dirtier", "dirtier": "cleaner"}
    hues = {"redder", "yellower", "greener", "bluer"}
    r = np.random.default_rng(11)
    told = 0
    for _ in range(300):
        one = r.uniform([20, -50, -50], [90, 50, 50])
        two = one + r.normal(0, 3, 3)
        there, back = difference_words(one, two), difference_words(two, one)
        assert set(there) - hues == {opposite[word] for word in back if word not in hues}
        assert len(there) == len(back)
        assert not set(there) & set(back)
        told += len(there)
    assert told > 300
