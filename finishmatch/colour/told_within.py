"""What a difference that was seen is known within, as it is shown and kept."""

from __future__ import annotations

import math


def told_within(u95: float) -> float:
    """Return a ΔE00 that a difference is known within to a hundredth: what can't be told is never rounded away."""
    return math.ceil(100 * u95 - 1e-6) / 100
