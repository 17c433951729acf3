"""Numbers as a painter writes them, and the hint when they are written otherwise."""

from __future__ import annotations

import re

_PLAIN = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?", re.ASCII | re.IGNORECASE)


def plain_number(text: str) -> float:
    """Return a number written with plain digits and a decimal point; it may be infinite when it is beyond all bounds.

    Raises
    ------
    ValueError
        For anything else, also for what Python alone would read: nan, 1_000, digits of other scripts.
    """
    if not _PLAIN.fullmatch(text.strip()):
        raise ValueError(text)
    return float(text)


def number_hint(text: str) -> str:
    """Return the mend for a text that isn't a plain number."""
    if "," in text:
        return "write it with a decimal point"
    if "−" in text or "–" in text:
        return "write the minus as -"
    if "%" in text:
        return "write it without %"
    return "write a number"
