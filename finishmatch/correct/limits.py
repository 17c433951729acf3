"""A tin that is to be corrected, and what a correction of it is held to."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats
from finishmatch.correct.limiting_factor import FAR_GROWTH, weighable_stock
from finishmatch.correct.tin import Tin
from finishmatch.errors import InputError
from finishmatch.mix.weighing import Scale

_MOST_G = 1e6  # that is wanted in a tin
_MOST_GROWTH = 10.0


@dataclass(frozen=True)
class Limits:
    """A tin, the stock (g of each tint), and what a correction of it is held to.

    Parameters
    ----------
    tin : Tin
    stock : ndarray, shape (n,)
        Grams of each tint.
    tolerance : float
        ΔE00 in the worst light.
    max_growth : float
        Most that the tin may outgrow what was wanted of it by, as a share of that.
    total : float
        Grams in the tin, clears included.
    scale : Scale
    how : str
        In words how it is off.
    wanted : float
        Grams that are wanted in it in the end; no more than is in it where that was a whole batch.
    letdowns : bool
        Whether strong tints may be let down.
    """

    tin: Tin
    stock: Floats
    tolerance: float
    max_growth: float
    total: float
    scale: Scale
    how: str
    wanted: float = 0.0
    letdowns: bool = False

    @property
    def lacking(self) -> float:
        """Grams that the batch still lacks; 0 where that is less than the scale weighs."""
        lacking = self.wanted - self.total
        return lacking if lacking >= self.scale.smallest_g else 0.0

    @property
    def batch(self) -> float:
        """Grams of the batch: those that are wanted, or those in the tin where that is more."""
        return self.total + self.lacking

    @property
    def room(self) -> Floats:
        """Grams of each tint that can be weighed in, shape (n,)."""
        return weighable_stock(self.stock, self.scale)

    @property
    def most(self) -> float:
        """Most grams that may be added."""
        return self.lacking + self.max_growth * self.batch

    @property
    def far(self) -> float:
        """Most grams that are looked at beyond that."""
        return self.lacking + max(FAR_GROWTH, self.max_growth) * self.batch

    def short(self, added: Floats) -> bool:
        """Return whether a batch that lacks some still does with grams, shape (n,)."""
        return self.lacking > 0 and float(added.sum()) < self.lacking - self.scale.smallest_g

    def growth(self, added: Floats) -> float:
        """Return by what share a tin outgrows its batch with grams, shape (n,); 0 where that doesn't fill it."""
        beyond = float(added.sum()) - self.lacking
        return max(beyond, 0.0) / self.batch if beyond >= self.scale.smallest_g or not self.lacking else 0.0


def check_limits(tolerance: float, max_growth: float) -> None:
    """See that a tolerance and a growth can be."""
    if not (np.isfinite(tolerance) and tolerance > 0):
        raise InputError("`tolerance`", f"{tolerance:g} is not a tolerance", "give a ΔE00 above 0")
    if not (np.isfinite(max_growth) and 0 < max_growth <= _MOST_GROWTH):
        raise InputError(
            "`max_growth`",
            f"{max_growth:g} is not a growth",
            f"0.2 lets the tin grow by a fifth; {_MOST_GROWTH:g} is the most",
        )


def check_wanted(grams: float | None) -> None:
    """See that what is wanted in a tin is a weight; None is what its recipe says."""
    if grams is not None and not (np.isfinite(grams) and 0 < grams <= _MOST_G):
        mend = f"give the grams that are wanted in the tin in the end, up to {_MOST_G:,.0f}"
        raise InputError("`fill_to`", f"{grams:g} g is no batch", mend)
