"""A day on which something was done or seen: never one to come."""

from __future__ import annotations

from datetime import date

from finishmatch.errors import InputError


def day_of(field: str, text: str | None) -> str:
    """Return a day as YYYY-MM-DD; today when None.

    Parameters
    ----------
    field : str
        What the day is, for the error.
    text : str or None
        YYYY-MM-DD.

    Raises
    ------
    InputError
        A text that is no day, or a day still to come.
    """
    today = date.today()
    if text is None:
        return today.isoformat()
    try:
        found = date.fromisoformat(text.strip())
    except ValueError:
        found = None
    if found is None or found.isoformat() != text.strip():
        raise InputError(field, f"{text[:40]!r} is not a date", f"write it as {today.isoformat()}")
    if found > today:
        raise InputError(field, f"{found.isoformat()} is still to come", f"today is {today.isoformat()}")
    return found.isoformat()
