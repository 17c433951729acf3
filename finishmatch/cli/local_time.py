"""A time of the ledger by the bench's own clock."""

from __future__ import annotations

from datetime import datetime


def local_time(made_at: str) -> str:
    """Return a time of the ledger by the bench's own clock, to the minute."""
    return datetime.fromisoformat(made_at).astimezone().strftime("%Y-%m-%d %H:%M")
