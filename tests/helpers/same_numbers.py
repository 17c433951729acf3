"""Two texts that say the same: every word alike, every number alike but for its last digits.

What a machine computes depends in the last digit on its processor: a library of linear algebra sums in another order
on another one. So made text is never compared byte by byte where it holds computed numbers.
"""

from __future__ import annotations

import re
from typing import Any

NUMBER = re.compile(r"(?<![\w.])[-+−]?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?(?![\w])")


def same_numbers(one: str, other: str, last_digits: float = 1.0, relative: float = 0.0) -> None:
    """Assert that two texts are alike but for numbers that differ by a little.

    `last_digits` is by how many units of the last digit shown two numbers may differ, `relative` by what part of
    their size (for numbers printed in full). Whole numbers must be alike.
    """
    assert NUMBER.sub("#", one) == NUMBER.sub("#", other)
    for first, second in zip(NUMBER.findall(one), NUMBER.findall(other), strict=True):
        if first == second:
            continue
        step = max(_step(first), _step(second))
        a, b = _value(first), _value(second)
        least = 1e-9 * step  # what binary fractions add to a step of decimal ones
        allowed = max(last_digits * step + least, relative * max(abs(a), abs(b)))
        assert step < 1, f"{first} isn't {second}"
        assert abs(a - b) <= allowed, f"{first} lies more than {allowed:g} from {second}"


def _value(number: str) -> float:
    return float(number.replace("−", "-"))


def _step(number: str) -> float:
    """One unit of the last digit that a number shows."""
    digits, _, exponent = number.lower().partition("e")
    decimals = len(digits.partition(".")[2])
    return float(10.0 ** (int(exponent or 0) - decimals))


def same_json(one: Any, other: Any, place: str = "$") -> None:
    """Assert that two JSON objects are alike but for a step of the last digit printed (the sixth decimal)."""
    if isinstance(one, dict) and isinstance(other, dict):
        assert one.keys() == other.keys(), place
        for name in one:
            same_json(one[name], other[name], f"{place}.{name}")
    elif isinstance(one, list) and isinstance(other, list):
        assert len(one) == len(other), place
        for i, (first, second) in enumerate(zip(one, other, strict=True)):
            same_json(first, second, f"{place}[{i}]")
    elif isinstance(one, float) and isinstance(other, float | int) and not isinstance(other, bool):
        assert abs(one - other) <= max(1.1e-6, 1e-7 * abs(one)), f"{place}: {one} and {other}"
    elif isinstance(one, str) and isinstance(other, str):
        same_numbers(one, other)
    else:
        assert one == other, place
