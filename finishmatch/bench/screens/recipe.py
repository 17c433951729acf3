"""A recipe for the job's target, from a bank there is; and the recipes that were found, to be weighed out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from finishmatch.bench.desk import AtDesk, Desk
from finishmatch.bench.parameters import JobRef
from finishmatch.cautions import MIXING
from finishmatch.errors import InputError
from finishmatch.steps.cautions_shown import cautions_by_record, tints_of
from finishmatch.steps.job.more_of_it import more_of_it, right_batches
from finishmatch.steps.job.show import JobShown
from finishmatch.steps.known_banks import KnownBank, bank_known, known_banks, state_of_banks
from finishmatch.steps.mix import Mixed, MixRequest, mix
from finishmatch.steps.tins_to_try import to_try_in_words

router = APIRouter(include_in_schema=False)

SHOWN = 5
INVENTED = ", the invented example"


def _banks(desk: Desk) -> tuple[KnownBank, ...]:
    named = desk.bench.served.banks
    found: tuple[KnownBank, ...] = desk.bench.remembered(
        ("banks to mix from", state_of_banks(named)), lambda: known_banks(named)
    )
    return found


def last_recipes(shown: JobShown) -> list[Any]:
    """Return the recipes of the last list, the best first."""
    recipes = [view for view in shown.entries if view.kind == "recipe" and view.stands]
    last: list[Any] = []
    for view in recipes:
        last = [view] if not last or view.entry.rank <= last[-1].entry.rank else [*last, view]  # type: ignore[attr-defined]
    return last


@router.get("/job/{ref}/recipe")
def recipe(ref: JobRef, desk: AtDesk) -> Response:
    """Show the form, and the recipes that were found last."""
    shown = desk.shown(ref)
    banks = _banks(desk)
    own = desk.bench.remembered(("bank", ref), lambda: bank_known(ref))
    bank = next((str(i) for i, one in enumerate(banks) if own is not None and one.folder == own[1]), "0")
    found = last_recipes(shown)
    target = next((view for view in reversed(shown.entries) if view.kind == "target" and view.stands), None)
    named = [f"{one.name} ({len(one.tints)} tints{INVENTED if one.bundled else ''})" for one in banks]
    context: dict[str, Any] = {"banks": list(enumerate(named)), "bank": bank, "found": found, "target": target}
    context["tolerance"] = _tolerance(desk, ref, found, target)
    context["right"] = next(iter(right_batches(shown.entries)), None)
    handled = [tint for view in found for tint in tints_of(view.entry)]
    bearing = cautions_by_record(ref)(handled) if handled else MIXING
    return desk.page("recipe.html", shown=shown, cautions_found=desk.cautions(ref, tuple(bearing)), **context)


@router.post("/job/{ref}/recipe")
def work_out(ref: JobRef, desk: AtDesk) -> Response:
    """Work out recipes, and record them."""

    def do() -> str:
        folder = _banks_folder(desk)
        request = MixRequest(
            tolerance=desk.number("tolerance"),
            max_tints=desk.whole("max_tints") or MixRequest.max_tints,
            recipes=SHOWN,
            scale_step=desk.number("scale_step") or MixRequest.scale_step,
        )
        lab = [desk.text(axis) for axis in ("L", "a", "b")]
        if any(lab) and not all(lab):
            raise InputError("the colour", "isn't whole", "give its L, a and b")
        target = ",".join(f"{desk.needed(axis):.9g}" for axis in ("L", "a", "b")) if any(lab) else None
        mixed = mix(target, folder, desk.number("grams"), request, job=ref)
        desk.bench.mixed[ref] = mixed
        _tell(desk, mixed)
        return f"/job/{ref}/recipe"  # its head, where it is said what was found

    return desk.sent(do, lambda: recipe(ref, desk), ref=ref, bearing=("target", "recipe", "batch"))


@router.post("/job/{ref}/recipe/more")
def more_of_what_was_right(ref: JobRef, desk: AtDesk) -> Response:
    """Record a batch that was right as a recipe in another size, and go on to its weigh-out."""

    def do() -> str:
        batch, grams, step = desk.whole("batch") or 0, desk.needed("more_g"), desk.number("more_step")
        try:
            recorded = more_of_it(ref, batch, grams, MixRequest.scale_step if step is None else step)
        except InputError as error:
            field = {"`grams`": "`more_g`", "`scale_step`": "`more_step`"}.get(error.where, error.where)
            raise InputError(field, error.what, error.mend) from error
        desk.note(*recorded.warnings)
        return f"/job/{ref}/weigh?plan={recorded.entries[0].number}"

    return desk.sent(do, lambda: recipe(ref, desk), ref=ref, bearing=("batch", "verdict"))


def _banks_folder(desk: Desk) -> str | None:
    """Return the folder of the bank chosen: it is named by its place in the list, never by a path."""
    banks, chosen = _banks(desk), desk.whole("bank")
    if chosen is None:
        return None
    if not 0 <= chosen < len(banks):
        raise InputError("the bank", "isn't in the list", "choose one that is")
    return str(banks[chosen].folder)


def _tolerance(desk: Desk, ref: str, found: Sequence[Any], target: Any) -> float | None:
    """Return what the recipes are held against: what was asked of them, else the target's own; None where none is."""
    mixed = desk.bench.mixed.get(ref)
    if mixed is not None and found and found[0].number in mixed.recorded:
        return mixed.match.tolerance
    return None if target is None or target.entry.tolerance <= 0 else float(target.entry.tolerance)


def _first_card(intervals: Mapping[str, tuple[float, float]]) -> str:
    """Return what the first card of a recipe will lie within in each light, in words; "" where that isn't known."""
    if not intervals:
        return ""
    ranges = ", ".join(f"{light} {low:.1f} to {high:.1f}" for light, (low, high) in intervals.items())
    return f"; its first card is expected at ΔE00 {ranges}, 95 times in 100"


def _tell(desk: Desk, mixed: Mixed) -> None:
    best, number = mixed.recipes[0], len(mixed.recipes[:SHOWN])
    found = "1 recipe found; it comes" if number == 1 else f"{number} recipes found; the first comes"
    desk.say(f"{found} to ΔE00 {best.worst_de00:.2f} in its worst light, as predicted{_first_card(best.intervals)}")
    if best.hiding_build_um is not None:
        desk.note(f"the first of them hides from {best.hiding_build_um:.0f} µm dry: spray the card as thick")
    if not mixed.within:
        desk.note(f"that is outside the tolerance of {mixed.match.tolerance:g}: {mixed.found.why}")
    elif best.worst_de00 > mixed.match.tolerance:
        nearer = "its first card is expected nearer than those of the recipes inside"
        desk.note(f"that is a little outside the tolerance of {mixed.match.tolerance:g}, but {nearer}")
    if mixed.tins_to_try:
        desk.note(
            "its tins aren't known well: a letdown of each, drawn as its panel was and photographed beside it, tells "
            f"how strong it is before anything is poured ({to_try_in_words(mixed.tins_to_try)}); then work it out again"
        )
    for rank, recipe in enumerate(mixed.recipes[:SHOWN], start=1):
        desk.note(*(f"recipe {rank}: {note}" for note in recipe.notes))
    desk.note(*mixed.warnings)
