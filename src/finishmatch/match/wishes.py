"""What a painter wants of a recipe besides its colour: tints it must hold, tints to keep out, a recipe to stay near."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from difflib import get_close_matches

import numpy as np
from numpy.typing import NDArray

from finishmatch.errors import InputError
from finishmatch.match.subsets import Ints

NEW_TINTS_NEAR = 1  # tints a recipe may hold that the one it stays near doesn't


@dataclass(frozen=True)
class Wishes:
    """Tints a recipe must hold, tints it may not, and the parts (tint, grams) of one to stay near."""

    must: tuple[str, ...] = ()
    without: tuple[str, ...] = ()
    near: tuple[tuple[str, float], ...] = ()

    def check(self, known: Collection[str], max_tints: int) -> None:
        """Raise `InputError` when the wishes can't all be met with the tints known."""
        options = (("--must", self.must), ("--without", self.without), ("--near", [tint for tint, _ in self.near]))
        for option, names in options:
            for name in names:
                if name not in known:
                    close = get_close_matches(name, known, n=2)
                    mend = (
                        f"did you mean {' or '.join(close)}?" if close else "the bank has " + ", ".join(list(known)[:8])
                    )
                    raise InputError(option, f"there is no tint {name[:40]!r} to mix with", mend)
        both = [name for name in self.must if name in self.without]
        if both:
            raise InputError("--must", f"{both[0]} is also named with --without", "take it out of one of them")
        if len(set(self.must)) > max_tints:
            raise InputError(
                "--must", f"{len(set(self.must))} tints are locked and {max_tints} allowed", "raise --max-tints"
            )
        if self.near and all(tint in self.without for tint, _ in self.near):
            raise InputError("--near", "every tint of that recipe is named with --without", "allow one of them")

    def accepts(self, members: Ints, names: Sequence[str]) -> NDArray[np.bool_]:
        """Return which subsets, shape (size, m) of indices into names, meet the wishes."""
        fine = np.ones(members.shape[1], dtype=bool)
        for name in self.must:
            fine &= (members == names.index(name)).any(axis=0)
        if self.near:
            old = np.isin(members, [names.index(tint) for tint, _ in self.near if tint in names])
            fine &= (~old & (members >= 0)).sum(axis=0) <= NEW_TINTS_NEAR
        return fine
