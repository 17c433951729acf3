"""Which bank a job was mixed from, and which jobs were mixed from one: remembered, so that it needn't be said again."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import select
from sqlalchemy.orm import Session

from finishmatch.ledger.book import Ledger
from finishmatch.ledger.row_chain import keep_row, kept_rows
from finishmatch.ledger.rows import BankTintRow, JobBankRow, StrengthRow
from finishmatch.ledger.views import EntryView, JobView


@dataclass(frozen=True)
class BankTint:
    """A tint as its bank's table has it: what it is, by Colour Index name too, and what harms in it."""

    tint: str
    role: str
    colour_index: str
    density_kg_l: float
    lot: str = ""
    hazards: tuple[str, ...] = ()
    hazards_by: str = ""


def remember_bank(ledger: Ledger, job: JobView, bank: str, folder: Path, tints: Iterable[BankTint] = ()) -> None:
    """Remember the bank of a job, where it lies, and what its tints are; what is known already isn't written again."""
    known = tints_of_bank(ledger, bank)
    new = [tint for tint in tints if known.get(tint.tint) != tint]
    moved = bank_of_job(ledger, job) != (bank, folder)
    if not moved and not new:
        return
    with ledger.writing() as session:
        if moved:
            keep_row(session, JobBankRow(job_id=job.id, bank=bank, folder=str(folder), made_at=ledger.stamp()))
        keep_tints(session, bank, new, ledger.stamp())


def keep_tints(session: Session, bank: str, tints: Iterable[BankTint], made_at: str) -> None:
    """Add tints of a bank as they are now."""
    for tint in tints:
        keep_row(session, BankTintRow(bank=bank, made_at=made_at, **vars(tint) | {"hazards": list(tint.hazards)}))


def tints_of_bank(ledger: Ledger, bank: str) -> dict[str, BankTint]:
    """Return the tints of a bank by name, as its table had them when a job was last mixed from it."""
    with ledger.reading() as session:
        return {
            row.tint: BankTint(
                row.tint, row.role, row.colour_index, row.density_kg_l, row.lot, tuple(row.hazards), row.hazards_by
            )
            for row in kept_rows(session, BankTintRow, bank, ledger.path)
        }


def bank_of_job(ledger: Ledger, job: JobView) -> tuple[str, Path] | None:
    """Return name and folder of the bank a job was mixed from last, or None."""
    with ledger.reading() as session:
        rows = kept_rows(session, JobBankRow, str(job.id), ledger.path)
        return (rows[-1].bank, Path(rows[-1].folder)) if rows else None


def jobs_with_strengths(ledger: Ledger, bank: str) -> list[tuple[JobView, list[EntryView]]]:
    """Return the jobs in which the strength of a bank's tins was estimated, oldest first, each with all its entries."""
    wanted = select(StrengthRow.job_id).where(StrengthRow.bank == bank).distinct()
    with ledger.reading() as session:
        ids = set(session.scalars(wanted))
    return [(job, ledger.entries(job)) for job in ledger.jobs() if job.id in ids]
