"""A trial beside its standard: several photographs make one difference, and one that disagrees is named."""

from __future__ import annotations

import numpy as np
import pytest

from finishmatch.colour import de00_metric
from finishmatch.errors import InputError
from finishmatch.photo.correct.difference_doubt import DifferenceDoubt, within_95
from finishmatch.photo.side_by_side import SideBySide, combined, doubt_under

METRIC = de00_metric(np.array([50.0, 0.0, 0.0]))
INSIDE = np.linalg.inv(METRIC) @ np.linalg.inv(METRIC).T


def picture(name: str, delta: tuple[float, float, float], own: float, shared: float = 0.0) -> SideBySide:
    """A photograph whose doubts are so many ΔE00 in each direction, one standard deviation."""
    return SideBySide(name, np.array(delta), DifferenceDoubt(own**2 * INSIDE, shared**2 * INSIDE, METRIC))


def test_of_two_pictures_the_surer_counts_by_its_inverse_covariance() -> None:
    both = combined([picture("a", (0.6, 0, 0), 0.1), picture("b", (0.0, 0, 0), 0.2)], "D65", 10)
    assert both.delta == pytest.approx([0.48, 0, 0])  # four fifths and one fifth
    assert both.pictures == 2
    assert both.u95 == pytest.approx(2.7955 * 0.1 * np.sqrt(4 / 5), rel=1e-3)


def test_what_the_camera_repeats_doesnt_average_out() -> None:
    one = combined([picture("a", (0.3, 0, 0), 0.2, 0.1)], "D65", 10)
    four = combined([picture(name, (0.3, 0, 0), 0.2, 0.1) for name in "abcd"], "D65", 10)
    assert four.u95 == pytest.approx(2.7955 * np.hypot(0.1, 0.1), rel=1e-3)
    assert one.u95_more == pytest.approx(four.u95)
    assert one.covariance is not None
    assert one.u95 == pytest.approx(within_95(one.covariance, METRIC))


def test_a_picture_that_disagrees_is_named() -> None:
    good = [picture(name, (0.3, 0.1 * i, 0), 0.2) for i, name in enumerate(("a.jpg", "b.jpg", "c.jpg"))]
    combined(good, "D65", 10)
    with pytest.raises(InputError, match=r"^odd\.jpg: disagrees"):
        combined([*good, picture("odd.jpg", (2.5, 0, 0), 0.2)], "D65", 10)
    with pytest.raises(InputError, match=r"a\.jpg or odd\.jpg|odd\.jpg or a\.jpg"):
        combined([good[0], picture("odd.jpg", (2.5, 0, 0), 0.2)], "D65", 10)


def test_read_for_a_lamp_a_difference_is_known_less_well_than_in_daylight() -> None:
    """As measured on rendered pictures, where 1.8 times as wide holds (benchmarks/test_two_lights.py)."""
    doubt = picture("a", (0.3, 0, 0), 0.2, 0.1).doubt
    for light, wider in {"D65": 1.0, "D50": 1.0, "A": 1.8, "LED-B3": 1.8, "F11": 1.8}.items():
        under = doubt_under(doubt, light)
        assert under.u95 == pytest.approx(wider * doubt.u95)
        assert under.own == pytest.approx(wider**2 * doubt.own)
        assert under.shared == pytest.approx(wider**2 * doubt.shared)
