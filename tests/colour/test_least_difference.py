"""No colour of a box differs by less than is said of the box, and what is said is not much less than it could be."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from finishmatch.colour import de00
from finishmatch.colour.least_difference import least_de00

CORNERS = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)])
BLUE, GREY, RED = (30.0, 20.0, -90.0), (50.0, 0.0, 0.0), (50.0, 60.0, -1.0)


def _least_found(lab: np.ndarray, low: np.ndarray, high: np.ndarray, r: np.random.Generator) -> np.ndarray:
    """The least ΔE00 of colours all over each box, at its corners, the nearest in CIELAB and the greyest."""
    inside = [r.uniform(low[:, None], high[:, None], (len(low), 200, 3))]
    inside += [np.where(CORNERS, high[:, None], low[:, None])]
    inside += [np.clip(at, low, high)[:, None] for at in (lab, np.zeros(3), lab * [1, -1, -1], lab * [1, 0.5, 2])]
    colours = np.concatenate(inside, axis=1)
    return np.asarray(de00(lab, colours.reshape(-1, 3)).reshape(len(low), -1).min(axis=1))


@settings(max_examples=300, deadline=None, derandomize=True)
@given(
    st.tuples(st.floats(0, 100), st.floats(-130, 130), st.floats(-130, 130)),
    st.sampled_from([0.0, 0.01, 1.0, 4.0, 16.0, 64.0]),
    st.sampled_from([1.0, 10.0, 60.0]),
    st.integers(0, 10**6),
)
@example(BLUE, 1.0, 10.0, 1)
@example(GREY, 4.0, 1.0, 2)
@example(RED, 4.0, 10.0, 3)
def test_no_colour_of_a_box_is_nearer(lab: tuple[float, float, float], size: float, off: float, seed: int) -> None:
    r = np.random.default_rng(seed)
    middle = np.array(lab) + r.normal(0, off, (24, 3))
    middle[::6, 1:] = 0.0
    middle[1::6, 1:] *= -1
    half = size * r.uniform(0, 1, middle.shape)
    low, high = middle - half, middle + half
    assert (least_de00(np.array(lab), low, high) <= _least_found(np.array(lab), low, high, r) + 1e-12).all()


@pytest.mark.parametrize(("size", "share"), [(0.0, 0.99), (1.0, 0.97), (4.0, 0.93)])
def test_of_a_small_box_it_is_nearly_the_difference(size: float, share: float) -> None:
    r = np.random.default_rng(7)
    lab = np.array([45.0, -14.0, -15.0])
    middle = lab + r.uniform(-40, 40, (500, 3))
    low, high = middle - size / 2, middle + size / 2
    found = _least_found(lab, low, high, r)
    told = least_de00(lab, low, high)
    assert np.median(told[found > 0] / found[found > 0]) >= share


@pytest.mark.parametrize("lab", [BLUE, RED, (81.0, 43.0, 11.0), (17.0, -88.0, -90.0)])
def test_of_one_colour_it_is_nearly_the_difference_wherever_both_lie(lab: tuple[float, float, float]) -> None:
    """Where the hues part by nearly half a turn, and where R_T takes away or adds."""
    r = np.random.default_rng(8)
    others = np.column_stack([r.uniform(0, 100, 2000), r.uniform(-100, 100, (2000, 2))])
    told = least_de00(np.array(lab), others, others)
    assert np.percentile(told / de00(np.array(lab), others), 1) >= 0.98


@pytest.mark.parametrize("size", [2.0, 4.0])
def test_of_small_boxes_on_the_other_side_of_grey_it_is_nearly_the_difference(size: float) -> None:
    r = np.random.default_rng(9)
    lab = np.array([17.0, -88.0, -90.0])
    low = np.column_stack([r.uniform(0, 90, 300), r.uniform(5, 60, (300, 2))])
    told, found = least_de00(lab, low, low + size), _least_found(lab, low, low + size, r)
    assert np.percentile(told / found, 5) >= 0.9


def test_of_a_box_around_a_colour_it_is_nought() -> None:
    lab = np.array([45.0, -4.0, -15.0])
    assert least_de00(lab, np.array([lab - 1]), np.array([lab + 2])).tolist() == [0.0]
