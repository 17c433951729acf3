"""A tin too full of one part to be brought back: what every part takes more in proportion is taken on as due."""

from __future__ import annotations

from finishmatch.errors import InputError
from finishmatch.ledger import CorrectionEntry, RecipeEntry, open_ledger
from finishmatch.steps.job.on_the_scale import OnTheScale
from finishmatch.steps.matching import Parts
from finishmatch.steps.record import record_one


def can_be_taken_on(now: OnTheScale) -> Parts:
    """Return what every part of a recipe takes more in proportion; nothing where that is no way to go.

    Parameters
    ----------
    now : OnTheScale

    Notes
    -----
    A correction in proportion isn't one: the tin it goes into doesn't grow with it. Nor is what the shelf doesn't hold.
    """
    stands = now.stands
    if stands is None or now.tin is None or now.before is not None or stands.plan.kind != "recipe":
        return ()
    against = stands.against
    if not stands.overshot or stands.reachable or against is None or stands.lacking:
        return ()
    return stands.proportion or ()


def take_on(now: OnTheScale) -> str:
    """Record what every part takes more in proportion as due in the tin, and return what is to be said of it.

    Parameters
    ----------
    now : OnTheScale

    Raises
    ------
    InputError
        There is nothing to be taken on.
    """
    parts, stands = can_be_taken_on(now), now.stands
    if not parts or stands is None:
        raise InputError("the tin", "has no amounts in proportion to be taken on", "look at it again")
    with open_ledger(create=False) as ledger:
        job = ledger.find_job(now.job)
        recipe = next(view.entry for view in ledger.entries(job) if view.number == stands.plan.number)
        assert isinstance(recipe, RecipeEntry)
        beyond = sum(grams for _, grams in parts) - now.to_pour_g
        why = f"poured too much by {stands.plan.name}: every part in proportion"
        entry = CorrectionEntry(now.tin, parts, beyond / now.grams, True, recipe.lights, {}, why)
        (view,) = record_one(ledger, job, entry).entries
    return f"Taken on as correction #{view.number}: the recipe in a larger tin"
