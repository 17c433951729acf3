"""Which sample of a photograph is the standard and which the card, where their names say it."""

from __future__ import annotations

from collections.abc import Sequence

# as the windows of the shop's card name them, and as a painter does who marks them; a tin is tried beside a panel
STANDARDS, TRIALS = ("standard", "panel"), ("spray-out", "card", "trial", "letdown")


def told_by_name(names: Sequence[str]) -> tuple[str, str]:
    """Return which samples are the standard and the card by what they are called; "" where that doesn't say it.

    Their places don't: were the two laid the other way round, the correction would be turned round.
    """
    if len(names) == 1:
        return "", names[0]
    found = [[name for name in names if name.casefold().startswith(words)] for words in (STANDARDS, TRIALS)]
    one, other = (called[0] if len(called) == 1 else "" for called in found)
    if len(names) == 2 and bool(one) != bool(other):
        rest = next(name for name in names if name not in (one, other))
        return one or rest, other or rest
    return one, other
