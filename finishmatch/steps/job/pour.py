"""What is in the tin is recorded, with the recipe it was poured by and the bank it was poured from."""

from __future__ import annotations

from pathlib import Path

from finishmatch.ledger import BatchEntry, RecipeEntry, open_ledger, remember_bank
from finishmatch.ledger.pouring import recipe_poured
from finishmatch.readings import read_bank, read_batch
from finishmatch.steps.record import NOTHING, InPlaceOf, RecordedOne, record_one


def pour(
    job: str,
    batch: Path,
    *,
    recipe: int | None = None,
    bank: str | None = None,
    in_place_of: InPlaceOf = NOTHING,
) -> RecordedOne:
    """Record a batch in a job.

    Parameters
    ----------
    job : str
        A ref or an exact title.
    batch : Path
        A file of tint and grams in the order poured, additions included; its bytes are kept.
    recipe : int or None
        The number of the recipe it was poured by; None is the one of the job it agrees with.
    bank : str or None
        The folder of the bank it was poured from: tints of other names are refused, and the job remembers it.
    in_place_of : InPlaceOf
        The batch it replaces, and why.

    Raises
    ------
    InputError
        Nothing is recorded then.
    """
    with open_ledger(create=False) as ledger:
        found = ledger.find_job(job)
        poured_from = None if bank is None else read_bank(Path(bank))
        parts = read_batch(batch, None if poured_from is None else poured_from.densities)
        if recipe is None:
            recipe = recipe_poured(parts, ledger.entries(found, current_only=True, kind=RecipeEntry))
        entry = BatchEntry(parts, recipe)
        recorded = record_one(ledger, found, entry, in_place_of, sources=[batch])
        if poured_from is not None:
            remember_bank(ledger, found, poured_from.name, Path(bank or "").absolute())
    return recorded
