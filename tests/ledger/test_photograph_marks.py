"""A photograph of a card is known again by its pixels and where the card lies in it; so are older records' marks."""

from __future__ import annotations

import pytest

from finishmatch.ledger import SprayOutEntry, same_reading
from finishmatch.ledger.photograph_marks import as_it_was_given, photograph_mark, same_mark
from finishmatch.steps.known_again import KnownAgain

Box = tuple[float, float, float, float]


def box(x: float, y: float, w: float, h: float) -> list[tuple[float, float]]:
    return [(x, y), (x + w, y), (x + w, y + h), (x, y + h)]


def mark(place: Box, file: str = "", pixels: str = "b" * 64) -> str:
    return photograph_mark(file or f"{pixels}{place}".replace(" ", ""), pixels, box(*place))


def card(marks: list[str], lab: tuple[float, float, float] = (45.0, -5.0, -15.0)) -> SprayOutEntry:
    return SprayOutEntry(None, lab, seen=({"light": "D65", "marks": marks},))


@pytest.mark.parametrize(
    ("place", "same"),
    [
        ((100, 50, 180, 130), True),
        ((103, 54, 180, 130), True),
        ((120, 60, 60, 40), True),  # a part of it
        ((60, 20, 400, 300), True),  # and more than it
        ((185, 50, 180, 130), True),  # by 95 of 180 pixels
        ((195, 50, 180, 130), False),  # by 85
        ((290, 50, 180, 130), False),
        ((100, 190, 180, 130), False),
    ],
)
def test_two_places_are_of_one_card_where_they_overlap_by_more_than_half(place: Box, same: bool) -> None:
    one = mark((100, 50, 180, 130))
    assert same_mark(one, mark(place)) == same_mark(mark(place), one) == same
    round_the_other_way = photograph_mark("other", "b" * 64, box(*place)[::-1])
    assert same_mark(one, round_the_other_way) == same
    assert not same_mark(one, mark(place, pixels="c" * 64))  # another photograph


def test_windows_side_by_side_on_a_card_that_lies_askew_are_two() -> None:
    """Strips at 45°: the upright boxes round them overlap by most."""
    strip, beside = ([(x + d, y - d) for x, y in ((0, 0), (100, 100), (90, 110), (-10, 10))] for d in (0, 12))
    one, other = (photograph_mark(f"{i}", "b", corners) for i, corners in enumerate((strip, beside)))
    assert not same_mark(one, other)
    assert same_mark(one, photograph_mark("2", "b", [(x + 1, y - 1) for x, y in strip]))


def test_a_record_of_an_older_form_knows_the_same_file_with_the_same_place() -> None:
    old, now = card(["a" * 64], lab=(45.1, -5.0, -15.0)), mark((100, 50, 180, 130), file="a" * 64)
    assert same_reading(old, card([now]))
    assert not same_reading(old, card([mark((100, 50, 180, 130))]))
    assert as_it_was_given(["a" * 64]) == as_it_was_given([now])
    assert as_it_was_given([now]) != as_it_was_given([mark((101, 50, 180, 130))])


def test_cards_that_were_met_are_known_again_by_their_photographs() -> None:
    first, moved, other = (card([mark((x, 50, 180, 130))], lab=(x, 0.0, 0.0)) for x in (10, 12, 300))
    known = KnownAgain(first)
    assert known.has(moved, None)
    assert not known.has(other, None)
    known.add(other, None)
    assert known.has(card([mark((301, 52, 180, 130))]), None)
    assert known.has(card([], lab=(300.0, 0.0, 0.0)), None)  # read to the last digit alike
