"""Whether anything was recorded since one last looked."""

from __future__ import annotations

from finishmatch.ledger.watch import LedgerWatch

__all__ = ["LedgerWatch"]
