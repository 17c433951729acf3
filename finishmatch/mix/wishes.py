"""What a painter wants of a recipe besides its colour: tints it must hold, tints to keep out, a recipe to stay near."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from finishmatch.colour import Floats
from finishmatch.errors import InputError
from finishmatch.mix.subset_factors import Ints
from finishmatch.mix.weighing import Scale
from finishmatch.near_names import did_you_mean, listed
from finishmatch.optics.strength import StrengthPrior

MAX_TINTS = 5
NEW_TINTS_NEAR = 1  # tints a recipe may hold that the one it stays near doesn't


@dataclass(frozen=True)
class Wishes:
    """Tints a recipe must hold, tints it may not, and the parts (tint, grams) of one to stay near."""

    must: tuple[str, ...] = ()
    without: tuple[str, ...] = ()
    near: tuple[tuple[str, float], ...] = ()

    def check(self, known: Collection[str], max_tints: int) -> None:
        """Raise `InputError` when the wishes can't all be met with the tints known."""
        options = (("`must`", self.must), ("`without`", self.without), ("`near`", [tint for tint, _ in self.near]))
        for option, names in options:
            for name in names:
                if name not in known:
                    mend = did_you_mean(name, known, f"the bank has {listed(known)}", most=2)
                    raise InputError(option, f"there is no tint {name[:40]!r} to mix with", mend)
        both = [name for name in self.must if name in self.without]
        if both:
            raise InputError("`must`", f"{both[0]} is also named with `without`", "take it out of one of them")
        locked = len(set(self.must))
        if locked > max_tints:
            mend = "raise `max_tints`" if locked <= MAX_TINTS else f"lock {MAX_TINTS} at most"
            raise InputError("`must`", f"{locked} tints are locked and {max_tints} allowed", mend)
        if self.near and all(tint in self.without for tint, _ in self.near):
            raise InputError("`near`", "every tint of that recipe is named with `without`", "allow one of them")
        self._check_near(known)

    def _check_near(self, there: Collection[str]) -> None:
        """Raise `InputError` when too many of the locked tints aren't in the recipe to stay near."""
        old = {tint for tint, _ in self.near if tint in there}
        new = [name for name in dict.fromkeys(self.must) if name not in old]
        if self.near and len(new) > NEW_TINTS_NEAR:
            raise InputError(
                "`must`",
                f"{' and '.join(new)} aren't in the recipe of `near`, and {NEW_TINTS_NEAR} new tint is allowed",
                "lock one of them, or leave out `near`",
            )

    def check_stock(self, stocked: Collection[str]) -> None:
        """Raise `InputError` when the wishes can't all be met with the tints in stock."""
        short = [name for name in self.must if name not in stocked]
        if short:
            raise InputError("`must`", f"there is too little {short[0]} in stock to weigh", "take it out or fill it up")
        left = [tint for tint, _ in self.near if tint in stocked and tint not in self.without]
        if self.near and not left:
            raise InputError("`near`", "none of its tints that are allowed is in stock", "fill one up, or leave it out")
        self._check_near(stocked)

    @property
    def notes(self) -> tuple[str, ...]:
        """What is to be borne in mind of wishes that can be met."""
        gone = [tint for tint, _ in dict.fromkeys(self.near) if tint in self.without]
        return (f"{', '.join(gone)} of the recipe to stay near: left out, named with `without`",) if gone else ()

    def accepts(self, members: Ints, names: Sequence[str]) -> NDArray[np.bool_]:
        """Return which subsets, shape (size, m) of indices into names, meet the wishes."""
        fine = np.ones(members.shape[1], dtype=bool)
        for name in self.must:
            fine &= (members == names.index(name)).any(axis=0)
        if self.near:
            old = np.isin(members, [names.index(tint) for tint, _ in self.near if tint in names])
            fine &= (~old & (members >= 0)).sum(axis=0) <= NEW_TINTS_NEAR
        return fine


@dataclass(frozen=True)
class RecipeRequest:
    """What is asked of a recipe besides its target and its weight.

    Parameters
    ----------
    scale : Scale
    max_tints : int
        Most tints in a recipe, 1 to 5.
    tolerance : float
        ΔE00 in the worst light within which the target counts as reached.
    wishes : Wishes
    grounds : tuple of (name, ndarray of shape (31,))
        In contact with the film, for the build that hides.
    prior : StrengthPrior or None
        What is known of the strengths of today's tins: the recipes are made for these.
    unseen_de00 : float or None
        The ΔE00 between black and white ground within which a film hides; None: by its contrast ratio (ISO 6504-3).
    times_off : float
        How many times as far off as bank, tins and scale leave open a first card comes, by the shop's own.
    """

    scale: Scale = field(default_factory=Scale)
    max_tints: int = MAX_TINTS
    tolerance: float = 1.0
    wishes: Wishes = field(default_factory=Wishes)
    grounds: tuple[tuple[str, Floats], ...] = ()
    prior: StrengthPrior | None = None
    unseen_de00: float | None = None
    times_off: float = 1.0
