"""How the strengths of tins are told in words."""

from __future__ import annotations

import math

import pytest

from finishmatch.ledger import describe_strengths


@pytest.mark.parametrize("dust", [0.0, 1e-12, -1e-12])
def test_two_tins_as_far_off_as_each_other_are_told_in_their_order(dust: float) -> None:
    """As one letdown shows a tint and its white: which of the two is further off hangs on the last digit."""
    off = math.log(1.11)
    told = describe_strengths(("blue", "black", "white"), (-off, 0.0, off + dust), (0.1, 0.02, 0.1))
    assert told == "blue -10 % ± 10.0, white +11 % ± 10.0, black 0 % ± 2.0"


def test_the_furthest_off_are_told_first() -> None:
    told = describe_strengths(("blue", "white"), (0.01, -0.02), (0.1, 0.1))
    assert told.startswith("white -2 %")
