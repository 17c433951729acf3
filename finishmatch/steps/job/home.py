"""Where the record is kept that is worked in."""

from __future__ import annotations

from pathlib import Path

from finishmatch.ledger import ledger_place
from finishmatch.ledger.home import ledger_home


def home_used() -> Path:
    """Return the folder of the ledger; it need not exist."""
    return ledger_home()


def place_used() -> str:
    """Return where the record is: the folder of the ledger, or the address of the one that several bays share."""
    return ledger_place()
