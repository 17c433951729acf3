"""The kinds of defect, by their trade names and what the shop floor calls them."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from importlib import resources

from finishmatch.errors import InputError

LONGEST = 60  # characters of a name that are compared
FORMS = ("pit", "proud", "surface", "colour", "hold")


@dataclass(frozen=True)
class DefectKind:
    """One kind of defect; `form` is what it is to the film: pit, proud, surface, colour or hold (see kinds.toml)."""

    name: str
    synonyms: tuple[str, ...]
    iso_4618: bool
    form: str
    contamination: bool
    look: str
    causes: tuple[str, ...]


@cache
def all_kinds() -> tuple[DefectKind, ...]:
    """Return every kind of the data file, in its order."""
    text = resources.files("finishmatch.defects").joinpath("data/kinds.toml").read_text("utf-8")
    return tuple(
        DefectKind(
            name=item["name"],
            synonyms=tuple(item["synonyms"]),
            iso_4618=item["iso_4618"],
            form=item["form"],
            contamination=item["contamination"],
            look=item["look"],
            causes=tuple(item["causes"]),
        )
        for item in tomllib.loads(text)["kind"]
    )


def plain_key(name: str) -> str:
    """Return a name as it is compared: letters and digits only, small, so that "Fish-Eyes" is "fisheyes"."""
    return "".join(letter for letter in name.casefold() if letter.isalnum())


@cache
def _by_key() -> dict[str, tuple[DefectKind, str]]:
    """Every name and synonym, as it is compared: its kind, and how it is spelled."""
    return {plain_key(name): (kind, name) for kind in all_kinds() for name in (kind.name, *kind.synonyms)}


def find_kind(text: str) -> DefectKind:
    """Return the kind a name or synonym stands for, whatever its case, blanks, hyphens or plural.

    Parameters
    ----------
    text : str
        As typed: "Fish eyes", "die back".

    Returns
    -------
    DefectKind

    Raises
    ------
    InputError
        For a name that is not known; the nearest known ones are offered.
    """
    known, key = _by_key(), plain_key(text)
    for candidate in (key, key.removesuffix("s"), key + "s"):
        if candidate in known:
            return known[candidate][0]
    near: dict[str, str] = {}  # a kind: as it is offered
    for match in get_close_matches(key[:LONGEST], known, n=6, cutoff=0.55):
        kind, name = known[match]
        near.setdefault(kind.name, kind.name if name == kind.name else f"{name} ({kind.name})")
    mend = f"did you mean {' or '.join(list(near.values())[:3])}?" if near else "'finishmatch defect kinds' lists them"
    shown = text.strip()[:40]
    raise InputError("defect", f"no kind is called {shown!r}" if shown else "its kind is not named", mend)
