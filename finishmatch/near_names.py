"""The names nearest to one that is not known, to be offered in its place."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from difflib import get_close_matches
from functools import lru_cache

from finishmatch.understood import understood

LONGEST = 60  # characters of a name that are compared
MOST_LISTED = 8  # of names that are offered where none is near
CUTOFF = 0.6  # how alike two names must be, 0 to 1, to be offered


@lru_cache(maxsize=4096)
def plain_key(name: str) -> str:
    """Return a name as it is compared: letters and digits only, small, so that "Fish-Eyes" is "fisheyes"."""
    return "".join(letter for letter in name.casefold() if letter.isalnum())


def near_names(wanted: str, known: Iterable[str], most: int = 1, cutoff: float = CUTOFF) -> list[str]:
    """Return the known names nearest to a wanted one, the nearest first, `most` at most; none when none is near."""
    spelled = {name.casefold(): name for name in known}
    return [spelled[near] for near in get_close_matches(wanted[:LONGEST].casefold(), spelled, n=most, cutoff=cutoff)]


def as_known(where: str, name: str, known: Iterable[str]) -> str:
    """Return the one known name that differs in capitals and blanks alone, said to be understood; else the name itself.

    Parameters
    ----------
    where : str
        What names it.
    name : str
    known : iterable of str
    """
    alike = [one for one in known if without_capitals(one) == without_capitals(name)]
    if name in alike or len(alike) != 1:
        return name
    understood(where, f"{name[:40]!r} is read as {alike[0]!r}", "capitals and blanks")
    return alike[0]


def without_capitals(name: str) -> str:
    """Return a name as it is where nobody minds capitals and blanks."""
    return " ".join(name.casefold().split())


def listed(names: Collection[str]) -> str:
    """Return the first names of many, and how many more there are."""
    more = len(names) - MOST_LISTED
    return ", ".join(list(names)[:MOST_LISTED]) + (f" and {more} more" if more > 0 else "")


def did_you_mean(wanted: str, known: Iterable[str], otherwise: str = "", most: int = 1) -> str:
    """Return "did you mean white or off-white?" with the nearest known names, or `otherwise` when none is near."""
    near = near_names(wanted, known, most)
    return f"did you mean {' or '.join(near)}?" if near else otherwise
