"""The kinds of defect, by their trade names and what the shop floor calls them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from finishmatch.defects.names import by_key, find_named, nearest
from finishmatch.errors import InputError
from finishmatch.near_names import plain_key
from finishmatch.toml_reader import packaged_toml

FORMS = ("pit", "proud", "surface", "colour", "hold")

__all__ = ["FORMS", "DefectKind", "all_kinds", "find_kind", "plain_key"]


@dataclass(frozen=True)
class DefectKind:
    """One kind of defect; the meanings stand in kinds.toml.

    `form` is what it is to the film: pit, proud, surface, colour or hold. `shows` is when it comes to light. `priors`
    holds the share of each cause (a key of causes.toml) before anything more is known. `rating` says how ISO 4628-1
    rates it, `rated_by` which part has its pictures ("" where none). `depth_um` is how deep a spoilt skin usually goes
    (mean, SD), None where the kind says nothing of it. `wavy`: the film lies in waves, which a polishing pad follows.
    """

    name: str
    synonyms: tuple[str, ...]
    iso_4618: bool
    form: str
    contamination: bool
    look: str
    shows: tuple[str, ...]
    priors: Mapping[str, float]
    rating: str
    rated_by: str
    remedies: tuple[str, ...]
    depth_um: tuple[float, float] | None = None
    wavy: bool = False

    @property
    def by_size(self) -> bool:
        """Whether ISO 4628-1 rates it by quantity and size rather than by intensity."""
        return self.rating != "intensity"


@cache
def all_kinds() -> tuple[DefectKind, ...]:
    """Return every kind of the data file, in its order."""
    return tuple(
        DefectKind(
            name=item["name"],
            synonyms=tuple(item["synonyms"]),
            iso_4618=item["iso_4618"],
            form=item["form"],
            contamination=item["contamination"],
            look=item["look"],
            shows=tuple(item["shows"]),
            priors={cause: weight / sum(item["causes"].values()) for cause, weight in item["causes"].items()},
            rating=item["rating"],
            rated_by=item["rated_by"],
            remedies=tuple(item["remedies"]),
            depth_um=tuple(item["depth_um"]) if "depth_um" in item else None,
            wavy=item.get("wavy", False),
        )
        for item in packaged_toml("defects", "kinds.toml")["kind"]
    )


@cache
def _known() -> dict[str, tuple[DefectKind, str]]:
    """Every name and synonym, as it is compared: its kind, and how it is spelled."""
    return by_key(all_kinds(), lambda kind: (kind.name, *kind.synonyms))


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
    known = _known()
    found = find_named(text, known)
    if found is not None:
        return found
    mend = nearest(text, known, lambda kind: kind.name) or "'finishmatch defect kinds' lists them"
    shown = text.strip()[:40]
    raise InputError("defect", f"no kind is called {shown!r}" if shown else "its kind is not named", mend)
