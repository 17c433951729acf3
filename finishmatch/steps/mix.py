"""A recipe in grams for a target colour."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from finishmatch.colour.inconstancy import LightRow, in_every_light
from finishmatch.errors import InputError
from finishmatch.evidence.target import ColourTarget
from finishmatch.finish.flop import NO_FLAKE
from finishmatch.finish.hiding import UNSEEN_DE00
from finishmatch.ledger.entries import Entry
from finishmatch.mix.foretold import BorneOut, seen_borne_out
from finishmatch.mix.hiding_build import COAT_UM, GroundChoice, ground_choices
from finishmatch.mix.propose import propose_recipes
from finishmatch.mix.recipe import Recipe, RecipeList
from finishmatch.mix.shortlist import Bench
from finishmatch.mix.why_first import why_first, why_harder
from finishmatch.mix.wishes import MAX_TINTS, RecipeRequest, Wishes
from finishmatch.near_names import as_known
from finishmatch.optics import Tint, TintOptics
from finishmatch.readings.volumes import Volume
from finishmatch.steps.bank import Film, FittedBank, film_of, keep_fit
from finishmatch.steps.colour_inputs import ReadingLike, itself_unknown
from finishmatch.steps.entries import reading_entry, sources_of
from finishmatch.steps.formula_near import to_stay_near
from finishmatch.steps.from_job import from_job, given_or
from finishmatch.steps.hazards import cautions_for, harmful, metal_notes
from finishmatch.steps.matching import BankLike, Match, MatchRequest, PartsLike, match
from finishmatch.steps.progress import Progress, quiet
from finishmatch.steps.recipe_document import recipe_document
from finishmatch.steps.recipe_entries import recipe_entry, target_entry
from finishmatch.steps.spray_out_strengths import new_tins_entry
from finishmatch.steps.tins_to_try import TinToTry, panels_own_unsaid, tins_to_try

TOLERANCE = 1.0  # ΔE00 that counts as reached where none is given and none is known


@dataclass(frozen=True, kw_only=True)
class MixRequest(MatchRequest):
    """What is asked of a recipe besides its target and its weight; see `MatchRequest` for the rest.

    Parameters
    ----------
    max_tints : int
        Most tints in a recipe, 1 to 5.
    recipes : int
        How many are shown and recorded.
    must, without : sequence of str
        Tints every recipe must hold, tints none may hold.
    near : PartsLike or None
        A batch to stay near: its tints, and at most one other, are mixed with.
    like : str or None
        A job whose formula is stayed near, as with `near`.
    ground, build_um : str, float or None
        A ground of the bank and the dry build in µm: the film over it is matched.
    coat_um : float
        Dry build of a coat, µm, to count coats.
    unseen_de00 : float or None
        A film hides when the ground makes no more than this ΔE00; None: contrast ratio 0.98, over a ground ΔE00 0.3.
    letdowns : bool
        Whether strong tints may be poured by a letdown, where that pays.
    """

    max_tints: int = MAX_TINTS
    recipes: int = 5
    must: tuple[str, ...] = ()
    without: tuple[str, ...] = ()
    near: PartsLike | None = None
    like: str | None = None
    ground: str | None = None
    build_um: float | None = None
    coat_um: float = COAT_UM
    unseen_de00: float | None = None
    letdowns: bool = True

    def __post_init__(self) -> None:
        """See to what needs no file."""
        if self.recipes < 1:
            raise InputError("`recipes`", f"{self.recipes} recipes can't be shown", "give 1 or more")
        if not self.coat_um > 0:
            raise InputError("`coat_um`", f"{self.coat_um:g} µm is not a coat", "give its dry build in µm, above 0")
        if self.unseen_de00 is not None and not 0 < self.unseen_de00 < 10:
            what = f"{self.unseen_de00:g} is not a difference to hide within"
            raise InputError("`unseen_de00`", what, "give a ΔE00 above 0 and below 10")


@dataclass(frozen=True)
class Mixed:
    """The recipes that were found, best first, and what each ground asks for under the first.

    Parameters
    ----------
    match : Match
    found : RecipeList
    film : Film
        With the strengths of today's tins.
    grounds : tuple of GroundChoice
    warnings : tuple of str
    recorded : tuple of int
        The numbers of the entries, where they were recorded.
    """

    match: Match
    found: RecipeList
    film: Film
    grounds: tuple[GroundChoice, ...]
    warnings: tuple[str, ...]
    recorded: tuple[int, ...] = ()

    @property
    def target(self) -> ColourTarget:
        """What was matched."""
        return self.match.target

    @property
    def recipes(self) -> tuple[Recipe, ...]:
        """The recipes, best first."""
        return self.found.recipes

    @property
    def within(self) -> bool:
        """Whether a recipe is within the tolerance in every light."""
        return self.found.within

    @property
    def tints(self) -> tuple[Tint, ...]:
        """The tints of the bank."""
        return self.match.fitted.bank.tints

    @property
    def why_first(self) -> tuple[str, ...]:
        """What put the first recipe first, and what each of the others is listed for."""
        return why_first(self.found, self._bench)

    @property
    def why_harder(self) -> str:
        """What the first recipe gains by being harder than another that would do, or by not being inside; or empty."""
        return why_harder(self.found, self._bench)

    @property
    def _bench(self) -> Bench:
        return Bench(self.match.tolerance, self.match.scale.step_g)

    @property
    def tins_to_try(self) -> tuple[TinToTry, ...]:
        """The tins of the first recipe to try by a letdown, where they aren't known well enough to pour all at once."""
        first, tins = self.recipes[0], self.match.tins
        if first.first_pour is None:
            return ()
        return tins_to_try(self.match.fitted.bank, first.parts, tins.prior, tins.together, tins.of_panels, tins.lots)

    @property
    def by_record(self) -> BorneOut:
        """How many times as far off as the bank says first cards come, by the shop's own: as ranges have it."""
        return _by_record(self.match)

    @property
    def every_light(self) -> tuple[LightRow, ...]:
        """How the first recipe fares in every light there is; nothing without the target's spectrum."""
        return every_light(self.target, self.recipes[0])

    def harmful_in(self, recipe: Recipe) -> tuple[Tint, ...]:
        """Return the tints of a recipe that hold what harms, in its order."""
        return harmful((name for name, _ in recipe.parts), self.tints)

    def cautions(self, shown: int | None = None) -> tuple[str, ...]:
        """Return the cautions that bear on the recipes shown, or on all."""
        return cautions_for((name for recipe in self.recipes[:shown] for name, _ in recipe.parts), self.tints)

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object of a list of recipes."""
        searched = self.found.searched
        return {
            "target": {"name": self.target.name, "lab": self.target.labs[0], "u95": self.target.u95},
            "recipes": [recipe_document(recipe, self.harmful_in(recipe)) for recipe in self.recipes],
            "within": self.within,
            "why": self.found.why,
            "why_first": list(self.why_first),
            "why_harder": self.why_harder,
            "subsets_searched": searched.subsets,
            "tints_searched": searched.tints,
            "whole_up_to": searched.whole_up_to,
            "grounds": [vars(choice) for choice in self.grounds],
            "every_light": [vars(row) for row in self.every_light],
            "tins_to_try": [one.as_dict() for one in self.tins_to_try],
            "by_record": {"cards": self.by_record.cards, "times": self.by_record.times},
            "warnings": list(self.warnings),
            "cautions": list(self.cautions()),
            **self.match.as_dict(),
        }


def mix(
    target: ReadingLike | None,
    bank: BankLike | None,
    grams: float | Volume | None,
    request: MixRequest = MixRequest(),
    *,
    job: str | None = None,
    progress: Progress = quiet,
    before_recording: Callable[[Mixed], None] | None = None,
) -> Mixed:
    """Return recipes in grams for a target from the tints of a bank.

    Parameters
    ----------
    target : ReadingLike or None
    bank : BankLike or None
    grams : float, Volume or None
        Weight of the batch; or its volume, which is that of the first recipe by the densities of its tints. What is
        None is what the job has: its target, its bank, the weight of its last recipe.
    request : MixRequest
    job : str or None
        Where target and recipes are recorded.
    progress : Progress
    before_recording : callable or None
        Is given what was found before anything is recorded; when it fails nothing is.

    Raises
    ------
    InputError
        Wishes that can't be met, a bank or target that can't be used; nothing is recorded then.
    """
    taken = from_job("mix", job, {"target": target, "bank": bank, "grams": grams})
    matched = match(target, bank, request, TOLERANCE, job=job, taken=taken, progress=progress)
    fitted, prior = matched.fitted, matched.tins.prior
    film = film_of(fitted, request.ground, request.build_um)
    usable = film.optics.chosen(fitted.usable_optics.names)
    asked = RecipeRequest(
        scale=replace(matched.scale, letdowns=request.letdowns),
        max_tints=request.max_tints,
        tolerance=matched.tolerance,
        wishes=_wishes(request, fitted),
        grounds=film.grounds,
        prior=prior,
        unseen_de00=request.unseen_de00,
        times_off=_by_record(matched).times,
    )
    with progress(f"searching the recipes of {len(usable.names)} tints"):
        found, asked_g = _proposed(matched, usable, given_or(grams, taken and taken.grams), asked)
    if prior is not None:
        film = replace(film, optics=prior.strengthened(film.optics))
    noted = _noted(matched, found, request)
    mixed = Mixed(matched, found, film, _grounds_for(found.recipes[0], film, request), noted)
    if before_recording is not None:
        before_recording(mixed)
    recorded = matched.record(job, _entries(mixed, request, asked_g), {0: sources_of(matched.standard)})
    return replace(mixed, recorded=recorded, warnings=(*noted, *keep_fit(fitted)))


def _noted(matched: Match, found: RecipeList, request: MixRequest) -> tuple[str, ...]:
    """Return what is to be borne in mind of target, recipes, shelf and tins."""
    fitted = matched.fitted
    in_recipes = {name: None for recipe in found.recipes[: request.recipes] for name, _ in recipe.parts}
    shelf = (*matched.shelf.warnings, *matched.shelf.running_low(set(in_recipes)))
    tins = (*matched.tins.warnings, *panels_own_unsaid(found.recipes[0].first_pour, matched.tins), *fitted.fit.warnings)
    told = (*matched.warnings, *found.warnings, *shelf, *tins, *metal_notes(in_recipes, fitted.bank.tints))
    told = (*itself_unknown(matched.alike, matched.tolerance), *told)
    return (NO_FLAKE, *told) if matched.standard.angles else told


def _by_record(matched: Match) -> BorneOut:
    """Return how the shop's first cards beside pieces bear out what is foretold; of a piece whose spectrum is known
    they say nothing."""
    return seen_borne_out(matched.tins.foretold) if matched.target.reflectance is None else BorneOut()


def _proposed(
    matched: Match, usable: TintOptics, amount: float | Volume, asked: RecipeRequest
) -> tuple[RecipeList, float]:
    """Return the recipes of a batch of so many grams, and these; of a volume, such that the first is of that volume."""
    if not isinstance(amount, Volume):
        return propose_recipes(matched.target, usable, matched.shelf.tints, amount, asked), amount
    densities = matched.fitted.bank.densities
    grams = 1000 * amount.litres  # what it weighs is known when the recipe is
    first = propose_recipes(matched.target, usable, matched.shelf.tints, grams, asked).recipes[0]
    litres = sum(weight / densities[tint] for tint, weight in first.parts) / 1000
    grams = amount.grams("`grams`", "the first recipe", round(first.grams / litres / 1000, 3))
    return propose_recipes(matched.target, usable, matched.shelf.tints, grams, asked), grams


def _wishes(request: MixRequest, fitted: FittedBank) -> Wishes:
    known = fitted.bank.tint_names
    must = tuple(as_known("`must`", name, known) for name in request.must)
    without = tuple(as_known("`without`", name, known) for name in request.without)
    return Wishes(must, without, to_stay_near(request.near, request.like, fitted))


def _grounds_for(recipe: Recipe, film: Film, request: MixRequest) -> tuple[GroundChoice, ...]:
    """Return what each ground of the shelf asks for under a recipe."""
    own = film.optics.chosen([tint for tint, _ in recipe.parts])
    grams = np.array([grams for _, grams in recipe.parts])
    return ground_choices(own, grams, film.grounds, request.unseen_de00 or UNSEEN_DE00, request.coat_um)


def _entries(mixed: Mixed, request: MixRequest, asked_g: float) -> list[Entry]:
    standard, goal, bank, told = mixed.match.standard, mixed.target, mixed.match.fitted.bank, mixed.match.told
    known = mixed.match.taken is not None and mixed.match.taken.target is not None
    role = "weighed target" if standard.target is not None and standard.target.weighed else "evidence"
    without = _wishes(request, mixed.match.fitted).without
    entries: list[Entry] = [
        *(() if known else (reading_entry(standard, role),)),
        *(() if known else (target_entry(mixed.match.told_target, mixed.match.tolerance, told, standard.source),)),
    ]
    for i, recipe in enumerate(mixed.recipes[: request.recipes], start=1):
        entries.append(recipe_entry(recipe, i, bank, goal, without, asked_g, mixed.match.scale.step_g))
    return [*entries, new_tins_entry(bank.name)] if mixed.match.tins.forgotten else entries


def every_light(target: ColourTarget, recipe: Recipe) -> tuple[LightRow, ...]:
    """Return how a recipe fares in every light there is; nothing without the target's spectrum."""
    if target.reflectance is None:
        return ()
    return in_every_light(target.reflectance, recipe.reflectance, target.lights[0], target.observer)
