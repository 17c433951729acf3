"""What a panel was exposed to: "air line=2", "polish in the room=yes"."""

from __future__ import annotations

from collections.abc import Iterable

from finishmatch.defects.kinds import plain_key
from finishmatch.errors import InputError

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


def exposure_pairs(typed: Iterable[str]) -> tuple[tuple[str, str], ...]:
    """Return exposures as pairs of a kind and a value.

    Parameters
    ----------
    typed : iterable of str
        KIND=VALUE each. A kind of the shop floor is brought to its one name; another is kept as typed, small.

    Raises
    ------
    InputError
        Without "=", with an empty side, or the same pair twice.
    """
    pairs: list[tuple[str, str]] = []
    for text in typed:
        name, equals, value = (" ".join(part.split()) for part in text.partition("="))
        if not equals or not plain_key(name) or not value:
            raise InputError(f"exposure {text.strip()[:40]!r}", "is not KIND=VALUE", 'write it as "air line=2"')
        pair = (_BY_KEY.get(plain_key(name), name.casefold()), value)
        if pair in pairs:
            raise InputError(f"exposure {text.strip()[:40]!r}", "is given twice", "give it once")
        pairs.append(pair)
    return tuple(pairs)
