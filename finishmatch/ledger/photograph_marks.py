"""By what a photograph of a card is known again: its file, its pixels, and where in it the card lies.

A mark is one line of text: a hash of the file with what was said of the place, a hash of the pixels, behind a colon by
what a copy is known that was turned, made smaller or saved anew, and the corners of the card in it. Records of an older
form have no likeness, or the first alone, so that a place a pixel beside it is another card there.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from finishmatch.readings.photograph_likeness import Likeness, likeness_kept, turns_of

SAME_CARD = 0.5  # share of the smaller of two places that lies in the other, above which they are of one card

Corner = tuple[float, float]


def photograph_mark(
    said: str, pixels: str, corners: Iterable[Sequence[float]], likeness: Likeness | None = None
) -> str:
    """Return the mark of a photograph of a card.

    Parameters
    ----------
    said : str
        The hash of its file with what was said of the place.
    pixels : str
        The hash of its pixels.
    corners : iterable of (float, float)
        Of the card in it, pixels, in order around.
    likeness : Likeness or None
        Of the photograph.
    """
    known = pixels if likeness is None else f"{pixels}:{likeness.key}:{likeness}"
    return " ".join([said, known, *(f"{x:.1f},{y:.1f}" for x, y in corners)])


def hashes_of(mark: str) -> tuple[str, ...]:
    """Return the hashes a mark holds: of the file with the place, and, but of an older form, of the pixels."""
    return tuple(one.partition(":")[0] for one in mark.split(" ")[:2])


def likeness_of_mark(mark: str) -> Likeness | None:
    """Return what a copy of a photograph is known by; None of a mark of an older form, and of a raw file."""
    known = mark.split(" ")[1:2]
    text = known[0].rpartition(":")[2] if known and ":" in known[0] else ""
    return likeness_kept(text) if text else None


def looked_up_by(mark: str) -> set[str]:
    """Return by what a photograph is looked up: of two marks of one, at least one is the same.

    The text of a mark holds at least one of those of any mark that is of the same photograph.
    """
    likeness = likeness_of_mark(mark)
    return {*hashes_of(mark), *(() if likeness is None else (f":{key}:" for key in likeness.keys))}


def as_it_was_given(marks: Iterable[str]) -> set[str]:
    """Return of marks what is the same where the very files are given again with the same places."""
    return {hashes_of(mark)[0] for mark in marks}


def same_mark(one: str, other: str) -> bool:
    """Return whether two marks are of one card in one photograph: its places overlap by more than half."""
    hashes, its = hashes_of(one), hashes_of(other)
    if hashes[0] == its[0]:
        return True
    if len(hashes) < 2 or len(its) < 2:
        return False
    if hashes[1] == its[1]:
        return _overlap(_corners(one), _corners(other))
    like, its_like = likeness_of_mark(one), likeness_of_mark(other)
    if like is None or its_like is None:
        return False
    corners, its_corners = _corners(one), _corners(other)
    return any(
        _overlap([like.place(*at, False) for at in corners], [its_like.place(*at, turned) for at in its_corners])
        for turned in turns_of(like, its_like)
    )


def copied(one: str, other: str) -> bool:
    """Return whether two marks of one card are of files that aren't the same: one was turned, scaled or saved anew."""
    hashes, its = hashes_of(one), hashes_of(other)
    return len(hashes) > 1 and len(its) > 1 and hashes[1] != its[1] and same_mark(one, other)


def _overlap(corners: Sequence[Corner], others: Sequence[Corner]) -> bool:
    common = abs(_area(_common(corners, others)))
    return common > SAME_CARD * min(abs(_area(corners)), abs(_area(others)))


def any_same(marks: Iterable[str], others: Iterable[str]) -> bool:
    """Return whether one of some marks is of the same card in the same photograph as one of others."""
    others = list(others)
    return any(same_mark(one, other) for one in marks for other in others)


def _corners(mark: str) -> list[Corner]:
    pairs = (corner.split(",") for corner in mark.split(" ")[2:])
    return [(float(x), float(y)) for x, y in pairs]


def _area(corners: Sequence[Corner]) -> float:
    """Return the area of a polygon, negative the other way round (the surveyor's formula)."""
    after = [*corners[1:], *corners[:1]]
    return sum(x * v - u * y for (x, y), (u, v) in zip(corners, after, strict=True)) / 2


def _common(one: Sequence[Corner], other: Sequence[Corner]) -> list[Corner]:
    """Return the part of a polygon within a convex one.

    References
    ----------
    Sutherland and Hodgman, Reentrant polygon clipping, Communications of the ACM 17 (1974), 32-42.
    """
    kept = list(one)
    edges = list(other) if _area(other) > 0 else list(other)[::-1]
    for (x, y), (u, v) in zip(edges, [*edges[1:], *edges[:1]], strict=True):
        inside = [(u - x) * (q - y) - (v - y) * (p - x) for p, q in kept]
        cut: list[Corner] = []
        for i, (here, (p, q)) in enumerate(zip(inside, kept, strict=True)):
            before, (a, b) = inside[i - 1], kept[i - 1]
            if (here < 0) != (before < 0):
                share = before / (before - here)
                cut.append((a + share * (p - a), b + share * (q - b)))
            if here >= 0:
                cut.append((p, q))
        kept = cut
    return kept
