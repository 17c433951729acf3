"""The bare paper around the card tells how the light falls off, whatever its colour, though some of it is stained."""

from __future__ import annotations

import numpy as np
import pytest

from finishmatch.photo.card.card_pose import CardPose
from finishmatch.photo.card.layout import PRINTED_NEUTRALS, card_layout
from finishmatch.photo.card.read_card import bare_paper
from finishmatch.photo.correct.capture import LIGHT, SIZE, Priors, light_at
from finishmatch.photo.find.spot import Spot

FRAME_PX = 1200
POSE = CardPose(np.array([[5.0, 0, 255], [0, 5.0, 100], [0, 0, 1]]), (10, 11, 14, 15), 0.0, 0.0)
LAMP = np.zeros(SIZE)
LAMP[LIGHT] = [0.9, -0.4, 0.3, -0.2, 0.1]
YELLOWED = np.array([0.62, 0.58, 0.45])


def border(stained: tuple[int, ...] = (), by: float = 0.7, noise: float = 0.002) -> list[Spot]:
    """The white cells of the border in uneven light, of a paper that isn't white; some smeared."""
    r = np.random.default_rng(5)
    quads = [quad for name, quad in POSE.border if name == "white"]
    places = (np.array([quad.mean(axis=0) for quad in quads]) - FRAME_PX / 2) / FRAME_PX
    values = light_at(LAMP, places)[:, None] * YELLOWED * r.normal(1, noise, (len(places), 3))
    values[list(stained)] *= by
    return [
        Spot(value, place, np.diag((0.001 * value) ** 2), 0.1, 0.0, 0.0, 600, 0.0)
        for value, place in zip(values, places, strict=True)
    ]


def test_clean_paper_all_serves_and_is_even_only_in_the_right_light() -> None:
    assert "white" in PRINTED_NEUTRALS
    many = sum(cell.name == "white" for cell in card_layout().border)
    paper = bare_paper(border(), POSE)
    assert paper is not None
    assert len(paper.places) == many
    assert np.sqrt(np.mean(paper.unevenness(LAMP) ** 2)) < 1.2
    assert np.sqrt(np.mean(paper.unevenness(np.zeros(SIZE)) ** 2)) > 10


def test_the_colour_of_the_paper_has_no_say() -> None:
    paper = bare_paper(border(), POSE)
    assert paper is not None
    brighter = type(paper)(1.3 * paper.linear, paper.places, paper.deviations)
    np.testing.assert_allclose(brighter.unevenness(LAMP), paper.unevenness(LAMP), atol=1e-9)


@pytest.mark.parametrize("by", [0.6, 0.93, 1.3])
@pytest.mark.parametrize("stained", [range(5), range(10), range(0, 34, 4)])
def test_smeared_cells_and_glares_are_set_aside_though_they_lie_side_by_side(stained: range, by: float) -> None:
    paper = bare_paper(border(tuple(stained), by), POSE)
    assert paper is not None
    clean = [spot.place for i, spot in enumerate(border()) if i not in stained]
    np.testing.assert_array_equal(paper.places, clean)


def test_slopes_are_those_of_the_unevenness() -> None:
    paper = bare_paper(border(), POSE)
    assert paper is not None
    deviations, step = Priors().deviations(), 1e-3
    for i, slope in enumerate(paper.slopes(LAMP, deviations).T):
        there, back = (LAMP + sign * step * deviations[i] * np.eye(SIZE)[i] for sign in (1, -1))
        middle = (paper.unevenness(there) - paper.unevenness(back)) / (2 * step * deviations[i])
        np.testing.assert_allclose(slope, middle, rtol=1e-2, atol=1e-2 * np.abs(slope).max() + 1e-6)


def test_a_card_that_is_hardly_in_the_picture_tells_nothing() -> None:
    assert bare_paper(border()[:6], POSE) is None
    far = CardPose(np.diag([0.5, 0.5, 1.0]), (10, 11, 14), 0.0, 0.0)
    assert bare_paper(border(), far) is None
