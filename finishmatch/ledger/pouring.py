"""Which recipe a batch was poured by, what of it came off the shelf, and how much is wanted in its tin."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from finishmatch.ledger.entries import BatchEntry, CorrectionEntry, Parts, RecipeEntry
from finishmatch.ledger.views import EntryView
from finishmatch.mix.letdowns import letdowns_of_recipe

# of a recipe: a first pour of less is a part of it, and its rest is wanted until so much is in the tin
_PART, _WHOLE = 0.9, 0.995
_NOTHING_G = 1e-3  # what rounding leaves of a part
NEAR = 0.05  # share of the batch's weight that may lie elsewhere than the recipe says («common practice»: no source)


def recipe_poured(parts: Sequence[tuple[str, float]], recipes: Iterable[EntryView]) -> int | None:
    """Return the number of the recipe a batch follows, or None when it follows none.

    Parameters
    ----------
    parts : sequence of (tint, grams)
        What was poured; a tint poured twice stands twice.
    recipes : iterable of EntryView
        The recipes of the job that have not been replaced.

    Notes
    -----
    Compared by share of weight, so that half a recipe is still that recipe. Of two as near, the better ranked. A batch
    may hold tints that were added later, but none of the recipe's may be missing.
    """
    poured = {tint for tint, grams in parts if grams > 0}
    nearest: tuple[float, int, int] | None = None
    for view in recipes:
        if isinstance(view.entry, RecipeEntry) and poured >= {tint for tint, _ in view.entry.parts}:
            candidate = (_moved(_shares(parts), _shares(view.entry.parts)), view.entry.rank, view.number)
            nearest = candidate if nearest is None else min(nearest, candidate)
    return nearest[2] if nearest is not None and nearest[0] <= NEAR else None


def _shares(parts: Sequence[tuple[str, float]]) -> dict[str, float]:
    total = sum(grams for _, grams in parts) or 1.0
    shares: dict[str, float] = {}
    for tint, grams in parts:
        shares[tint] = shares.get(tint, 0.0) + grams / total
    return shares


def _moved(one: dict[str, float], other: dict[str, float]) -> float:
    return sum(abs(one.get(tint, 0.0) - other.get(tint, 0.0)) for tint in one.keys() | other.keys()) / 2


def totals(parts: Iterable[tuple[str, float]]) -> dict[str, float]:
    """Return the grams of each tint, a tint poured twice added up, in the order first poured."""
    grams: dict[str, float] = {}
    for tint, weight in parts:
        grams[tint] = grams.get(tint, 0.0) + weight
    return grams


def off_the_shelf(view: EntryView, views: Sequence[EntryView]) -> dict[str, float]:
    """Return what was taken off the shelf for a batch, grams by tint: what wasn't in the tin before.

    Parameters
    ----------
    view : EntryView
        Of a batch.
    views : sequence of EntryView
        All batches, corrections and recipes of its job, those that were replaced included: what it says was in the tin
        is what it goes on from.

    Notes
    -----
    Of a tint that a recipe or correction has poured by a letdown all that is weighed into the cup is taken, though only
    a part of it comes to bear. Where the batch before was struck, what was poured into that is in the tin still, and
    counts with this one.
    """
    assert isinstance(view.entry, BatchEntry)
    poured, before = totals(view.entry.parts), batch_before(view, views)
    there = before.entry.parts if before is not None and isinstance(before.entry, BatchEntry) else ()
    for tint, grams in totals(there).items():
        poured[tint] = max(0.0, poured.get(tint, 0.0) - view.entry.share * grams)
    for tint, straight, in_cup, *_ in _letdowns_of(view, views):
        if poured.get(tint, 0.0) > 0:
            poured[tint] = max(poured[tint], straight + in_cup)
    if before is None or before.struck_by is None:
        return poured
    return totals(
        (*poured.items(), *((tint, view.entry.share * g) for tint, g in off_the_shelf(before, views).items()))
    )


def batch_before(view: EntryView, views: Sequence[EntryView]) -> EntryView | None:
    """Return the batch that a batch goes on from, or None: of one that was struck, the one that stands in its place.

    Parameters
    ----------
    view : EntryView
        Of a batch.
    views : sequence of EntryView
        All batches of its job, those that were replaced or struck included.
    """
    by_number = {other.number: other for other in views}
    before = by_number.get(view.entry.continues or 0) if isinstance(view.entry, BatchEntry) else None
    while before is not None and before.struck_by is not None and before.supersedes is not None:
        before = by_number.get(before.supersedes)
    return before


def batches_of_tin(view: EntryView | None, views: Sequence[EntryView]) -> Iterator[EntryView]:
    """Yield a batch and those that its tin was before it, the newest first; nothing where there is none.

    Parameters are as for `batch_before`: one that was struck is passed over for what stands in its place.
    """
    while view is not None and isinstance(view.entry, BatchEntry):
        yield view
        view = batch_before(view, views)


def _letdowns_of(batch: EntryView, views: Sequence[EntryView]) -> Sequence[tuple[str, float, float, float, float]]:
    """Return how the last correction of the tin that a batch goes on from has tints poured by a letdown, or of a new
    tin its recipe."""
    assert isinstance(batch.entry, BatchEntry)
    if batch.entry.continues is None:
        recipe = next((view.entry for view in views if view.number == batch.entry.recipe), None)
        return letdowns_in(recipe, batch.entry.parts) if isinstance(recipe, RecipeEntry) else ()
    standing = [view for view in views if view.number < batch.number and not (view.struck_by or view.superseded_by)]
    of_tin = [view.entry for view in standing if isinstance(view.entry, CorrectionEntry)]
    mine = [correction for correction in of_tin if correction.batch == batch.entry.continues]
    return mine[-1].letdowns if mine else ()


def letdowns_in(recipe: RecipeEntry, parts: Parts) -> tuple[tuple[str, float, float, float, float], ...]:
    """Return how a recipe, or a part of it, is poured by letdowns: tint, grams straight, in the cup, filled up, back.

    Parameters
    ----------
    recipe : RecipeEntry
    parts : tuple of (tint, grams)
        As much of it as is poured.
    """
    if not recipe.let_down or recipe.scale_step_g is None:
        return ()
    found = letdowns_of_recipe(parts, recipe.let_down, recipe.scale_step_g)
    return tuple((one.tint, one.straight_g, one.tint_g, one.filled_g, one.back_g) for one in found)


def divides(view: EntryView) -> bool:
    """Return whether a batch is only a part of the one before it: nothing was poured, so nothing is to be sprayed."""
    return isinstance(view.entry, BatchEntry) and view.entry.continues is not None and view.entry.share < 1


def wanted_in(views: Sequence[EntryView], batch: EntryView) -> float | None:
    """Return the grams that are wanted in a tin, or None where nothing says that more is than what was poured.

    Parameters
    ----------
    views : sequence of EntryView
        The entries of the job.
    batch : EntryView
        What is in the tin.

    Notes
    -----
    More is wanted where its recipe told to pour a part before the first card, and a part is what was poured. Of a tin
    of which something was set aside nobody knows.
    """
    assert isinstance(batch.entry, BatchEntry)
    now = sum(grams for _, grams in batch.entry.parts)
    _, first = _undivided(batch, views)[-1]
    recipe = next((view.entry for view in views if view.number == first.recipe), None)
    if first.continues is not None or not isinstance(recipe, RecipeEntry) or recipe.first_share is None:
        return None
    poured = sum(grams for _, grams in first.parts)
    return recipe.grams if poured < _PART * recipe.grams and now < _WHOLE * recipe.grams else None


def lacking_in(views: Sequence[EntryView], batch: EntryView) -> tuple[tuple[str, ...], int | None]:
    """Return the tints that were to go into a tin and aren't in it, and the number of what says so; (), None for none.

    Parameters
    ----------
    views : sequence of EntryView
        The entries of the job, replaced ones included.
    batch : EntryView
        What is in the tin.

    Notes
    -----
    Of the correction that is poured into it, where a part of that was; else of its recipe. A weigh-out that was broken
    off leaves such a tin. Of one of which something was set aside nobody knows.
    """
    assert isinstance(batch.entry, BatchEntry)
    whole = _undivided(batch, views)
    of_tin = (view for view in views if view.stands and view.number < batch.number)
    for view in reversed([*of_tin]):
        if not isinstance(view.entry, CorrectionEntry):
            continue
        corrected = next((entry for number, entry in whole[1:] if number == view.entry.batch), None)
        if corrected is None:
            continue
        added = {tint for tint, grams in batch.entry.parts[len(corrected.parts) :] if grams > 0}
        wanted = tuple(tint for tint, _ in view.entry.additions)
        lacking = tuple(tint for tint in wanted if tint not in added)
        return (lacking, view.number) if lacking and added & set(wanted) else ((), None)
    _, first = whole[-1]
    recipe = next((view.entry for view in views if view.number == first.recipe), None)
    if first.continues is not None or not isinstance(recipe, RecipeEntry):
        return (), None
    there = {tint for tint, grams in batch.entry.parts if grams > 0}
    lacking = tuple(tint for tint, _ in recipe.parts if tint not in there)
    return (lacking, first.recipe) if lacking else ((), None)


def _undivided(batch: EntryView, views: Sequence[EntryView]) -> list[tuple[int, BatchEntry]]:
    """Return a batch and those its tin was before it, with their numbers, back to where a part was gone on with."""
    whole: list[tuple[int, BatchEntry]] = []
    for view in batches_of_tin(batch, views):
        assert isinstance(view.entry, BatchEntry)
        whole.append((view.number, view.entry))
        if view.entry.share < 1:
            break
    return whole


def done_without(views: Sequence[EntryView], batch: int) -> tuple[tuple[str, ...], int | None]:
    """Return the tints that a batch was mixed without, and the number of the recipe that says so.

    One that is of no recipe, as it was poured otherwise, is of the job's newest. `views` are all entries of its job.
    """
    by_number = {view.number: view for view in views}
    number: int | None = batch
    newest = [view.number for view in views if view.stands and isinstance(view.entry, RecipeEntry)]
    of = max(newest, default=None)
    while number is not None:
        entry = by_number[number].entry
        assert isinstance(entry, BatchEntry)
        if entry.recipe is not None:
            of = entry.recipe
        number = entry.continues
    recipe = None if of is None else by_number[of].entry
    return (tuple(recipe.without), of) if isinstance(recipe, RecipeEntry) else ((), None)


def lots_in_tin(views: Sequence[EntryView], batch: int) -> dict[str, tuple[str, ...]]:
    """Return the lots that the tints of a tin are of, the oldest first; those of which none was entered are left out.

    `batch` is the number of what is in it, `views` are all entries of its job.
    """
    found: dict[str, tuple[str, ...]] = {}
    for view in batches_of_tin(next((view for view in views if view.number == batch), None), views):
        assert isinstance(view.entry, BatchEntry)
        for tint, lot in reversed(view.entry.from_lots):
            found[tint] = tuple(dict.fromkeys((lot, *found.get(tint, ()))))
    return found


def grams_of_lots(views: Sequence[EntryView], batch: int) -> dict[str, dict[str, float]]:
    """Return the grams of each lot that the tints of a tin are of; a tint of which some is of no lot known is left out.

    The parameters are those of `lots_in_tin`.
    """
    found: dict[str, dict[str, float]] = {}
    unknown, share = set(), 1.0
    for view in batches_of_tin(next((view for view in views if view.number == batch), None), views):
        assert isinstance(view.entry, BatchEntry)
        before, there = batch_before(view, views), dict[str, float]()
        if before is not None and isinstance(before.entry, BatchEntry):
            there = totals(before.entry.parts)
        for tint, grams in totals(view.entry.parts).items():
            added = share * (grams - view.entry.share * there.get(tint, 0.0))
            if added < _NOTHING_G:
                continue
            of = [lot for name, lot in view.entry.from_lots if name == tint]
            if len(of) == 1:
                mine = found.setdefault(tint, {})
                mine[of[0]] = mine.get(of[0], 0.0) + added
            else:
                unknown.add(tint)
        share *= view.entry.share
    return {tint: of for tint, of in found.items() if tint not in unknown}
