"""Where the record is kept that is worked in."""

from __future__ import annotations

from pathlib import Path

from finishmatch.ledger.home import ledger_home


def home_used() -> Path:
    """Return the folder of the ledger; it need not exist."""
    return ledger_home()
