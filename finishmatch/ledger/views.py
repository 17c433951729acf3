"""What is read out of the ledger: frozen views of a job and of an entry."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from typing import Any

from finishmatch.ledger.entries import ENTRY_KINDS, Entry


@dataclass(frozen=True)
class JobView:
    """A job; `ref` ("J1") is its short name, `made_at` is UTC in ISO 8601."""

    id: int
    title: str
    vehicle: str
    colour_name: str
    note: str
    made_at: str

    @property
    def ref(self) -> str:
        """Its short name."""
        return f"J{self.id}"

    def as_dict(self) -> dict[str, Any]:
        """Return what a face prints as JSON."""
        return {"ref": self.ref, **{name: value for name, value in asdict(self).items() if name != "id"}}


@dataclass(frozen=True)
class EntryView:
    """An entry as it stands in the ledger.

    Parameters
    ----------
    number : int
        Its number in the whole ledger, never used again.
    kind : str
        A key of `ENTRY_KINDS`.
    made_at : str
        UTC in ISO 8601.
    entry : Entry
        The dataclass of its kind.
    supersedes, superseded_by : int or None
        The entry it replaces; the entry that replaces it.
    reason : str
        Why it replaces the other.
    sources : tuple of (name, sha256)
        The files it was found with.
    place : int
        The number of the first entry in its line of replacements: where in the story it belongs.
    struck_by : int or None
        The strike by which it was struck.
    fell_with : int or None
        The struck entry that it rests on, as a verdict on its spray-out.
    """

    number: int
    kind: str
    made_at: str
    entry: Entry
    supersedes: int | None
    superseded_by: int | None
    reason: str
    sources: tuple[tuple[str, str], ...]
    place: int
    struck_by: int | None = None
    fell_with: int | None = None

    @property
    def stands(self) -> bool:
        """Whether it counts: it was neither replaced nor struck, and what it rests on wasn't struck."""
        return self.superseded_by is None and self.struck_by is None and self.fell_with is None

    def as_dict(self) -> dict[str, Any]:
        """Return what a face prints as JSON."""
        sources = [{"name": name, "sha256": sha256} for name, sha256 in self.sources]
        return {
            "number": self.number,
            "kind": self.kind,
            "made_at": self.made_at,
            "supersedes": self.supersedes,
            "superseded_by": self.superseded_by,
            "reason": self.reason,
            "struck_by": self.struck_by,
            "fell_with": self.fell_with,
            "sources": sources,
            "entry": entry_document(self.entry),
        }


MEMBERS = {
    "parts": ("tint", "grams"),
    "additions": ("tint", "grams"),
    "letdowns": ("tint", "straight_g", "tint_g", "filled_g", "back_g"),
    "exposures": ("kind", "value"),
    "checks": ("check", "outcome"),
    "left_out": ("sample", "why"),
    "from_lots": ("tint", "lot"),
    "weights": ("sample", "weight"),
}


def entry_document(entry: Entry) -> dict[str, Any]:
    """Return the JSON form of an entry's own fields."""
    return _named(asdict(entry))


def entry_from(kind: str, document: Mapping[str, Any]) -> Entry:
    """Return the entry of a kind whose JSON form this is; LookupError for another kind or a field that isn't known.

    What a document of an earlier form lacks stands at its default.
    """
    made = ENTRY_KINDS[kind]
    known = {field.name for field in fields(made)}
    if unknown := sorted(set(document) - known):
        raise LookupError(unknown[0])
    return made(
        **{
            name: [tuple(pair[half] for half in MEMBERS[name]) for pair in value] if name in MEMBERS else value
            for name, value in document.items()
        }
    )


def _named(values: dict[str, Any]) -> dict[str, Any]:
    """Give the halves of pairs their names, as the other commands' JSON does."""
    return {
        name: [dict(zip(MEMBERS[name], pair, strict=True)) for pair in value] if name in MEMBERS else value
        for name, value in values.items()
    }
