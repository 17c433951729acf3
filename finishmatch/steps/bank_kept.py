"""The bank a job is mixed from is remembered, with what its tints are."""

from __future__ import annotations

from pathlib import Path

from finishmatch import ledger, optics  # what they hold is imported when it is used


def remember_mixed_from(book: ledger.Ledger, job: ledger.JobView, bank: optics.Bank, folder: Path) -> None:
    """Remember the bank of a job, its folder, and what its tints are, for who has only the record."""
    ledger.remember_bank(book, job, bank.name, folder.absolute(), bank_tints(bank))


def bank_tints(bank: optics.Bank) -> tuple[ledger.BankTint, ...]:
    """Return the tints of a bank as the record keeps them."""
    return tuple(
        ledger.BankTint(
            one.name, one.role, one.colour_index, one.density_kg_l, one.lot, tuple(one.hazards), one.hazards_by
        )
        for one in bank.tints
    )
