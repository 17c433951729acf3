"""The comparison of made texts holds words exactly and numbers to their last digit."""

from __future__ import annotations

import pytest

from tests.helpers.same_numbers import same_numbers


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("white,0.8731,2", "white,0.8732,2"),
        ("ΔE00 0.30, −1.20", "ΔE00 0.31, −1.19"),
        ("3.10e-05", "3.11e-05"),
        ("no number", "no number"),
        ("P1500 of 1934-03-01", "P1500 of 1934-03-01"),
    ],
)
def test_a_last_digit_may_differ(one: str, other: str) -> None:
    same_numbers(one, other)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("white,0.8731", "white,0.8733"),
        ("white,0.8731", "white,-0.8731"),
        ("white 12 g", "white 13 g"),
        ("white 0.5", "black 0.5"),
        ("0.5 0.5", "0.5"),
        ("P1500", "P2000"),
        ("0.5 g", "0.5 kg"),
    ],
)
def test_more_may_not(one: str, other: str) -> None:
    with pytest.raises(AssertionError):
        same_numbers(one, other)


def test_numbers_printed_in_full_may_differ_by_a_part_of_their_size() -> None:
    same_numbers("0.123456789012345", "0.123456789019", relative=1e-9)
    with pytest.raises(AssertionError):
        same_numbers("0.123456789012345", "0.1234568", last_digits=0, relative=1e-9)
