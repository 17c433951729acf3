"""Readings among the repeats of a sample that can't be of it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from finishmatch.colour import Floats, de00, reflectance_to_lab
from finishmatch.errors import InputError

# readings of one sample further apart than this aren't of one sample («common practice»: an old panel that has
# chalked differs by some two to three over its surface)
CONTRADICTION_DE00 = 5.0
_AGREE = 1 / 3  # of how far one is off, up to which the others lie together


def without_stranger(name: str, repeats: Floats, where: Sequence[str]) -> tuple[Floats, tuple[str, ...]]:
    """Return repeats without one that is of something else, and a warning that names it.

    Parameters
    ----------
    name : str
        Of the sample.
    repeats : ndarray, shape (n, 31) or (n, 3)
        Spectra, or CIELAB.
    where : sequence of str, n long
        What each repeat is called in a message.

    Raises
    ------
    InputError
        When repeats lie too far apart and no single one stands out.
    """
    apart = _apart(repeats)
    if apart.max() <= CONTRADICTION_DE00:
        return repeats, ()
    odd = _odd_one(apart)
    if odd is None:
        one, other = sorted(int(i) for i in np.unravel_index(int(apart.argmax()), apart.shape))
        what = f"both are of {name[:40]!r}, but ΔE00 {apart.max():.1f} apart"
        raise InputError(
            f"{where[one]} and {where[other]}",
            what,
            "take out the one that is of another sample, or give them two names",
        )
    off = float(np.delete(apart[odd], odd).min())
    kept = np.delete(repeats, odd, axis=0)
    return kept, (
        f"{where[odd]}: ΔE00 {off:.1f} from the other readings of {name[:40]!r}, which agree: it is set aside; "
        "take it out if it is of another sample",
    )


def check_alike(where: str, repeats: Floats) -> None:
    """See that the readings of a panel, shape (n, 31), can be of one panel, or raise `InputError`."""
    apart = _apart(repeats)
    if apart.max() > CONTRADICTION_DE00:
        one, other = sorted(int(i) + 1 for i in np.unravel_index(int(apart.argmax()), apart.shape))
        raise InputError(
            where,
            f"its readings contradict each other: the {_ordinal(one)} and the {_ordinal(other)} are ΔE00 "
            f"{apart.max():.1f} apart",
            "take out the one that is of another panel, or read it again",
        )


def _apart(repeats: Floats) -> Floats:
    """Return how far repeats are from one another, ΔE00, shape (n, n)."""
    if len(repeats) == 1:
        return np.zeros((1, 1))
    labs = repeats if repeats.shape[1] == 3 else reflectance_to_lab(repeats)
    return np.asarray(de00(labs[:, None], labs[None]))


def _odd_one(apart: Floats) -> int | None:
    """Return the place of the one that lies far from all others, which lie together; None where there is none."""
    count = len(apart)
    if count < 3:
        return None
    odd = int(apart.sum(axis=1).argmax())
    off = float(np.delete(apart[odd], odd).min())
    others = np.delete(np.delete(apart, odd, axis=0), odd, axis=1)
    return odd if off > CONTRADICTION_DE00 * (1 - _AGREE) and others.max() <= _AGREE * off else None


def _ordinal(number: int) -> str:
    return {1: "first", 2: "second", 3: "third"}.get(number, f"{number}th")
