"""The names nearest to one that is not known, to be offered in its place."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches
from functools import lru_cache

LONGEST = 60  # characters of a name that are compared
CUTOFF = 0.6  # how alike two names must be, 0 to 1, to be offered


@lru_cache(maxsize=4096)
def plain_key(name: str) -> str:
    """Return a name as it is compared: letters and digits only, small, so that "Fish-Eyes" is "fisheyes"."""
    return "".join(letter for letter in name.casefold() if letter.isalnum())


def near_names(wanted: str, known: Iterable[str], most: int = 1, cutoff: float = CUTOFF) -> list[str]:
    """Return the known names nearest to a wanted one, the nearest first, `most` at most; none when none is near."""
    return get_close_matches(wanted[:LONGEST], list(known), n=most, cutoff=cutoff)


def did_you_mean(wanted: str, known: Iterable[str], otherwise: str = "", most: int = 1) -> str:
    """Return "did you mean white or off-white?" with the nearest known names, or `otherwise` when none is near."""
    near = near_names(wanted, known, most)
    return f"did you mean {' or '.join(near)}?" if near else otherwise
