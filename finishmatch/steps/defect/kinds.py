"""What a defect may be, and the checks and signs that tell its causes apart."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from finishmatch.defects import (
    Check,
    DefectKind,
    Diagnosis,
    Sign,
    all_checks,
    all_kinds,
    all_signs,
    diagnose,
    find_check,
    find_kind,
)

CHECKS_OF_A_KIND = 3  # those that would settle most


@dataclass(frozen=True)
class KindKnown:
    """A kind of defect, and its causes and checks before anything more is known of a case."""

    kind: DefectKind
    diagnosis: Diagnosis

    @property
    def checks(self) -> tuple[Check, ...]:
        """The checks that would settle most."""
        return tuple(worth.check for worth in self.diagnosis.checks[:CHECKS_OF_A_KIND])

    def as_dict(self) -> dict[str, Any]:
        """Return its JSON form."""
        kind = self.kind
        ranked = [item for item in self.diagnosis.causes if item.cause.mend]
        return {
            "name": kind.name,
            "synonyms": list(kind.synonyms),
            "iso_4618": kind.iso_4618,
            "form": kind.form,
            "contamination": kind.contamination,
            "look": kind.look,
            "shows": list(kind.shows),
            "causes": list(self.diagnosis.names),
            "ranked": [{"cause": r.cause.name, "chance": r.chance, "mend": r.cause.mend} for r in ranked],
            "checks": [check.name for check in self.checks],
            "remedies": list(kind.remedies),
            "rating": kind.rating,
            "rated_by": kind.rated_by,
        }


@dataclass(frozen=True)
class KindsKnown:
    """Kinds of defect."""

    kinds: tuple[KindKnown, ...]

    def as_dict(self) -> dict[str, Any]:
        """Return its JSON form."""
        return {"kinds": [item.as_dict() for item in self.kinds]}


@dataclass(frozen=True)
class ChecksKnown:
    """Checks, and every sign."""

    checks: tuple[Check, ...]
    signs: tuple[Sign, ...]

    def as_dict(self) -> dict[str, Any]:
        """Return its JSON form."""
        checks = [
            {
                "check": check.name,
                "synonyms": list(check.synonyms),
                "outcomes": list(check.outcomes),
                "minutes": check.minutes,
                "cost": check.cost,
                "do": check.do,
            }
            for check in self.checks
        ]
        signs = [{"sign": sign.name, "synonyms": list(sign.synonyms), "group": sign.group} for sign in self.signs]
        return {"checks": checks, "signs": signs}


def list_kinds(kind: str | None = None) -> KindsKnown:
    """Return what is known of a kind of defect, by whatever the shop calls it; of all kinds when None.

    Raises
    ------
    InputError
        A kind that is not known; the nearest are offered.
    """
    kinds = all_kinds() if kind is None else (find_kind(kind),)
    return KindsKnown(tuple(KindKnown(item, diagnose(item)) for item in kinds))


def list_checks(check: str | None = None) -> ChecksKnown:
    """Return one check, or all of them when None; with every sign.

    Raises
    ------
    InputError
        A check that is not known; the nearest are offered.
    """
    checks = tuple(all_checks().values()) if check is None else (find_check(check),)
    return ChecksKnown(checks, tuple(all_signs().values()))
