"""What is poured: a recipe or a correction, in some size; into what; and what was guessed of it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from finishmatch.ledger import RecipeEntry, letdown_words, share_words
from finishmatch.ledger.pouring import letdowns_in
from finishmatch.mix.first_pour import part_of
from finishmatch.mix.letdowns import LetdownScale
from finishmatch.mix.weigh_out import summed
from finishmatch.mix.weighing import Scale
from finishmatch.steps.matching import Parts

# what a pour may be that is the one before to the gram
ONLY_ENTERED = "if it was only entered twice, strike this batch: finishmatch job strike"
AGAIN = 0  # the number of the recipe that a batch is again, until it is recorded
_NEAR, _MORE = 0.02, 1.25  # of a recipe: what is as good as a size of it, and more than an overshoot of a part


@dataclass(frozen=True)
class Before:
    """The batch that a tin was before, and its parts."""

    number: int
    parts: Parts

    @property
    def grams(self) -> float:
        """What it weighs."""
        return sum(grams for _, grams in self.parts)


@dataclass(frozen=True)
class PourPlan:
    """What was to be poured.

    Parameters
    ----------
    number : int
        Of the entry that says so.
    kind : str
        "recipe" or "correction".
    parts : tuple of (tint, grams)
        Of the size that was meant.
    size : float
        How much of what the entry says that is; 1 is all of it.
    letdowns : tuple of (tint, grams, grams, grams, grams)
        How some parts are poured by a letdown, as the entry has it; of another size of it there are none.
    first_share : float or None
        How much of it is best poured before its first card; None is all of it.
    of_whole : tuple of str
        The tints that the entry has poured by a letdown where this is another size of it: what is taken out for the
        cup, and what goes back, is worked out for its whole tin alone.
    without : tuple of str
        The tints that its recipe does without.
    again : int or None
        The number of the batch that it is again.
    of_recipe : RecipeEntry or None
        That it is of, where it has parts poured by a letdown: these stand behind the others.
    """

    number: int
    kind: str
    parts: Parts
    size: float = 1.0
    letdowns: tuple[tuple[str, float, float, float, float], ...] = ()
    first_share: float | None = None
    of_whole: tuple[str, ...] = ()
    without: tuple[str, ...] = ()
    again: int | None = None
    of_recipe: RecipeEntry | None = None

    @property
    def name(self) -> str:
        """What it is called: "recipe #7"."""
        kind, number = self.named
        return f"{kind} #{number}"

    @property
    def named(self) -> tuple[str, int]:
        """Kind and number of the entry that says so; of a recipe that isn't recorded yet, of the batch it is again."""
        return ("batch", self.again) if self.again is not None and self.number == AGAIN else (self.kind, self.number)

    @property
    def part(self) -> str:
        """What part of it this is, poured before its first card, in words: "half"; "" where it isn't such a part."""
        return share_words(self.size) if self.first_share is not None and self.size == self.first_share else ""

    @property
    def percent(self) -> str:
        """How much of what the entry says this is, in percent and three figures: "33.3", "1,000"."""
        return f"{float(f'{100 * self.size:.3g}'):,.10g}"

    @property
    def of_this_part(self) -> str:
        """What of a correction is for the part of its tin that wasn't set aside, in words; "" where it is all of it."""
        if self.kind != "correction" or self.size == 1:
            return ""
        return f"of {self.name} this part takes {', '.join(f'{tint} {round(g, 2):g} g' for tint, g in self.parts)}"

    def of_size(self, size: float) -> PourPlan:
        """Return a plan of another size; of a correction in hundredths of a gram, as letdowns have it."""
        parts = tuple((tint, round(grams * size / self.size, 6)) for tint, grams in self.parts)
        if self.kind == "correction" and size != 1:
            parts = tuple((tint, max(round(grams, 2), 0.01)) for tint, grams in parts)
        if self.of_recipe is not None:
            return replace(self, size=size).poured_as(parts)
        if size == self.size:
            return replace(self, parts=parts)
        of_whole = tuple(dict.fromkeys((*self.of_whole, *(tint for tint, *_ in self.letdowns))))
        return replace(self, parts=parts, size=size, letdowns=(), of_whole=of_whole)

    def poured_as(self, parts: Parts) -> PourPlan:
        """Return a plan with other parts of its recipe, and with the letdowns by which they are poured."""
        recipe = self.of_recipe
        if recipe is None:
            return replace(self, parts=parts)
        in_order = tuple(sorted(parts, key=lambda part: part[0] in recipe.let_down))
        return replace(self, parts=in_order, letdowns=letdowns_in(recipe, in_order))

    def by_letdown(self, tint: str) -> str:
        """Return how a part is poured by a letdown, in a painter's words; "" where it is poured straight."""
        if tint in self.of_whole:
            whole = f"{tint}: {self.name} has it poured by a letdown of the whole tin"
            return f"{whole}; for the part that is left work out the correction anew before it is poured"
        return next((letdown_words(*one) for one in self.letdowns if one[0] == tint), "")


@dataclass(frozen=True)
class Meant:
    """What a pour is: what was poured, into what (None: a new tin) and by what plan (None: none fits).

    `understood` has what was guessed of it, a sentence each.
    """

    poured: Parts
    before: Before | None = None
    plan: PourPlan | None = None
    understood: tuple[str, ...] = ()


def part_first(plan: PourPlan, poured: Parts, scale: Scale) -> PourPlan:
    """Return a recipe in the part that it says to pour before its first card, unless it is poured in another size.

    Parameters
    ----------
    plan : PourPlan
        In the size that the pour looks like; 1 where that can't be told yet.
    poured : tuple of (tint, grams)
        So far.
    scale : Scale
    """
    share, there, whole = plan.first_share, summed(poured), plan.of_size(1.0)
    if share is None or (plan.size != 1 and abs(plan.size - share) > _NEAR):
        return plan
    least = scale.smallest_g
    poured_g = [(there[tint], grams) for tint, grams in whole.parts if there.get(tint, 0.0) > 0]
    # a part so small that its whole is no overshoot of the first pour tells nothing of which of the two it is
    telling = [pair for pair in poured_g if pair[1] > _MORE * share * pair[1] + least] or poured_g
    of_part = [now <= _MORE * share * grams + least for now, grams in telling]
    of_whole = [now <= _MORE * grams + least and not part for (now, grams), part in zip(telling, of_part, strict=True)]
    if sum(of_whole) > sum(of_part):
        return plan
    by_letdown = {tint for tint, *_ in whole.letdowns}
    fine = LetdownScale(scale.step_g, scale.smallest_g, let_down=tuple(tint in by_letdown for tint, _ in whole.parts))
    first = part_of(np.array([grams for _, grams in whole.parts]), share, fine)
    parts = ((tint, float(grams)) for (tint, _), grams in zip(whole.parts, first, strict=True))
    return replace(whole, size=share).poured_as(tuple(parts))
