"""A part of a tin as a painter says it: half, a third, 30%, 1/4, 150g."""

from __future__ import annotations

from finishmatch.errors import InputError
from finishmatch.readings.plain_number import plain_number

_WORDS = {
    "half": 1 / 2, "third": 1 / 3, "quarter": 1 / 4, "fifth": 1 / 5, "tenth": 1 / 10,
    "two thirds": 2 / 3, "three quarters": 3 / 4,
}  # fmt: skip
_MEND = "write half, a third, 30%, 1/4 or 150g"


def part_of_tin(where: str, text: str, total_g: float) -> float:
    """Return how much of a tin is meant, a share above 0 and below 1.

    Parameters
    ----------
    where : str
        Where it was said, for the error.
    text : str
        A word, a share, a fraction, or grams with their unit.
    total_g : float
        What the tin weighs, g.

    Raises
    ------
    InputError
        What isn't understood, nothing, or all of it and more.
    """
    plain = " ".join(text.casefold().split())
    plain = plain.removeprefix("a ").removeprefix("one ").removesuffix(" of it")
    share = _WORDS.get(plain.replace("-", " "))
    try:
        if share is None and plain.endswith("%"):
            share = plain_number(plain.removesuffix("%").strip()) / 100
        elif share is None and plain.removesuffix("rams").removesuffix("ram").endswith("g"):
            share = plain_number(plain[: plain.rindex("g")].strip()) / total_g
        elif share is None and "/" in plain:
            over, _, under = plain.partition("/")
            share = plain_number(over) / plain_number(under)
        elif share is None:
            share = plain_number(plain)
    except (ValueError, ZeroDivisionError):
        raise InputError(where, f"{text[:40]!r} is no part of a tin", _MEND) from None
    if share >= 1 and plain.replace(".", "").isdigit():
        raise InputError(where, f"{text[:40]!r} could be grams or percent", "write its unit, as in 150g or 30%")
    if not 0 < share < 1:
        raise InputError(where, f"{text[:40]!r} is not a part of the {total_g:g} g in the tin", _MEND)
    return share
