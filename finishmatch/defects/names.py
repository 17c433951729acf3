"""Names as the shop types them: compared without capitals, blanks and hyphens; the nearest are offered."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import TypeVar

from finishmatch.errors import InputError
from finishmatch.near_names import near_names, plain_key

OFFERED = 3

Named = TypeVar("Named")


def by_key(items: Iterable[Named], names: Callable[[Named], Iterable[str]]) -> dict[str, tuple[Named, str]]:
    """Return every name of the items as it is compared: its item, and how it is spelled."""
    return {plain_key(name): (item, name) for item in items for name in names(item)}


def find_named(text: str, known: Mapping[str, tuple[Named, str]]) -> Named | None:
    """Return what a name stands for, whatever its case, blanks, hyphens or plural; None when it is not known."""
    key = plain_key(text)
    for candidate in (key, key.removesuffix("s"), key + "s"):
        if candidate in known:
            return known[candidate][0]
    return None


def nearest(text: str, known: Mapping[str, tuple[Named, str]], name_of: Callable[[Named], str]) -> str:
    """Return "did you mean …?" with the nearest known names, or "" when none is near."""
    near: dict[str, str] = {}  # a thing: as it is offered
    for match in near_names(plain_key(text), known, most=2 * OFFERED, cutoff=0.55):
        item, spelled = known[match]
        name = name_of(item)
        near.setdefault(name, name if spelled == name else f"{spelled} ({name})")
    return f"did you mean {' or '.join(list(near.values())[:OFFERED])}?" if near else ""


def find_or_refuse(
    text: str, known: Mapping[str, tuple[Named, str]], name_of: Callable[[Named], str], what: str, listed: str
) -> Named:
    """Return what a name stands for.

    Parameters
    ----------
    text : str
        As typed.
    known : mapping
        Of `by_key`.
    name_of : callable
        The one name of a thing.
    what : str
        What is looked for, as in "defect" or "sign".
    listed : str
        Where all of them are listed.

    Raises
    ------
    InputError
        For a name that is not known; the nearest known ones are offered.
    """
    found = find_named(text, known)
    if found is not None:
        return found
    shown = text.strip()[:40]
    problem = f"no {what} is called {shown!r}" if shown else f"the {what} is not named"
    raise InputError(what, problem, nearest(text, known, name_of) or listed)
