"""What a panel was exposed to: "air line=2", "polish in the room=yes"."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from finishmatch.errors import InputError
from finishmatch.near_names import plain_key

# the shop's words for one thing are brought to one name, so that panels can be compared later
KNOWN = {
    "air line": ("airline", "line", "air hose", "hose", "compressor"),
    "gun": ("spray gun", "spraygun"),
    "cloth": ("rag", "tack cloth", "tack rag", "cloths"),
    "polish in the room": ("polish", "polishing", "polishing in the room", "buffing in the room"),
    "wipe": ("wipes", "wax and grease remover", "degreaser", "panel wipe", "solvent wipe"),
    "booth": ("spray booth", "bay"),
    "painter": ("sprayer", "who"),
    "batch": ("tin", "paint batch"),
    "hardener": ("activator",),
    "thinner": ("reducer",),
}
_BY_KEY = {plain_key(word): name for name, words in KNOWN.items() for word in (name, *words)}


@dataclass(frozen=True)
class Exposure:
    """What a panel met: its kind, which one, and the day ("" when not known)."""

    kind: str
    value: str
    day: str = ""


def read_exposures(typed: Iterable[str]) -> tuple[Exposure, ...]:
    """Return exposures as they were typed.

    Parameters
    ----------
    typed : iterable of str
        KIND=VALUE or KIND=VALUE@YYYY-MM-DD each. A kind of the shop floor is brought to its one name; another is kept
        as typed, small.

    Raises
    ------
    InputError
        Without "=", with an empty side, a day that is none, or the same pair twice.
    """
    found: list[Exposure] = []
    for text in typed:
        where = f"exposure {text.strip()[:40]!r}"
        name, equals, rest = text.partition("=")
        name = " ".join(name.split())
        value, at, day = rest.rpartition("@")
        # an @ that no day follows belongs to the value: "cloth=box @ bench"
        dated = bool(at) and day.strip()[:1].isdigit()
        value, day = (value, day.strip()) if dated else (rest, "")
        value = " ".join(value.split())
        if not equals or not plain_key(name) or not value:
            raise InputError(where, "is not KIND=VALUE", 'write it as "air line=2"')
        if dated and not _is_day(day):
            raise InputError(where, f"{day[:20]!r} is not a date", 'write it as "air line=2@2024-05-02"')
        exposure = Exposure(_BY_KEY.get(plain_key(name), name.casefold()), value, day)
        if any((other.kind, other.value) == (exposure.kind, exposure.value) for other in found):
            raise InputError(where, "is given twice", "give it once")
        found.append(exposure)
    return tuple(found)


def check_met_before(exposures: Iterable[Exposure], seen_on: str) -> None:
    """Raise `InputError` for an exposure of a day after the one on which the defect was seen."""
    for exposure in exposures:
        if exposure.day > seen_on:
            raise InputError(
                f"exposure '{exposure.kind}={exposure.value}'",
                f"is of {exposure.day}, after the defect was seen on {seen_on}: it can't have caused it",
                "check both dates",
            )


def exposure_pairs(typed: Iterable[str]) -> tuple[tuple[str, str], ...]:
    """Return exposures as pairs of a kind and a value; refused as by `read_exposures`, or when one has a day."""
    exposures = read_exposures(typed)
    for exposure in exposures:
        if exposure.day:
            where = f"exposure '{exposure.kind}={exposure.value}@{exposure.day}'"
            raise InputError(where, "has a day of its own", "the coat has its day: leave @… out")
    return tuple((exposure.kind, exposure.value) for exposure in exposures)


def _is_day(text: str) -> bool:
    try:
        return date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False
