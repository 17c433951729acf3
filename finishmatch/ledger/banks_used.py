"""Which bank a job was mixed from, and which jobs were mixed from one: remembered, so that it needn't be said again."""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import select

from finishmatch.ledger.book import Ledger
from finishmatch.ledger.rows import JobBankRow, StrengthRow
from finishmatch.ledger.views import EntryView, JobView


def remember_bank(ledger: Ledger, job: JobView, bank: str, folder: Path) -> None:
    """Remember the bank of a job and where it lies; nothing is written when that is known already."""
    if bank_of_job(ledger, job) == (bank, folder):
        return
    with ledger.writing() as session:
        session.add(JobBankRow(job_id=job.id, bank=bank, folder=str(folder), made_at=ledger.stamp()))


def bank_of_job(ledger: Ledger, job: JobView) -> tuple[str, Path] | None:
    """Return name and folder of the bank a job was mixed from last, or None."""
    wanted = select(JobBankRow).where(JobBankRow.job_id == job.id).order_by(JobBankRow.id.desc()).limit(1)
    with ledger.reading() as session:
        row = session.scalar(wanted)
        return None if row is None else (row.bank, Path(row.folder))


def jobs_with_strengths(ledger: Ledger, bank: str) -> list[tuple[JobView, list[EntryView]]]:
    """Return the jobs in which the strength of a bank's tins was estimated, oldest first, each with all its entries."""
    wanted = select(StrengthRow.job_id).where(StrengthRow.bank == bank).distinct()
    with ledger.reading() as session:
        ids = set(session.scalars(wanted))
    return [(job, ledger.entries(job)) for job in ledger.jobs() if job.id in ids]
