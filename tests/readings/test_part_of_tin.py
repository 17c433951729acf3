"""A part of a tin is understood as a painter says it, and nothing else is."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from finishmatch.errors import InputError
from finishmatch.readings.part_of_tin import part_of_tin


@pytest.mark.parametrize(
    ("text", "share"),
    [
        ("half", 1 / 2), ("a third", 1 / 3), ("two-thirds", 2 / 3), ("Three Quarters", 3 / 4), ("30%", 0.3),
        ("30 %", 0.3), ("1/4", 0.25), ("0.4", 0.4), ("150g", 0.3), ("150 g", 0.3), ("150 grams", 0.3),
    ],
)  # fmt: skip
def test_a_part_is_understood(text: str, share: float) -> None:
    assert part_of_tin("`set_aside`", text, 500) == pytest.approx(share)


@pytest.mark.parametrize("text", ["", "0", "1", "all", "100%", "600g", "-3g", "3/2", "1/0", "nan", "g", "%", "50"])
def test_what_is_no_part_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        part_of_tin("`set_aside`", text, 500)


def test_a_bare_number_is_asked_for_its_unit() -> None:
    with pytest.raises(InputError, match="could be grams or percent"):
        part_of_tin("`set_aside`", "150", 500)


@given(st.text(max_size=12))
def test_no_text_does_more_than_be_refused(text: str) -> None:
    try:
        assert 0 < part_of_tin("`set_aside`", text, 500) < 1
    except InputError:
        return
