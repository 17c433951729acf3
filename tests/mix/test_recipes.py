"""The recipe: nothing is missed, what is proposed can be weighed, and what can't be reached is said."""

from __future__ import annotations

import itertools
from dataclasses import replace
from functools import cache
from math import comb

import numpy as np
import pytest
from scipy.optimize import nnls

from booth.banks import booth_bank, tint_specs
from finishmatch.colour import WAVELENGTHS_NM, de00, reflectance_to_lab, weights
from finishmatch.errors import InputError
from finishmatch.evidence.target import ColourTarget, colour_target
from finishmatch.mix.propose import propose_recipes
from finishmatch.mix.recipe import RecipeList
from finishmatch.mix.refine import Candidates, without_traces
from finishmatch.mix.relaxed_search import likely_spectrum
from finishmatch.mix.shortlist import SEEN_DE00, pareto_front
from finishmatch.mix.subsets import ShareLimits, search_subsets
from finishmatch.mix.weighing import Scale, rounded
from finishmatch.mix.wishes import RecipeRequest
from finishmatch.optics import Backing, Tint, TintOptics, fit_bank, predicted_reflectance
from finishmatch.readings import Reading

LIGHTS = ("D65", "A", "F11")


@cache
def bench() -> tuple[TintOptics, tuple[Tint, ...]]:
    """A bank of ten invented tints, with films of known build."""
    bank = booth_bank(tint_specs(11, 10), thin=True)
    return fit_bank(bank).optics, bank.tints


def target_of(grams: dict[int, float], optics: TintOptics, lights: tuple[str, ...] = LIGHTS) -> ColourTarget:
    """The colour that a mixture of the bank's own tints has."""
    weighed = np.zeros(len(optics.names))
    for index, amount in grams.items():
        weighed[index] = amount
    return colour_target(Reading("t", predicted_reflectance(optics, weighed)[None]), lights, 10)


A_DROP_OF_BLACK = {0: 494.0, 1: 0.25, 4: 5.75}  # below 0.3 g, and matters in a pale tint


def propose(target: ColourTarget, **options: object) -> RecipeList:
    """Recipes of 500 g from the bench's bank."""
    optics, tints = bench()
    optics, tints = options.pop("optics", optics), options.pop("tints", tints)
    return propose_recipes(target, optics, tints, 500.0, RecipeRequest(**options))


def test_the_best_subset_is_that_of_a_loop_of_nnls() -> None:
    r = np.random.default_rng(3)
    for trial in range(4):
        rows, scale = r.normal(size=(40, 12)) + r.uniform(-1, 1, (40, 1)), r.uniform(0.5, 2, 12)
        found = search_subsets(rows, scale, 5, 10)
        heavy = 1e4
        system, goal = np.vstack([rows, heavy * scale]), np.append(np.zeros(40), heavy)
        # the same problem with scale·x = 1 as a heavy row
        best = min(
            (nnls(system[:, list(chosen)], goal)[1], chosen)
            for size in range(1, 6)
            for chosen in itertools.combinations(range(12), size)
        )
        used = nnls(system[:, list(best[1])], goal)[0] > 0
        assert set(np.array(best[1])[used]) == set(found.members[0][found.members[0] >= 0]), trial
        assert found.misfit[0] == pytest.approx(best[0] ** 2, rel=1e-3)
        assert found.searched == sum(comb(12, size) for size in range(1, 6))
        assert scale[found.members[0]] @ (found.amounts[0] * (found.members[0] >= 0)) == pytest.approx(1)


def test_forty_tints_give_all_their_subsets() -> None:
    r = np.random.default_rng(4)
    assert search_subsets(r.normal(size=(40, 40)), np.ones(40), 5, 5).searched == 760_098


def test_every_subset_kept_is_among_the_best_of_its_size() -> None:
    """Against each subset solved by itself, in the order of its misfit: none is missed, none is there twice."""
    r = np.random.default_rng(8)
    rows = r.normal(size=(40, 11)) + r.uniform(-1, 1, (40, 1))
    found = search_subsets(rows, np.ones(11), 5, 20)
    for size in range(1, 6):
        alone = []
        for chosen in itertools.combinations(range(11), size):
            x = np.linalg.solve(rows[:, chosen].T @ rows[:, chosen], np.ones(size))
            if (x > 0).all():
                alone.append((1 / x.sum(), chosen))
        kept = [tuple(m) for m in found.members if (m >= 0).sum() == size]
        assert [m[:size] for m in kept] == [chosen for _, chosen in sorted(alone)[:20]]


def test_where_all_are_too_many_those_of_the_most_promising_are_tried_and_it_is_said() -> None:
    r = np.random.default_rng(9)
    rows = r.normal(size=(40, 14)) + r.uniform(-1, 1, (40, 1))
    whole, some = (search_subsets(rows, np.ones(14), 5, 10, most_subsets=most) for most in (2002, 2001))
    assert (whole.whole_up_to, some.whole_up_to) == (5, 4)
    assert some.searched < whole.searched + 2002
    kept = [tuple(m) for m in some.members]
    assert len(set(kept)) == len(kept)
    assert set(kept) <= {tuple(m) for m in whole.members} | {m for m in kept if m[-1] >= 0}
    assert some.misfit[0] == pytest.approx(whole.misfit[0])
    for m, x in zip(some.members, some.amounts, strict=True):
        used = m >= 0
        assert (x[used] > 0).all()
        assert x.sum() == pytest.approx(1)
        assert len(set(m[used])) == used.sum()


def test_a_part_that_comes_to_nothing_leaves_the_recipe_of_the_others() -> None:
    members = np.array([[0, 2, 5], [0, 5, -1], [1, 3, 4], [2, 6, -1]])
    shares = np.array([[0.6, 1e-7, 0.4], [0.5, 0.5, 0], [1e-9, 1e-9, 1.0], [0.7, 0.3, 0]])
    left = without_traces(Candidates(members, shares), 1e-4)
    assert [tuple(m) for m in left.members] == [(0, 5, -1), (4, -1, -1), (2, 6, -1)]
    assert left.shares.sum(axis=1) == pytest.approx(1)
    assert left.shares[0, :2] == pytest.approx([0.6, 0.4], abs=1e-6)
    locked = without_traces(Candidates(members, shares), 1e-4, always=(2,))
    assert (0, 2, 5) in [tuple(m) for m in locked.members]


def test_limits_leave_out_what_needs_more() -> None:
    r = np.random.default_rng(5)
    rows, scale = r.normal(size=(40, 9)), np.ones(9)
    limits = ShareLimits(r.uniform(0.5, 2, 9), np.full(9, 0.4))
    found = search_subsets(rows, scale, 4, 50, limits)
    weight = found.amounts * limits.weight_per_amount[found.members] * (found.members >= 0)
    assert (weight / weight.sum(axis=1, keepdims=True)).max() <= 0.4 + 1e-9
    assert len(found.misfit) > 10


@pytest.mark.slow
@pytest.mark.parametrize("members", [(0, 4), (0, 1, 3), (0, 2, 5, 7), (1, 6, 8)])
def test_a_colour_of_the_banks_own_tints_is_met_with_no_more_tints(members: tuple[int, ...]) -> None:
    optics, _ = bench()
    target = target_of({i: 100.0 + 37 * k for k, i in enumerate(members)}, optics)
    found = propose(target)
    assert found.within
    assert min(recipe.worst_de00 for recipe in found.recipes) <= 0.05
    assert found.recipes[0].worst_de00 <= 0.05 + SEEN_DE00  # what isn't seen may be given for a simpler one
    assert len(found.recipes[0].parts) <= len(members)
    assert found.searched.subsets == sum(comb(10, size) for size in range(1, 6))


def test_what_is_promised_is_what_the_grams_give() -> None:
    optics, tints = bench()
    target = target_of({0: 300, 2: 40, 5: 11, 8: 3}, optics)
    for recipe in propose(target).recipes:
        weighed = np.array([dict(recipe.parts).get(name, 0.0) for name in optics.names])
        spectrum = predicted_reflectance(optics, weighed)
        np.testing.assert_allclose(spectrum, recipe.reflectance, atol=1e-12)
        for light, de in recipe.lights.items():
            against = reflectance_to_lab(target.reflectance, light)
            assert de == pytest.approx(float(de00(against, reflectance_to_lab(spectrum, light))), abs=1e-9)
        assert recipe.grams == pytest.approx(500)
        cups = {one.tint for one in recipe.letdowns}
        steps = [grams * (100 if tint in cups else 10) for tint, grams in recipe.parts]
        np.testing.assert_allclose(steps, np.round(steps), atol=1e-6)
        prices = {tint.name: tint.price_per_kg for tint in tints}
        assert recipe.cost == pytest.approx(sum(grams / 1000 * prices[name] for name, grams in recipe.parts))
        assert recipe.sensitivity_de00_p95 > 0


def test_no_recipe_of_the_list_is_beaten_in_everything_by_another() -> None:
    optics, _ = bench()
    recipes = propose(target_of({0: 300, 3: 40, 5: 11}, optics)).recipes
    merits = [(r.worst_de00, r.metamerism, len(r.parts), r.cost, r.sensitivity_de00_p95) for r in recipes]
    for one, other in itertools.permutations(merits, 2):
        assert not all(b <= a - 1e-3 for a, b in zip(one, other, strict=True))
    least = min(r.worst_de00 for r in recipes)
    assert recipes[0].worst_de00 <= least + 0.02
    clearly_worse = [r.worst_de00 for r in recipes if r.worst_de00 > least + 0.02]
    assert clearly_worse == sorted(clearly_worse)


def test_the_pareto_front_keeps_what_nothing_beats() -> None:
    merits = np.array([[1.0, 5], [2, 4], [3, 3], [3, 4], [1, 6], [2.0001, 4]])
    assert sorted(pareto_front(merits, np.array([0.01, 0.01]))) == [0, 1, 2]


def test_a_part_too_small_to_weigh_is_dropped_or_the_batch_enlarged_and_said() -> None:
    optics, _ = bench()
    found = propose(target_of(A_DROP_OF_BLACK, optics), scale=Scale(0.1, 0.3, letdowns=False))
    for recipe in found.recipes:
        assert min(grams for _, grams in recipe.parts) >= 0.3 - 1e-9
    noted = [recipe for recipe in found.recipes if recipe.notes]
    assert noted
    for recipe in noted:
        enlarged = "batch enlarged" in recipe.notes[0]
        assert enlarged == (recipe.grams > 500.05)
        assert enlarged or "too little to weigh" in recipe.notes[0]


def test_a_part_too_small_to_weigh_is_poured_by_a_letdown() -> None:
    optics, tints = bench()
    target = target_of(A_DROP_OF_BLACK, optics)
    found = propose(target)
    drops = {tints[1].name: 0.25, tints[4].name: 5.75}
    (as_mixed,) = (r for r in found.recipes if {tint for tint, _ in r.parts} == {tints[0].name, *drops})
    for recipe in found.recipes:
        cups = {one.tint: one for one in recipe.letdowns}
        assert all(grams >= (0.03 if tint in cups else 0.3) - 1e-9 for tint, grams in recipe.parts)
        for tint, one in cups.items():
            in_the_tin = one.straight_g + one.back_g * one.tint_g / one.filled_g
            assert in_the_tin == pytest.approx(dict(recipe.parts)[tint], abs=0.02 + 0.01 * dict(recipe.parts)[tint])
        assert recipe.grams == pytest.approx(500) or len(recipe.parts) > 3
    assert dict(as_mixed.parts) == pytest.approx({tints[0].name: 494.0, **drops}, abs=0.06)
    assert as_mixed.worst_de00 < 0.08
    straight = propose(target, scale=Scale(letdowns=False))
    assert as_mixed.worst_de00 < min(r.worst_de00 for r in straight.recipes if r.grams < 501) - 0.1


@pytest.mark.parametrize(("letdowns", "grams"), [(True, 40.0), (False, 40.0), (False, 100.0)])
def test_a_batch_too_small_for_a_cup_goes_without_and_says_how_much_is_enough(letdowns: bool, grams: float) -> None:
    optics, tints = bench()
    target = target_of(A_DROP_OF_BLACK, optics)
    request = RecipeRequest(scale=Scale(letdowns=letdowns), tolerance=0.2)
    found = propose_recipes(target, optics, tints, grams, request)
    for recipe in found.recipes:
        assert recipe.letdowns == ()
        assert min(weight for _, weight in recipe.parts) >= 0.3 - 1e-9
    assert not found.within
    assert "parts of it are too little for a scale of 0.1 g" in found.why
    enough = float(found.why.partition("mix ")[2].partition(" g")[0])
    assert grams < enough
    assert propose_recipes(target, optics, tints, enough + 10, request).within
    assert propose_recipes(target, optics, tints, grams, replace(request, scale=Scale(0.001, 0.003))).within


def test_the_stock_is_kept_to_and_named_when_it_is_the_reason() -> None:
    optics, tints = bench()
    target = target_of({0: 400, 3: 60, 6: 20}, optics)
    short = tuple(replace(tint, stock_g=60.0) if tint.role == "white" else tint for tint in tints)
    found = propose(target, tints=short)
    for recipe in found.recipes:
        assert dict(recipe.parts).get("white", 0) <= 60
    assert not found.within
    assert "the stock is too small" in found.why
    assert "white" in found.why
    gone = tuple(replace(tint, stock_g=0.0) if tint.name == optics.names[3] else tint for tint in tints)
    assert all(optics.names[3] not in dict(recipe.parts) for recipe in propose(target, tints=gone).recipes)
    with pytest.raises(InputError, match="whole stock"):
        propose(target, tints=tuple(replace(tint, stock_g=30.0) for tint in tints))


def test_a_colour_outside_the_gamut_gets_the_nearest_and_the_reason() -> None:
    target = colour_target(Reading("t", np.array([[60.0, 60.0, -60.0]])), ("D65",), 10)
    found = propose(target)
    assert not found.within
    assert "outside what these tints can make" in found.why
    assert "cleaner" in found.why
    # no single letdown of a tint with white is nearer (ΔE*ab: the difference is beyond what ΔE00 is made for)
    optics, _ = bench()
    letdowns = np.array(
        [
            np.eye(10)[i] * share + np.eye(10)[0] * (1 - share)
            for i in range(1, 10)
            for share in np.linspace(0.01, 1, 60)
        ]
    )
    rivals = np.linalg.norm(reflectance_to_lab(predicted_reflectance(optics, letdowns)) - target.labs[0], axis=1)
    assert np.linalg.norm(found.recipes[0].lab - target.labs[0]) <= rivals.min() + 0.05


def test_a_target_of_other_pigments_that_only_one_light_allows_is_called_metameric() -> None:
    optics, _ = bench()
    base = target_of({0: 300, 4: 60, 7: 20}, optics)
    # the same colour in D65 by a spectrum with a deep notch, as no pigment here has
    seen = weights("D65", 10)
    bump = np.exp(-(((WAVELENGTHS_NM - 580) / 12) ** 2))
    hidden = bump - seen @ np.linalg.lstsq(seen.T @ seen, seen.T @ bump, rcond=None)[0]
    spectrum = base.reflectance * (1 - 0.5 * hidden / np.abs(hidden).max())
    target = colour_target(Reading("odd", spectrum[None]), ("D65", "A", "F2", "F11", "LED-B3"), 10)
    found = propose(target, tolerance=0.2)
    assert not found.within
    assert "metamerism" in found.why


def test_only_lab_is_matched_and_what_it_cannot_promise_is_said() -> None:
    optics, _ = bench()
    lab = target_of({0: 300, 2: 40, 5: 11}, optics).labs[0]
    target = colour_target(Reading("t", lab[None]), LIGHTS, 10)
    assert target.lights == ("D65",)
    assert any("metamerism" in warning for warning in target.warnings)
    found = propose(target)
    assert min(recipe.worst_de00 for recipe in found.recipes) <= 0.05
    assert found.recipes[0].worst_de00 <= 0.15  # less of it may show in other lights, which goes before hundredths
    assert found.recipes[0].metamerism is None
    assert set(found.recipes[0].lights) == {"D65"}


def test_the_likely_spectrum_has_the_colour_asked_for() -> None:
    for lab in ([50, 20, -30], [85, -5, 60], [25, 3, 2], [70, 0, 0]):
        target = colour_target(Reading("t", np.array([lab], float)), ("D65",), 10)
        spectrum = likely_spectrum(target)
        assert target.differences(spectrum).max() < 0.2
        assert (spectrum > 0).all()
        assert (spectrum < 1).all()


def test_a_film_over_a_ground_is_matched_as_it_will_be() -> None:
    optics, _ = bench()
    ground = np.full(31, 0.1)
    over = optics.over(Backing("grey", 14.0, ground))
    target = target_of({0: 300, 2: 60, 5: 30}, over)
    best = propose(target, optics=over).recipes[0]
    assert best.worst_de00 <= 0.05
    weighed = np.array([dict(best.parts).get(name, 0.0) for name in optics.names])
    assert target.differences(predicted_reflectance(over, weighed)).max() <= 0.05
    # the recipe for the endless film would miss, sprayed as thin as this
    endless = propose(target).recipes[0]
    weighed = np.array([dict(endless.parts).get(name, 0.0) for name in optics.names])
    assert target.differences(predicted_reflectance(over, weighed)).max() > 0.3
    with pytest.raises(ValueError, match="per µm"):
        replace(optics, per_um=False).over(Backing("grey", 14.0, ground))


def test_rounding_keeps_the_batch() -> None:
    r = np.random.default_rng(9)
    for _ in range(200):
        steps = rounded(r.dirichlet(np.ones(5)), 333.3, 0.1)
        assert steps.sum() == 3333


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"max_tints": 0}, "`max_tints`"),
        ({"max_tints": 6}, "`max_tints`"),
        ({"scale": Scale(0.0, 0.3)}, "`scale_step`"),
        ({"scale": Scale(100.0, 300.0)}, "`scale_step`"),
        ({"scale": Scale(0.1, 0.01)}, "`smallest`"),
    ],
)
def test_what_cannot_be_mixed_is_refused(options: dict, message: str) -> None:
    optics, _ = bench()
    with pytest.raises(InputError, match=message):
        propose(target_of({0: 1.0, 3: 1.0}, optics), **options)


def test_a_tint_that_is_the_colour_itself_is_found_whatever_else_there_is() -> None:
    """What it leaves is nought to the last digit on some processors."""
    rows = np.random.default_rng(5).normal(size=(40, 6))
    rows[:, 2] = 0
    found = search_subsets(rows, np.ones(6), 3, 20)
    assert list(found.members[0]) == [2, -1, -1]
    assert found.misfit[0] == pytest.approx(0, abs=1e-12)
    assert np.isfinite(found.amounts).all()
