"""Drops of a strong tint poured by a letdown: one part of it in ten of the tin's own paint, and some of that back."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from finishmatch.colour import Floats
from finishmatch.mix.weighing import PARTS, POUR_SD_STEPS, Scale, weighed_grams

Bools = NDArray[np.bool_]

MOST_TAKEN = 0.05  # share of the tin that may be taken out for one: a choice, as are those below
OF_A_RECIPE = 0.1  # the same where the tin is only being filled: the batch comes out smaller by what stays in a cup
MOST_LETDOWNS = 2  # for one recipe or correction
FEWEST_STEPS, _MOST_STEPS = 10, 30  # of the tint in the cup: a weight that the scale tells, and no more than is used
_OF_REST = 1.5  # times what goes back: a cup isn't scraped out to the last drop
_TOO_MUCH_STEPS = 20.0  # what is more than this is poured straight but for the rest
_LEFT_STEPS = 10.0  # for which so much is left: a hand pour ends short of it for sure
_ROUNDED_SD = 1 / np.sqrt(12)  # steps by which a scale's rounding is off, one standard deviation
_WORTH_DE00, _WORTH_SHARE = 0.01, 0.05  # ΔE00, or share of the tolerance, that one must bring on the average


@dataclass(frozen=True)
class Letdown:
    """How a part of an addition is poured by a letdown; the other parts go in before.

    Parameters
    ----------
    tint : str
    straight_g : float
        Poured into the tin as it is, first; what the scale shows more or less of it changes `back_g` tenfold.
    tint_g : float
        Weighed into an empty cup.
    filled_g : float
        What the cup weighs when it is filled up with paint from the tin: ten times what the scale shows of the tint.
    back_g : float
        Of that, stirred, back into the tin.
    """

    tint: str
    straight_g: float
    tint_g: float
    filled_g: float
    back_g: float

    @property
    def kept_g(self) -> float:
        """By how much the tin then weighs less than all that is poured for it, g: of its paint, what the cup keeps."""
        return (self.filled_g - self.tint_g) * (1 - self.back_g / self.filled_g)


@dataclass(frozen=True)
class LetdownScale(Scale):
    """A scale on which some tints are poured by a letdown, a tenth of its step at a time.

    Parameters
    ----------
    let_down : tuple of bool
        For each tint of the tin.
    most_taken : float
        Share of the tin that may be taken out for one.
    """

    let_down: tuple[bool, ...] = ()
    most_taken: float = MOST_TAKEN

    def steps_g(self, count: int) -> Floats:
        """Return the step of each tint, g, shape (count,)."""
        return self._by_tint(self.step_g, count)

    def smallest_parts_g(self, count: int) -> Floats:
        """Return the smallest part of each tint, g, shape (count,)."""
        return self._by_tint(self.smallest_g, count)

    def pour_sd_g(self, grams: Floats) -> Floats:
        """Return what pours are off by, one standard deviation, g: of a letdown by its pour and by how strong it is."""
        rest = np.minimum(grams, _TOO_MUCH_STEPS * self.step_g)
        strong = rest * _ROUNDED_SD / np.clip(_OF_REST * rest / self.step_g, FEWEST_STEPS, _MOST_STEPS)
        straight = np.where(grams > rest, _ROUNDED_SD * self.step_g, 0.0)
        fine: Floats = np.sqrt((POUR_SD_STEPS * self.step_g / PARTS) ** 2 + strong**2 + straight**2)
        return np.where(np.array(self.let_down), fine, super().pour_sd_g(grams))

    def _by_tint(self, value: float, count: int) -> Floats:
        """Return a value of the scale for each tint, a tenth of it for those that are let down."""
        assert count == len(self.let_down)
        return np.where(np.array(self.let_down), value / PARTS, value)


def fewest_for_a_cup_g(step_g: float) -> float:
    """Return the grams of a recipe below which its tin can't spare what goes into a cup, by the step of its scale."""
    return FEWEST_STEPS * step_g * (PARTS - 1) / OF_A_RECIPE


def let_down_scale(let_down: Bools, scale: Scale) -> LetdownScale:
    """Return a scale with the letdowns of a recipe.

    Parameters
    ----------
    let_down : ndarray of bool, shape (k,)
        Which of its tints are let down.
    scale : Scale
    """
    return LetdownScale(scale.step_g, scale.smallest_g, let_down=tuple(map(bool, let_down)), most_taken=OF_A_RECIPE)


def worth_de00(tolerance: float) -> float:
    """Return by how much, ΔE00 on the average, a letdown must bring a card nearer to be worth its work."""
    return max(_WORTH_DE00, _WORTH_SHARE * tolerance)


def most_tint_g(total: float, scale: Scale, most_taken: float = MOST_TAKEN) -> float:
    """Return the most tint that a letdown of a tin's paint may hold, in whole steps, g.

    Parameters
    ----------
    total : float
        Grams in the tin.
    scale : Scale
    most_taken : float
        Share of the tin that may be taken out for it.
    """
    return float(np.floor(most_taken * total / (PARTS - 1) / scale.step_g + 1e-9)) * scale.step_g


def letdowns_of(names: Sequence[str], added: Floats, total: float, scale: LetdownScale) -> tuple[Letdown, ...]:
    """Return how the parts of an addition that are let down are poured.

    Parameters
    ----------
    names : sequence of str
        The tints of the tin.
    added : ndarray, shape (n,)
        Grams, each as much as the whole tin takes.
    total : float
        Grams in the tin before.
    scale : LetdownScale

    Notes
    -----
    What is taken out of the tin and doesn't come back makes it smaller, so that a little less of the tint goes back
    than the whole tin would have taken: all shares come out as they were meant.
    """
    let_down = [int(i) for i in np.flatnonzero(np.array(scale.let_down) & (added > 0))]
    now = float(total + added.sum() - added[let_down].sum())  # grams in the tin, and
    there = whole = now  # what they would be had nothing been taken out; what cups are filled from
    found = []
    for i in let_down:
        straight, rest = _parted(float(added[i]), there, scale)
        now, whole = now + straight * now / whole, whole + straight
        tint = _in_the_cup(rest, there, scale)
        taken = (PARTS - 1) * tint
        # the share of the tint in the tin, after so much of the cup is back, is as it would be in the whole
        wanted = rest / whole
        back = wanted * (now - taken) / (1 / PARTS - wanted * (1 - 1 / PARTS))
        found.append(Letdown(names[i], straight, tint, PARTS * tint, _in_steps(back, scale)))
        now, whole = now - taken + back, whole + rest
    return tuple(found)


def letdowns_of_recipe(
    parts: Sequence[tuple[str, float]], let_down: Collection[str], step_g: float
) -> tuple[Letdown, ...]:
    """Return how the parts of a recipe that are let down are poured, once the others are in the tin; none of a recipe
    too small for the scale to weigh a cup that its tin can spare.

    Parameters
    ----------
    parts : sequence of (tint, grams)
    let_down : collection of str
        Its tints that are.
    step_g : float
        Of the scale.
    """
    names, grams = [tint for tint, _ in parts], np.array([weight for _, weight in parts], dtype=float)
    by_letdown = np.array([name in let_down for name in names], dtype=bool)
    scale = let_down_scale(by_letdown, Scale(step_g))
    straight = float(grams[~by_letdown].sum())
    if most_tint_g(straight, scale, scale.most_taken) < FEWEST_STEPS * step_g:
        return ()
    return letdowns_of(names, np.where(by_letdown, grams, 0.0), straight, scale)


def _parted(grams: float, total: float, scale: LetdownScale) -> tuple[float, float]:
    """Return what is poured straight, and the rest that the letdown brings."""
    most = min(_TOO_MUCH_STEPS * scale.step_g, most_tint_g(total, scale, scale.most_taken) / _OF_REST)
    if grams <= most:
        return 0.0, grams
    straight = np.floor((grams - min(_LEFT_STEPS * scale.step_g, 0.7 * most)) / scale.step_g + 1e-9) * scale.step_g
    straight = _in_steps(float(straight), scale)
    return straight, grams - straight


def _in_the_cup(rest: float, total: float, scale: LetdownScale) -> float:
    """Return how much tint is weighed into the cup, in steps of five of the scale's."""
    steps = float(np.clip(np.ceil(_OF_REST * rest / scale.step_g / 5 - 1e-9) * 5, FEWEST_STEPS, _MOST_STEPS))
    return _in_steps(min(steps * scale.step_g, most_tint_g(total, scale, scale.most_taken)), scale)


def _in_steps(grams: float, scale: Scale) -> float:
    """Return a weight in whole steps of the scale, without the rounding dust of binary numbers."""
    return float(weighed_grams(np.round(np.array(grams) / scale.step_g) * scale.step_g, scale.step_g))
