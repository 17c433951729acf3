"""A fresh batch in place of a correction: what it takes, and which of the two is cheaper."""

from __future__ import annotations

from dataclasses import dataclass

from finishmatch.correct.correction import Correction
from finishmatch.errors import InputError
from finishmatch.evidence.target import ColourTarget
from finishmatch.mix.propose import first_recipe
from finishmatch.mix.recipe import Recipe
from finishmatch.mix.weighing import Scale
from finishmatch.mix.wishes import RecipeRequest
from finishmatch.optics import Tint, TintOptics

_DEAR_SHARE = 0.5  # additions that cost less than this of what is in the tin are cheaper than any fresh batch of it


@dataclass(frozen=True)
class FreshBatch:
    """A fresh batch of the weight that is wanted, by today's strengths.

    Parameters
    ----------
    recipe : Recipe
    additions_cost : float or None
        Of what would have to be added to the tin; None when no addition does.
    reached : bool
        Whether the batch is inside the tolerance.
    """

    recipe: Recipe
    additions_cost: float | None
    reached: bool

    @property
    def cheaper(self) -> bool | None:
        """Whether the fresh batch costs less than correcting; None when nothing can be compared."""
        if not self.reached:
            return None
        if self.additions_cost is None:
            return True
        return None if self.recipe.cost == self.additions_cost else self.recipe.cost < self.additions_cost


def cost_of(parts: tuple[tuple[str, float], ...], tints: tuple[Tint, ...]) -> float:
    """Return what parts cost, in the currency of the bank's prices."""
    price = {tint.name: tint.price_per_kg for tint in tints}
    return sum(grams / 1000 * price[name] for name, grams in parts)


def fresh_batch(
    found: Correction,
    target: ColourTarget,
    optics: TintOptics,
    tints: tuple[Tint, ...],
    batch: tuple[tuple[str, float], ...],
    tolerance: float,
    scale: Scale,
    wanted_g: float = 0.0,
) -> FreshBatch | None:
    """Return the best fresh batch of the weight that is wanted, where it is worth looking at.

    Parameters
    ----------
    found : Correction
        Of the tin.
    target : ColourTarget
    optics : TintOptics
        Of the usable tints, as the bank has them.
    tints : tuple of Tint
        The bank's, for stock and price.
    batch : tuple of (tint, grams)
        As poured.
    tolerance : float
    scale : Scale
    wanted_g : float
        In the tin in the end, where that is more than was poured.

    Returns
    -------
    FreshBatch or None
        None where the additions reach it and cost little, or where neither stock nor scale allow a batch.

    Notes
    -----
    The weight that was poured is the weight that was wanted, unless a part alone was poured. What is in the tin is
    paid for whichever way is taken, so it counts on neither side. To correct costs the additions: the larger tin is
    given no credit for being larger than is wanted. A fresh batch costs its tints. So the fresh batch is the
    cheaper way when its tints cost less than the additions. What else the old tin may serve for, what it costs to
    be rid of it, and the painter's time are not counted. Where the tolerance is reached only beyond the growth
    limit, what it takes there is compared.
    """
    additions = found.additions if found.reachable else found.additions_needed
    cost = None if not found.reachable and not additions else cost_of(additions, tints)
    poured_g = sum(grams for _, grams in batch)
    grams = max(poured_g, wanted_g)
    if found.reachable and (cost is None or cost < _DEAR_SHARE * cost_of(batch, tints) * grams / max(poured_g, 1e-9)):
        return None
    grams = round(grams, 1)
    try:
        recipe = first_recipe(
            target, optics, tints, grams, RecipeRequest(scale, tolerance=tolerance, prior=found.posterior)
        )
    except InputError:
        return None  # the stock doesn't allow one, or no scale step does; the correction itself stands
    fresh = FreshBatch(recipe, cost, recipe.worst_de00 <= tolerance)
    return fresh if not found.reachable or fresh.cheaper else None
