"""What a difference that was seen is known within, as it is shown and kept."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

_AS_KEPT = 1e-3  # ΔE00: a tolerance is kept to a hundredth


def told_within(u95: float) -> float:
    """Return a ΔE00 that a difference is known within to a hundredth: what can't be told is never rounded away."""
    return math.ceil(100 * u95 - 1e-6) / 100


def told_by_doubt(tolerance: float, known: Iterable[float]) -> bool:
    """Return whether a tolerance is what one of some differences is known within, ΔE00, and none that was asked for."""
    return any(abs(tolerance - told_within(u95)) < _AS_KEPT for u95 in known)


def known_in_words(known: Mapping[str, float]) -> str:
    """Return what differences are known within by light, the first as it is: "±0.67, in A ±1.8"."""
    first, *others = known.items()
    told = [f"±{told_within(first[1]):g}", *(f"in {light} ±{told_within(u95):g}" for light, u95 in others)]
    return ", ".join(told)
