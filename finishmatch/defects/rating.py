"""How bad: the ratings 0 to 5 of ISO 4628-1, by quantity and size or by intensity (the classes from memory)."""

from __future__ import annotations

import re
from dataclasses import dataclass

from finishmatch.defects.kinds import DefectKind
from finishmatch.errors import InputError

_FORM = re.compile(r"([0-5])\s*(?:\(\s*s?\s*([0-5])\s*\))?", re.IGNORECASE)
_SIZE_ENDS_MM = ((5.0, 5), (0.5, 4), (0.2, 3), (0.1, 2), (0.02, 1))


@dataclass(frozen=True)
class Rating:
    """A rating: of quantity (or intensity), and of size where it is spots."""

    degree: int
    size: int | None = None

    def text(self) -> str:
        """Return it as ISO 4628 writes it: "3(S4)", or "2" for an intensity."""
        return str(self.degree) if self.size is None else f"{self.degree}(S{self.size})"


def size_rating(size_mm: float) -> int:
    """Return the class of a size in mm; the ends below 0.5 mm are «common practice» for what an eye can see."""
    return next((rating for end, rating in _SIZE_ENDS_MM if size_mm > end), 0)


def read_rating(text: str, kind: DefectKind, size_mm: float | None) -> Rating:
    """Return a rating as it was typed: "3(S4)", or "3" where the size was measured or the change is even.

    Raises
    ------
    InputError
        What is no rating, a size class for an even change, or one that the measured size contradicts.
    """
    where = f"rating {text.strip()[:20]!r}"
    read = _FORM.fullmatch(text.strip())
    if not read:
        form = "3(S4): quantity, and size" if kind.by_size else "one number: intensity"
        raise InputError(where, "is not a rating of ISO 4628-1", f"write 0 to 5, as {form}")
    degree, size = int(read[1]), None if read[2] is None else int(read[2])
    if not kind.by_size:
        if size is not None:
            raise InputError(where, f"{kind.name} is an even change without a size", "give its intensity, 0 to 5")
        return Rating(degree)
    measured = None if size_mm is None else size_rating(size_mm)
    if size is not None and measured is not None and size != measured:
        raise InputError(where, f"{size_mm:g} mm is size class {measured}, not {size}", "check size and rating")
    return Rating(degree, measured if size is None else size)
