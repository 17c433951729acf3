"""Text with numbers in it, made anew on another machine: the same, but for the last digits."""

from __future__ import annotations

import re

import numpy as np

_DECIMAL = re.compile(r"-?\d+\.\d+")


def assert_same_but_for_rounding(made: str, kept: str, atol: float) -> None:
    """See that two texts have the same words, lines and whole numbers, and decimals within a tolerance."""
    assert _DECIMAL.sub("#", made) == _DECIMAL.sub("#", kept)
    np.testing.assert_allclose(
        [float(number) for number in _DECIMAL.findall(made)],
        [float(number) for number in _DECIMAL.findall(kept)],
        rtol=0,
        atol=atol,
    )
