"""What is left on the shelf: the stock as it was counted, less what was poured since."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from sqlalchemy import func, select

from finishmatch.ledger.banks_used import bank_of_job
from finishmatch.ledger.book import Ledger
from finishmatch.ledger.entries import BatchEntry, CorrectionEntry, RecipeEntry
from finishmatch.ledger.plain_errors import damaged, readable
from finishmatch.ledger.pouring import off_the_shelf
from finishmatch.ledger.row_chain import WHAT, keep_row, kept_rows, rows_changed
from finishmatch.ledger.rows import EntryRow, JobBankRow, RecipeRow, StockCountRow
from finishmatch.ledger.views import EntryView


def remember_stock(ledger: Ledger, bank: str, stock_g: Mapping[str, float]) -> None:
    """Remember the stock that a bank's table gives, where it was counted anew: what is poured from now on goes off it.

    Parameters
    ----------
    ledger : Ledger
    bank : str
        Its name.
    stock_g : mapping of str to float
        Grams of each tint as the table has them; one that stands there as it was last seen is not a new count.
    """
    known = _counts(ledger, bank)
    new = {tint: grams for tint, grams in stock_g.items() if tint not in known or known[tint][0] != grams}
    if not new:
        return
    with ledger.writing() as session:
        last = session.scalar(select(func.max(EntryRow.number))) or 0
        for tint, grams in new.items():
            row = StockCountRow(bank=bank, tint=tint, stock_g=grams, after_number=last, made_at=ledger.stamp())
            keep_row(session, row)


def poured_since_count(ledger: Ledger, bank: str, stock_g: Mapping[str, float]) -> dict[str, float]:
    """Return what was poured of each tint of a bank since its stock was counted, grams; tints none of which was.

    Parameters
    ----------
    ledger : Ledger
    bank : str
        Its name.
    stock_g : mapping of str to float
        As the table has it now: where that isn't what was last seen it was counted anew, and nothing was poured since.
    """
    counts = _counts(ledger, bank)
    since = {tint: after for tint, (grams, after) in counts.items() if stock_g.get(tint) == grams}
    poured: dict[str, float] = {}
    for view, parts in _batches_of(ledger, bank) if since else ():
        for tint, grams in parts.items():
            if tint in since and view.place > since[tint]:
                poured[tint] = poured.get(tint, 0.0) + grams
    return poured


def _counts(ledger: Ledger, bank: str) -> dict[str, tuple[float, int]]:
    """Return the last count of each tint: grams, and the number of the last entry made before it."""
    with ledger.reading() as session:
        rows = kept_rows(session, StockCountRow, bank, ledger.path)
        return {row.tint: (row.stock_g, row.after_number) for row in rows}


def _batches_of(ledger: Ledger, bank: str) -> Iterator[tuple[EntryView, dict[str, float]]]:
    """Yield the batches that were poured from a bank, each with what was taken off the shelf for it, grams."""
    wanted = select(JobBankRow.job_id).where(JobBankRow.bank == bank).distinct()
    with ledger.reading() as session:
        with readable(ledger.path):
            changed = rows_changed(session, JobBankRow)
        if changed:
            raise damaged(ledger.path, f"{WHAT[JobBankRow]} is not as it was written")
        ids = set(session.scalars(wanted))
        # in a recipe that names the step of a scale some tints are poured by a letdown
        by_letdown = set(session.scalars(select(RecipeRow.job_id).where(RecipeRow.scale_step_g.is_not(None))))
    for job in ledger.jobs():
        if job.id not in ids:
            continue
        last = bank_of_job(ledger, job)
        views = ledger.entries(job, kind=BatchEntry)
        if any(isinstance(view.entry, BatchEntry) and view.entry.continues is not None for view in views):
            views += ledger.entries(job, kind=CorrectionEntry)
        if job.id in by_letdown:
            views += ledger.entries(job, kind=RecipeEntry)
        for view in ledger.entries(job, current_only=True, kind=BatchEntry):
            assert isinstance(view.entry, BatchEntry)
            if (view.entry.bank or (last[0] if last else "")) == bank:
                yield view, off_the_shelf(view, views)
