"""No colour outside the box differs by as little as the box was made for."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from finishmatch.colour import de00
from finishmatch.colour.reach import de00_reach

NEAR_BLUE = [30.0, 20.0, -90.0]  # where the rotation term is at its strongest


def _others(lab: np.ndarray, r: np.random.Generator, count: int) -> np.ndarray:
    """Colours all over, many of them near, some grey or across the whole plane."""
    size = np.exp(r.uniform(np.log(0.01), np.log(150), (count, 1)))
    others = lab + size * r.standard_normal((count, 3))
    others[::7, 1:] = 0.0
    others[1::7] = r.uniform([-5, -150, -150], [120, 150, 150], others[1::7].shape)
    others[2::7, 1:] *= -1
    return others


def _outside_yet_near(lab: np.ndarray, most: float, r: np.random.Generator, count: int) -> float:
    """The least ΔE00 over `most` of any colour outside the box."""
    low, high = de00_reach(lab, most)
    others = _others(lab, r, count)
    outside = ((others < low) | (others > high)).any(axis=1)
    return float(np.min(de00(lab, others[outside]) / most, initial=np.inf))


@settings(max_examples=150, deadline=None, derandomize=True)
@given(
    st.tuples(st.floats(0, 100), st.floats(-130, 130), st.floats(-130, 130)),
    st.floats(0.01, 40),
    st.integers(0, 10**6),
)
def test_no_colour_outside_the_box_is_as_near(lab: tuple[float, float, float], most: float, seed: int) -> None:
    assert _outside_yet_near(np.array(lab), most, np.random.default_rng(seed), 3000) >= 1 - 1e-9


@pytest.mark.parametrize("lab", [NEAR_BLUE, [50.0, 0.0, 0.0], [50.0, 60.0, -1.0], [50.0, 2.5, 0.1], [2.0, 0.4, -0.9]])
@pytest.mark.parametrize("most", [0.1, 1.0, 5.0])
def test_nor_where_the_formula_turns(lab: list[float], most: float) -> None:
    """Blue, grey, hue nought: colours are laid on the faces of the box, which is where it would break first."""
    r = np.random.default_rng(5)
    low, high = de00_reach(np.array(lab), most)
    faces = r.uniform(low, high, (60_000, 3))
    side = r.integers(0, 6, len(faces))
    beyond = np.where(side < 3, low[side % 3], high[side % 3])
    faces[np.arange(len(faces)), side % 3] = beyond + np.where(side < 3, -1e-6, 1e-6)
    assert de00(np.array(lab), faces).min() >= most * (1 - 1e-9)


def test_the_box_is_no_wider_than_it_need_be() -> None:
    """Of a paint of middling chroma: in lightness as far as ΔE00 goes, in the plane less than half as far again."""
    lab = np.array([45.0, -4.0, -15.0])
    low, high = de00_reach(lab, 1.0)
    up = np.array([[45.0 + step, -4.0, -15.0] for step in np.linspace(0, 3, 3001)])
    assert (high - lab)[0] == pytest.approx(float(np.max(up[de00(lab, up) <= 1, 0])) - 45.0, rel=0.05)
    r = np.random.default_rng(6)
    inside = lab + r.uniform(-4, 4, (200_000, 3)) * [0, 1, 1]
    near = inside[de00(lab, inside) <= 1]
    assert ((high - low)[1:] <= 1.5 * np.ptp(near, axis=0)[1:]).all()


def test_of_a_large_difference_no_bound_is_known() -> None:
    low, high = de00_reach(np.array([50.0, 80.0, 0.0]), 200.0)
    assert np.isinf(low).all()
    assert np.isinf(high).all()
