"""A recipe a painter can weigh, and the list of those worth a look."""

from __future__ import annotations

from dataclasses import dataclass, field

from finishmatch.colour import Floats, metamerism_index
from finishmatch.evidence.target import ColourTarget
from finishmatch.mix.first_pour import FirstPour
from finishmatch.mix.letdowns import Letdown
from finishmatch.mix.metamers import LightRisk
from finishmatch.mix.relaxed_search import Searched


@dataclass(frozen=True)
class Recipe:
    """A recipe a painter can weigh out.

    Parameters
    ----------
    parts : tuple of (tint, grams)
        Largest first.
    reflectance : ndarray, shape (31,)
        Predicted.
    lab : ndarray, shape (3,)
        Predicted, in the reference light.
    lights : dict of str to float
        Predicted ΔE00 to the target in each light.
    metamerism : float or None
        Worst special metamerism index against the target over the further lights; None when it can't be known.
    cost : float
        In the currency of the bank's prices.
    sensitivity_de00_p95 : float
        ΔE00 that weighing alone brings, 95 times in 100 at most.
    distance : float
        By which recipes are ranked: ΔE00 in the worst light, for a far target ΔE*ab.
    intervals : dict of str to (low, high)
        What the spray-out's ΔE00 in each light lies within 95 times in 100, by bank, strength of the tins and weighing.
    expected_de00 : float
        What the first card will differ by in its worst light on the average, by the same draws; 0 where it isn't known.
    greying : tuple of (tint, tint)
        Tints of it that only grey each other.
    risks : tuple of LightRisk
        How it may part, in further lights, from a target of which only CIELAB is known.
    first_pour : FirstPour or None
        What to pour of it before the first card where its tins aren't known well; None where all of it may be poured.
    notes : tuple of str
        What was done to make it weighable.
    hiding_build_um : float or None
        Dry build from which it hides; None when the bank doesn't know or no build does.
    hides_within_de00 : float or None
        It counts as hiding when black and white ground make no more than this; None: by its contrast ratio, 0.98.
    contrast_ratio : float or None
        Y over black over Y over white of a film of the build that was asked for; None when none was.
    intervals_itself : dict of str to (low, high)
        As `intervals`, against the colour itself, where it is known how surely the target tells it; else empty.
    letdowns : tuple of Letdown
        How its parts that are best poured by a letdown are, once the others are in the tin, where all is poured at
        once.
    step_g : float
        Of the scale that it is weighed on.
    """

    parts: tuple[tuple[str, float], ...]
    reflectance: Floats
    lab: Floats
    lights: dict[str, float]
    metamerism: float | None
    cost: float
    sensitivity_de00_p95: float
    distance: float
    intervals: dict[str, tuple[float, float]] = field(default_factory=dict)
    expected_de00: float = 0.0
    greying: tuple[tuple[str, str], ...] = ()
    risks: tuple[LightRisk, ...] = ()
    first_pour: FirstPour | None = None
    notes: tuple[str, ...] = ()
    hiding_build_um: float | None = None
    hides_within_de00: float | None = None
    contrast_ratio: float | None = None
    intervals_itself: dict[str, tuple[float, float]] = field(default_factory=dict)
    letdowns: tuple[Letdown, ...] = ()
    step_g: float = 1e-6

    @property
    def grams(self) -> float:
        """Weight of the batch, in whole steps of the scale, though what goes through a cup is in tenths."""
        return round(round(sum(grams for _, grams in self.parts) / self.step_g) * self.step_g, 6)

    @property
    def expected_metamerism(self) -> float:
        """Metamerism index in the worst further light: as it is, or, of a target without a spectrum, as it may be."""
        return self.metamerism or max((risk.median for risk in self.risks), default=0.0)

    @property
    def worst_de00(self) -> float:
        """Predicted ΔE00 in the worst light."""
        return max(self.lights.values())


@dataclass(frozen=True)
class RecipeList:
    """The recipes, best first; whether one is within the tolerance, and if not, why; and what was searched."""

    recipes: tuple[Recipe, ...]
    within: bool
    why: str
    searched: Searched
    warnings: tuple[str, ...] = field(default=())


def worst_metamerism(target: ColourTarget, reflectance: Floats) -> float | None:
    """Return the worst special metamerism index over the lights after the first, or None when it can't be known."""
    if target.reflectance is None or len(target.lights) < 2:
        return None
    reference, *others = target.lights
    return max(
        float(metamerism_index(target.reflectance, reflectance, reference, test, target.observer)) for test in others
    )
