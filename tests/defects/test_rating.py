"""The ratings of ISO 4628-1: their classes (from memory), and what can't be one."""

from __future__ import annotations

import pytest

from finishmatch.defects import find_kind, read_rating, size_rating
from finishmatch.errors import InputError

CRATER, PEEL = find_kind("crater"), find_kind("orange peel")


@pytest.mark.parametrize(
    ("size_mm", "rating"), [(0.01, 0), (0.05, 1), (0.15, 2), (0.4, 3), (0.5, 3), (1.5, 4), (6.0, 5)]
)
def test_a_size_has_its_class(size_mm: float, rating: int) -> None:
    """ISO 4628-1: class 3 is seen up to 0.5 mm, class 4 from there to 5 mm, class 5 above (from memory)."""
    assert size_rating(size_mm) == rating


def test_a_rating_is_read_and_told() -> None:
    assert read_rating("3(S4)", CRATER, None).text() == "3(S4)"
    assert read_rating("3 (s4)", CRATER, 1.5).text() == "3(S4)"
    assert read_rating("3", CRATER, 1.5).text() == "3(S4)"
    assert read_rating("3", CRATER, None).text() == "3"
    assert read_rating("2", PEEL, 1.5).text() == "2"


@pytest.mark.parametrize(
    ("text", "kind", "size_mm", "part"),
    [
        ("6", CRATER, None, "not a rating"),
        ("", CRATER, None, "not a rating"),
        ("3(S4", CRATER, None, "not a rating"),
        ("3(S4)", PEEL, None, "without a size"),
        ("3(S2)", CRATER, 1.5, "size class 4, not 2"),
    ],
)
def test_what_is_no_rating_is_refused(text: str, kind, size_mm: float | None, part: str) -> None:
    with pytest.raises(InputError, match=part):
        read_rating(text, kind, size_mm)
